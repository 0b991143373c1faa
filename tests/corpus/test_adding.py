"""Adding tunes of other notations: names, what is skipped, what is written over, and what is told of the rest."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from corpus.adding import Source, add, chosen_notation, files_of
from corpus.library import Library, demo_library
from corpus.notations import CHART, NOTATIONS, sniffed
from corpus.saving import SavingError
from grammar.charts import read_chart
from shared.errors import ChoiceError

PHRASE = (
    "# title: Quarry Lane\n# artist: nobody\n# metre: 4/4\n# tonic: G\n\n"
    "1.5\tA, verse, | G:maj | C:maj | D:7 | G:maj |\n"
)
ANALYSIS = "[Eb] I | IV | V7 | I |\n"


def source(name: str, text: str) -> Source:
    return Source(name, lambda: text.encode())


@pytest.fixture
def library(tmp_path: Path) -> Library:
    folder = tmp_path / "library"
    folder.mkdir()
    return Library(folder)


def test_a_lone_tune_keeps_its_stem_and_names_its_source(library: Library) -> None:
    done = add(library, [source("sheets/lane.txt", PHRASE)])
    assert (done.added, done.charts, done.faults) == (1, ["lane.txt"], [])
    chart = library.read("lane.txt").chart
    assert chart is not None
    assert chart.header("source") == "lane.txt"
    assert chart.title == "Quarry Lane"
    assert [cell.written for _, bar in chart.bars() for cell in bar.cells] == ["G", "C", "D7", "G"]


def test_the_same_again_is_skipped(library: Library) -> None:
    add(library, [source("lane.txt", PHRASE)])
    before = (library.root / "lane.txt").stat().st_mtime_ns
    done = add(library, [source("elsewhere/lane.txt", PHRASE)])
    assert (done.added, done.skipped, done.replaced) == (0, 1, 0)
    assert (library.root / "lane.txt").stat().st_mtime_ns == before


def test_a_changed_tune_is_written_over_only_where_asked(library: Library) -> None:
    add(library, [source("lane.txt", PHRASE)])
    kept = (library.root / "lane.txt").read_text()
    changed = source("lane.txt", PHRASE.replace("D:7", "D:9"))
    refused = add(library, [changed])
    assert (refused.added, refused.replaced) == (0, 0)
    assert "--replace" in refused.faults[0].fault.expected
    assert (library.root / "lane.txt").read_text() == kept
    done = add(library, [changed], replace=True)
    assert done.replaced == 1
    assert "D9" in (library.root / "lane.txt").read_text()


def test_a_chart_of_the_user_is_never_written_over_unasked(library: Library) -> None:
    mine = "title: Mine\nkey: C\n\n| C | F |\n"
    (library.root / "lane.txt").write_text(mine)
    done = add(library, [source("lane.txt", PHRASE)])
    assert done.added == 0
    assert len(done.faults) == 1
    assert (library.root / "lane.txt").read_text() == mine


def test_what_cannot_be_read_is_told_and_the_rest_goes_on(library: Library, tmp_path: Path) -> None:
    sources = [
        Source("gone.abc", (tmp_path / "gone.abc").read_bytes),
        source("letter.md", "Dear all, rehearsal is on Monday.\n"),
        source("mine.txt", "title: Mine\n\n| C | F |\n"),
        source("analysis.txt", ANALYSIS),
    ]
    done = add(library, sources)
    assert done.charts == ["analysis.txt"]
    assert [placed.path for placed in done.faults] == ["gone.abc", "letter.md", "mine.txt"]
    assert "chart file already" in done.faults[2].fault.message


SCORE = (
    '<?xml version="1.0"?>\n{}<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>x</part-name>'
    '</score-part></part-list><part id="P1"><measure number="1"><harmony><root><root-step>{}</root-step></root>'
    "<kind>major</kind></harmony></measure></part></score-partwise>"
)
BOMB = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
TUNE = "X:{}\nT:{}\nM:4/4\nL:1/8\nK:{}\n{}\n"


def zipped(names: dict[str, str]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, text in names.items():
            archive.writestr(name, text)
    return made.getvalue()


def container(path: str) -> dict[str, str]:
    xml = f'<container><rootfiles><rootfile full-path="{path}"/></rootfiles></container>'
    return {"META-INF/container.xml": xml, path: SCORE.format("", "C")}


#: Sources that bring no tune: their names, contents, and what is told of them.
BAD: list[tuple[str, bytes, list[str]]] = [
    ("bomb.musicxml", SCORE.format(BOMB, "C").encode(), [":2: the file declares the XML entity “a”, and such"]),
    ("cut.musicxml", SCORE.format("", "C").encode()[:-40], ["this is no well-formed XML"]),
    ("out.mxl", zipped(container("../../evil.xml")), ["“../../evil.xml” is a path that leads out of the archive"]),
    ("root.mxl", zipped(container("/evil.xml")), ["“/evil.xml” is a path that leads out of the archive"]),
    ("cut.mxl", zipped(container("a.xml"))[:150], ["the archive cannot be unpacked"]),
    ("strange.musicxml", SCORE.format("", "H").encode(), [":2: no chords", ":2: measure 1: “H” is no root A to G"]),
    ("none.abc", TUNE.format(1, "A", "G", "GABc d4|").encode(), [":1:3: the tune has no chords"]),
    ("strange.abc", TUNE.format(1, "A", "G", '"Hz"G8|').encode(), ["that can be read", ":6:2: “Hz” is not a chord"]),
    ("silent.txt", b"[C] R | R |\n", ["the tune has no chords that can be read"]),
    (
        "figure.txt",
        b"[C] VIII | IVV |\n",
        ["no chords", ":1:8: “VIII” is not a figure", ":1:14: “IVV” is not a figure"],
    ),
    ("cut.jams", b'{"annotations": [', [":1:18: this is no JSON"]),
]


@pytest.mark.parametrize(("name", "content", "told"), BAD, ids=[name for name, *_ in BAD])
def test_a_source_without_a_tune_is_told_with_its_reasons(
    library: Library, name: str, content: bytes, told: list[str]
) -> None:
    done = add(library, [source("first.txt", ANALYSIS), Source(name, lambda: content), source("last.txt", PHRASE)])
    assert done.charts == ["first.txt", "last.txt"]
    assert [each.path for each in done.faults] == [name] * len(told)
    for placed, said in zip(done.faults, told, strict=True):
        fault = placed.fault
        place = "".join(f":{number}" for number in (fault.line, fault.column) if number)
        assert said in f"{place}: {fault.message}"
    assert sorted(path.name for path in library.root.iterdir()) == ["first.txt", "last.txt"]
    assert [path.name for path in library.root.parent.iterdir()] == ["library"]


def test_what_is_broken_inside_a_tune_costs_only_itself(library: Library) -> None:
    """A broken field, a chord that is none, a line cut in the middle, a figure that does not exist."""
    book = TUNE.format(1, "Key", "Q#z", '"C"C8|"F"F8|') + "\n" + TUNE.format(2, "Chord", "C", '"C"C8|"Hz"F8|')
    cut = PHRASE + "9.5\tB, chorus, | G:maj | C:m"
    sources = [source("book.abc", book), source("cut.txt", cut), source("figure.txt", "[C] I | VIII | V |\n")]
    done = add(library, sources)
    assert done.charts == ["book-key.txt", "book-chord.txt", "cut.txt", "figure.txt"]
    assert done.faults == []
    assert [(each.path, each.fault.line) for each in done.remarks] == [
        ("book.abc", 5),
        ("book.abc", 13),
        ("cut.txt", 7),
        ("cut.txt", 7),
        ("figure.txt", 1),
    ]
    bars = {path: (library.root / path).read_text().splitlines()[-1] for path in done.charts}
    assert list(bars.values()) == ["| C | F |", "| C | N.C. |", "| G | N.C. |", "| C | N.C. | G |"]


def test_every_file_that_is_added_reads_without_fault(library: Library) -> None:
    add(library, [source("lane.txt", PHRASE), source("analysis.txt", ANALYSIS)])
    for path in library.chart_paths():
        reading = read_chart((library.root / path).read_text())
        assert reading.chart is not None
        assert not reading.faults


def test_nothing_is_added_to_the_demo_library() -> None:
    before = demo_library().chart_paths()
    with pytest.raises(SavingError, match="demo library"):
        add(demo_library(), [source("lane.txt", PHRASE)])
    assert demo_library().chart_paths() == before


def test_a_folder_stands_for_its_files_and_hidden_ones_are_left_out(tmp_path: Path) -> None:
    (tmp_path / "inner").mkdir()
    for name in ("b.abc", "inner/a.abc", ".hidden.abc"):
        (tmp_path / name).write_text("X:1\n")
    names = [Path(each.name).relative_to(tmp_path).as_posix() for each in files_of([str(tmp_path)])]
    assert names == ["b.abc", "inner/a.abc"]


@pytest.mark.parametrize(
    ("name", "content", "notation"),
    [
        ("a.txt", b"X: 1\nT: A\nK: C\n", "abc"),
        ("a.abc", b"% a tune book\n", "abc"),
        ("a.xml", b'<?xml version="1.0"?>\n<score-partwise version="4.0">', "musicxml"),
        ("a.bin", b"PK\x03\x04....", "musicxml"),
        ("a.txt", b'{"annotations": []}', "jams"),
        ("a.txt", PHRASE.encode(), "harte"),
        ("a.txt", ANALYSIS.encode(), "roman"),
        ("a.txt", b"title: Mine\n\n| C | F |\n", "chart"),
        ("a.txt", b"[Verse]\nC  F\nwords\n", "chart"),
        ("a.txt", b"Dear all,\n", None),
    ],
)
def test_the_notation_is_told_from_the_content(name: str, content: bytes, notation: str | None) -> None:
    found = sniffed(name, content)
    assert (found.name if found else None) == notation


def test_a_notation_is_chosen_by_name_and_a_slip_gets_the_nearest() -> None:
    assert chosen_notation(None) is None
    assert all(chosen_notation(each.name.upper()) is each for each in NOTATIONS)
    assert CHART not in NOTATIONS
    with pytest.raises(ChoiceError, match="musicxml"):
        chosen_notation("musicxlm")

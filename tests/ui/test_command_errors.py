"""Bad input: a clear message with its place, exit status 2, never a traceback, and JSON alone on standard output."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import corpus.notations
from shared.chart import Chart
from tests.bench.generated import chart_texts
from tests.helpers.commands import BAD_INPUT, FOUND, NOTHING, library_of, run
from tests.helpers.damage import damage

TUNE = "title: Quay Song\nkey: Eb\nlevel: 2\n\n[Verse]\n| Eb | Cm7 | Ab | Bb7/D |\n"


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = library_of(
        tmp_path_factory.mktemp("errors") / "charts",
        quay_song=TUNE,
        quiet_song=TUNE.replace("Quay", "Quiet"),
        twin=TUNE.replace("Quay Song", "Quiet Song"),
        broken="key: C\n\n| C | H7 |\n",
    )
    assert run("index", folder).exit_code == FOUND
    return folder


@pytest.mark.parametrize(
    ("pattern", "said", "drawn", "nearest"),
    [
        ("", "this pattern is empty", "", ""),
        ("   ", "this pattern is empty", "", ""),
        ("1 4 H7", "“H7” is not a chord", "    1 4 H7\n        ^^", "B7"),
        ("2m7 5$ 1", "cannot stand there", "    2m7 5$ 1\n         ^", ""),
        ("Cmaj77 F", "“Cmaj77” is not a chord", "    Cmaj77 F\n        ^^", "Cmaj7"),
        ("1 ) 4", "“)” cannot stand there", "    1 ) 4\n      ^", ""),
        ("(1 4", "the pattern ends too early", "    (1 4\n       ^", "(1 4)"),
        ("251", "may be several chords or one", "    251\n    ^^^", "2 5 1"),
        ("..", "can match nothing", "    ..\n    ^^", ""),
        ("6m?", "can match nothing", "    6m?\n    ^^^", ""),
        ("[ 6m? ] 4", "may end with no chord between", "    [ 6m? ] 4\n          ^", ""),
        ("| 5 | (4 ])? | 1 |", "starts or ends inside a bar", "    | 5 | (4 ])? | 1 |\n          ^", ""),
        ("5 4 1 (", "the pattern ends too early", "    5 4 1 (\n          ^", "5 4 1"),
        ("1 4 C F", "chord names and numbers stand in one pattern", "    1 4 C F\n        ^", ""),
        ("1 .. 2 .. 3 .. 4 .. 5", "gaps", "", ""),
        ("(1 4)x99", "items", "    (1 4)x99\n         ^^^", ""),
        ("1 " * 501, "characters", "", ""),
        ("| 1 | | 4 |", "empty bar", "    | 1 | | 4 |\n          ^", ""),
        ("8", "“8” is not", "    8\n    ^", ""),
    ],
)
def test_a_pattern_that_cannot_be_read(library: Path, pattern: str, said: str, drawn: str, nearest: str) -> None:
    result = run(["find", pattern], library)
    assert result.exit_code == BAD_INPUT
    assert result.stdout == ""
    assert said in result.stderr
    assert drawn in result.stderr
    assert f"nearest: {nearest}" in result.stderr or not nearest


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("find 1 --key H", "“H” is not a key"),
        ("find 1 --key G#", "nearest: Ab"),
        ("find 1 --mode mixolidian", "nearest: mixolydian"),
        ("find 1 --metre 3", "“3” is not a metre"),
        ("find 1 --level hard", "“hard” is not a level"),
        ("find 1 --tempo fast", "“fast” is not a tempo"),
        ("find 1 --level ''", "is not a level"),
        ("find 1 --where mood", "“mood” is not NAME=VALUE"),
        ("find 1 --where =calm", "“=calm” is not NAME=VALUE"),
        ("find 1 --sort newest", "there is no order “newest”"),
        ("find 1 --sort tilte", "nearest: title"),
        ("find 1 --limit -1", "-1"),
        ("find 1 --limit many", "many"),
        ("find 1 --strength strong", "strong"),
        ("find 1 --count both", "both"),
        ("find 1 --only 'H'", "“H” is not a chord"),
        ("find 1 --only ''", "this pattern is empty"),
        ("find 1 --only 'C F'", "--names-in"),
        ("find 1 --names-in C", "--names-in is for a pattern of chord names"),
        ("find 'C F' --names-in H", "“H” is not a key"),
        ("find '1 .. 4' --rotate", "cannot stand in a loop"),
        ("find '[ 1 4' --rotate", "cannot stand in a loop"),
        ("find '(1 4)+' --rotate", "cannot stand in a loop"),
        ("find 1 --near 1", "one chord alone has no near versions"),
        ("find 1 --near x", "x"),
        ("find", "PATTERN"),
        ("find 1 4", "unexpected extra argument"),
        ("find 1 --sectoin A", "--section"),
        ("show", "CHART"),
        ("show nothing-like-it", "there is no chart “nothing-like-it”"),
        ("show ''", "there is no chart “”"),
        ("show 'quay sogn'", "nearest: Quay Song"),
        ("show 'quiet song'", "quiet-song.txt, twin.txt"),
        ("show quay-song --key H", "“H” is not a key"),
        ("show quay-song --as tab", "tab"),
        ("show quay-song --as chart --key C", "leave --key out"),
        ("show quay-song --as abc --rival", "leave --rival out"),
        ("show quay-song --rival", "--rival is for a key that was found, and “key: Eb” is written"),
        ("show broken", "broken.txt:3:7: “H7” is not a chord"),
        ("show ../errors", "there is no chart"),
        ("index extra", "unexpected extra argument"),
        ("page --port 0", "0"),
        ("page --port 99999", "99999"),
        ("fnd 1", "find"),
    ],
)
def test_what_is_refused(library: Path, line: str, said: str) -> None:
    verb = line.split()[0]
    result = run(line, library if verb in ("find", "show", "index", "page") else None)
    assert result.exit_code == BAD_INPUT
    assert result.stdout == ""
    assert said in result.stderr


@pytest.mark.parametrize("verb", ["index", "find 1", "show x", "page --no-browser"])
@pytest.mark.parametrize(("name", "said"), [("missing", "does not exist"), ("file.txt", "is not a folder")])
def test_a_library_that_is_none(tmp_path: Path, verb: str, name: str, said: str) -> None:
    library_of(tmp_path, file=TUNE)
    result = run(verb, tmp_path / name)
    assert result.exit_code == BAD_INPUT
    assert result.stdout == ""
    assert said in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["file.txt"]


@pytest.mark.parametrize("json_flag", ["", "--json"])
def test_a_chart_that_went_away(tmp_path: Path, json_flag: str) -> None:
    folder = library_of(tmp_path, a=TUNE)
    run("index", folder)
    (folder / "a.txt").unlink()
    result = run(f"show a {json_flag}", folder)
    assert result.exit_code == BAD_INPUT
    assert result.stdout == ""
    assert "a.txt: the file cannot be read: No such file or directory" in result.stderr


def test_an_index_damaged_inside(tmp_path: Path) -> None:
    folder = library_of(tmp_path, **{f"t{number}": text for number, text in enumerate(chart_texts(1500))})
    run("index", folder)
    place = folder / ".samechanges" / "index.duckdb"
    damage(place)
    result = run("find 1", folder)
    assert result.exit_code == BAD_INPUT
    assert result.stdout == ""
    assert f"the index {place} is damaged; delete it, and it is made again" in result.stderr
    place.unlink()
    assert run("find 1", folder).exit_code == FOUND


def test_a_chart_that_has_no_notation_is_told(library: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refusing(chart: Chart) -> str:
        raise ValueError("a label with a bracket in it")

    monkeypatch.setattr(corpus.notations, "write_chart", refusing)
    result = run("show quay-song --as chart", library)
    assert result.exit_code == BAD_INPUT
    assert "quay-song.txt cannot be written out anew: a label with a bracket in it" in result.stderr


def test_bytes_that_are_no_text(library: Path) -> None:
    for line in (
        ["find", "\udce9"],
        ["find", "1", "--where", "a=\udce9"],
        ["show", "\udce9"],
        ["find", "1", "--tag=\udce9"],
    ):
        result = run(line, library)
        assert result.exit_code == BAD_INPUT
        assert "is not UTF-8 text" in result.stderr


UGLY = [
    "'",
    '"',
    "'; DROP TABLE charts; --",
    "{0}",
    "%s",
    "$1",
    "\\",
    "\\d+",
    "(?i)a",
    "[a-z",
    "\x07",
    "\n",
    "🎵",
    "é" * 300,
    "0" * 400,
    "-",
    "--",
    "1e999",
    "9" * 400,
    "٣",
    "１",
    "ⅳ",
    "<b>",
    "a=b=c",
    "1-",
    "5-2",
    "*",
    "~",
    "/",
    "..",
    "C:\\x",
]


@pytest.mark.parametrize("text", UGLY)
def test_ugly_arguments(library: Path, text: str) -> None:
    options = ("key", "mode", "section", "style", "tag", "level", "metre", "tempo", "only", "sort", "names-in", "where")
    lines = [["find", "--", text], ["show", "--", text]]
    lines += [["find", "1 4", f"--{option}={text}"] for option in options]
    lines += [["find", "C F", f"--{option}={text}", "--json"] for option in ("section", "names-in", "tempo")]
    lines += [["show", "quay-song", f"--key={text}"]]
    for line in lines:
        check(run(line, library))


def check(result: Result) -> None:
    """Found, not found or refused: JSON or text on standard output in the first two cases, a message in the last."""
    status, out, err = result.exit_code, result.stdout, result.stderr
    assert status in (FOUND, NOTHING, BAD_INPUT)
    assert "Traceback" not in err
    if status == BAD_INPUT:
        assert out == ""
        assert err.strip()
    elif out.startswith("{"):
        json.loads(out)


SIGNS = st.text(st.sampled_from("1234567bm#o°øΔ+-–—()[]|?.,x2/_ VIviCDEFGAB79sus \t"), max_size=30)
WILD = st.text(st.characters(blacklist_categories=["Cs"], blacklist_characters="\x00"), max_size=20)


@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pattern=st.one_of(SIGNS, WILD), flags=st.sets(st.sampled_from(["--anywhere", "--rotate", "--json"])))
@pytest.mark.parametrize("strength", ["family", "exact"])
def test_any_pattern_is_answered_or_refused(library: Path, strength: str, pattern: str, flags: set[str]) -> None:
    check(run(["find", f"--strength={strength}", *sorted(flags), "--", pattern], library))


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=WILD)
def test_any_text_of_a_chart_is_read_or_faulted(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    folder = library_of(tmp_path_factory.mktemp("any"))
    (folder / "a.txt").write_bytes(f"key: C\n\n| C | {text} |\n{text}\n".encode())
    assert run("index", folder).exit_code == FOUND
    check(run("show a", folder))
    check(run("find 1", folder))

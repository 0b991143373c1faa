"""What the command prints where it finds what was asked for."""

from __future__ import annotations

import re
from pathlib import Path
from textwrap import dedent

import pytest

from corpus.library import demo_library
from grammar.charts import read_chart
from tests.helpers.commands import FOUND, NOTHING, answer, library_of, run

QUAY = """\
title: Quay Song
key: Eb
style: pop
level: 2
tempo: 90
tags: spring, loop
mood: calm

[Verse]
|: Eb | Cm7 | Ab | Bb7/D :|
[Chorus 2]
| Ab | Abm6 | Eb | N.C. |
"""
MILL = """\
title: Mill Song
key: Am
time: 3/4
style: folk waltz
level: 4
tempo: 140
tags: loop

| Am | F | C | G |
"""
BARE = "| C | F | C G | C |\n"


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = library_of(tmp_path_factory.mktemp("answers") / "charts", quay_song=QUAY, mill_song=MILL, bare=BARE)
    assert run("index", folder).exit_code == FOUND
    return folder


def titles(line: str, library: Path) -> list[str]:
    return [result["title"] for result in answer(line, library)["results"]]


# find


def test_find_as_text(library: Path) -> None:
    result = run('find "1 6m 4 5"', library)
    assert result.exit_code == FOUND
    assert result.stderr == ""
    assert result.stdout == dedent(
        """\
        Tunes with 1 6m 4 5, by chord families, in the key.
        1 tune, 2 times as played.

        Quay Song, in Eb   (quay-song.txt)
          73% of the tune, starts a section
          Verse, bars 1 to 4, 2 times
            Eb  Cm7  Ab  Bb7/D
            1   6m7  4   57/7
        """
    )


def test_find_in_roman_numerals(library: Path) -> None:
    assert "I   vi7  IV  V7/7" in run('find "1 6m 4 5" --as roman', library).stdout


def test_find_over_a_repeat(library: Path) -> None:
    assert "Verse, bar 4 on into bar 1\n" in run('find "5 1"', library).stdout


def test_find_says_how_chord_names_were_counted(library: Path) -> None:
    out = run('find "Am F C G"', library).stdout
    assert "Counted in C: 6m 4 1 5. It could also be read in G or Am" in out
    assert "Counted in C: 6m 4 1 5.\n" in run('find "Am F C G" --names-in C', library).stdout
    assert "Mill Song, in Am, counted from the relative major" in run('find "6m 4 1 5"', library).stdout


def test_find_says_when_equal_chords_were_read_as_one(library: Path) -> None:
    out = run('find "1 1 4"', library).stdout
    assert "were read" not in out
    assert "was read as “1”" in out
    assert "| 1 | 1 |" in out


def test_nothing_found(library: Path) -> None:
    result = run('find "b2 b3 b2"', library)
    assert result.exit_code == NOTHING
    assert "No tune has it." in result.stdout
    assert "--anywhere" in result.stdout
    assert answer('find "b2 b3 b2"', library)["results"] == []
    assert run('find "b2 b3 b2" --json', library).exit_code == NOTHING


def test_a_filter_that_no_chart_has_offers_what_there_is(library: Path) -> None:
    result = run("find 1 --style ppo --tag lop --section versse", library)
    assert result.exit_code == NOTHING
    assert "No chart has the style “ppo”; there are: pop." in result.stdout
    assert "No chart has the tag “lop”; there are: loop." in result.stdout
    assert "No chart has the section “versse”; there are: Verse." in result.stdout


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ("", ["Mill Song", "Quay Song", "bare"]),
        ("--key Eb", ["Quay Song"]),
        ("--key am", ["Mill Song"]),
        ("--mode minor", ["Mill Song"]),
        ("--mode Major", ["Quay Song", "bare"]),
        ("--style WALTZ", ["Mill Song"]),
        ("--tag Loop", ["Mill Song", "Quay Song"]),
        ("--tag loop --tag spring", ["Quay Song"]),
        ("--level 2", ["Quay Song"]),
        ("--level 2-4", ["Mill Song", "Quay Song"]),
        ("--level 3-", ["Mill Song"]),
        ("--level -3", ["Quay Song"]),
        ("--metre 3/4", ["Mill Song"]),
        ("--tempo 80-100", ["Quay Song"]),
        ("--where mood=CALM", ["Quay Song"]),
        ("--where mood=calm --where title=mill", []),
        ("--only '1 4 5'", ["bare"]),
        ("--only '1 4 5 6m'", ["Mill Song", "Quay Song", "bare"]),
        ("--only '1 4maj 5 6m'", ["Mill Song", "bare"]),
        ("--only 'C F G' --names-in C", ["bare"]),
        ("--count relative --mode minor", ["Mill Song"]),
    ],
)
def test_filters(library: Path, options: str, expected: list[str]) -> None:
    assert sorted(set(titles(f'find "4,b6 .. 1,b3" --limit 0 {options}', library))) == expected


@pytest.mark.parametrize(
    ("label", "bars"),
    [("chorus", [5]), ("CHORUS 2", [5]), ("verse", [3]), ("ver", []), ("bridge", [])],
)
def test_sections(library: Path, label: str, bars: list[int]) -> None:
    found = answer(f'find "4maj" --key Eb --section "{label}"', library)
    assert [place["from_bar"] for result in found["results"] for place in result["matches"]] == bars
    assert found["charts"] == len(bars)


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ("title", ["bare", "Mill Song", "Quay Song"]),
        ("level", ["Quay Song", "Mill Song", "bare"]),
        ("tempo", ["Quay Song", "Mill Song", "bare"]),
        ("most", ["Quay Song", "bare", "Mill Song"]),
    ],
)
def test_orders(library: Path, order: str, expected: list[str]) -> None:
    assert titles(f'find "4,b6" --sort {order} --count tonic', library) == expected


def test_the_limit_and_what_is_left(library: Path) -> None:
    one = answer('find "4,b6" --limit 1', library)
    every = answer('find "4,b6" --limit 0', library)
    assert (one["charts"], one["matches"]) == (every["charts"], every["matches"]) == (3, every["matches"])
    assert len({result["path"] for result in one["results"]}) == 1
    assert len({result["path"] for result in every["results"]}) == 3
    assert "… and 2 tunes more (--limit 0 shows all)" in run('find "4,b6" --limit 1', library).stdout


def test_the_default_limit_is_twenty(tmp_path: Path) -> None:
    folder = library_of(tmp_path, **{f"t{number}": BARE for number in range(25)})
    found = answer('find "1 4"', folder)
    assert (found["charts"], len(found["results"])) == (25, 20)
    assert len(answer('find "1 4" --limit 0', folder)["results"]) == 25


def test_find_before_any_index_makes_it_and_says_so(tmp_path: Path) -> None:
    folder = library_of(tmp_path / "charts", a=BARE, b="| C | H |\n")
    first = run('find "1 4" --json', folder)
    assert first.exit_code == FOUND
    assert first.stderr == "There was no index to read; it was made: 1 chart, 1 fault: see samechanges index.\n"
    assert first.stdout.startswith("{")
    assert (folder / ".samechanges" / "index.duckdb").exists()
    assert run('find "1 4"', folder).stderr == ""


def test_find_does_not_read_chart_files(tmp_path: Path) -> None:
    folder = library_of(tmp_path / "charts", a=BARE)
    run("index", folder)
    (folder / "a.txt").unlink()
    assert run('find "1 4"', folder).exit_code == FOUND
    assert run("index", folder).exit_code == FOUND
    assert run('find "1 4"', folder).exit_code == NOTHING


# show


def test_show_as_text(library: Path) -> None:
    result = run("show quay-song", library)
    assert result.exit_code == FOUND
    assert result.stdout == dedent(
        """\
        Quay Song
        in Eb, tempo 90, style pop, level 2

        [Verse]
           1 | Eb | Cm7 | Ab | Bb7/D |
             | 1  | 6m7 | 4  | 57/7  |

        [Chorus 2]
           5 | Ab | Abm6 | Eb | N.C. |
             | 4  | 4m6  | 1  |      |
        """
    )


def test_show_in_another_key_and_writing(library: Path) -> None:
    out = run("show 'quay song' --key G --as roman", library).stdout
    assert "in G, tempo 90" in out
    assert "1 | G | Em7 | C  | D7/F# |" in out
    assert "| I | vi7 | IV | V7/7  |" in out


@pytest.mark.parametrize(
    ("key", "shown", "chords"),
    [
        ("F", "Fm", "Fm Db Ab Eb"),
        ("Db", "C#m", "C#m A E B"),
        ("C#", "C#m", "C#m A E B"),
        ("A", "Am", "Am F C G"),
        ("Gbm", None, None),
        ("Eb", "Ebm", "Ebm Cb Gb Db"),
        ("D#", None, None),
        ("G#m", "G#m", "G#m E B F#"),
    ],
)
def test_keys_that_a_minor_tune_can_be_shown_in(library: Path, key: str, shown: str | None, chords: str | None) -> None:
    result = run(f"show mill-song --key {key} --json", library)
    if shown is None or chords is None:
        assert result.exit_code == 2
        assert "signature" in result.stderr
        return
    made = answer(f"show mill-song --key {key}", library)
    assert made["key"] == shown
    assert [chord for bar in made["bars"] for chord in bar["chords"]] == chords.split()
    assert [number for bar in made["bars"] for number in bar["numbers"]] == ["1m", "b6", "b3", "b7"]


def test_an_enharmonic_key_is_spelled_as_asked(library: Path) -> None:
    made = answer("show quay-song --key D", library)
    assert made["bars"][0]["chords"] == ["D"]
    flat = library_of(library.parent / "enharmonic", a="key: Db\n\n| Db | Gbm6 | Ab7/C |\n")
    made = answer("show a --key C#", flat)
    assert (made["key"], [bar["chords"] for bar in made["bars"]]) == ("C#", [["C#"], ["F#m6"], ["G#7/B#"]])


def test_a_key_on_the_way_takes_its_chords_along(tmp_path: Path) -> None:
    folder = library_of(tmp_path, a="key: C\n\n| C | G |\nkey: Eb\n| Eb | Ab | Bb |\n")
    made = answer("show a --key B", folder)
    assert [bar["chords"] for bar in made["bars"]] == [["B"], ["F#"], ["D"], ["G"], ["A"]]
    made = answer("show a --key Gb", folder)
    assert [bar["chords"] for bar in made["bars"]] == [["Gb"], ["Db"], ["A"], ["D"], ["E"]]


def test_show_counted_from_the_relative_major(library: Path) -> None:
    made = answer("show mill-song --count relative", library)
    assert [bar["numbers"] for bar in made["bars"]] == [["6m"], ["4"], ["1"], ["5"]]


def test_show_chords_alone(library: Path) -> None:
    out = run("show mill-song --as chords", library).stdout
    assert "   1 | Am | F | C | G |\n" in out
    assert "b6" not in out


def test_show_as_a_chart_reads_back(library: Path) -> None:
    for stem, text in (("quay-song", QUAY), ("mill-song", MILL), ("bare", BARE)):
        written = run(f"show {stem} --as chart", library).stdout
        assert read_chart(written).chart == read_chart(text).chart


def test_show_says_where_a_key_was_found(library: Path) -> None:
    first = run("show bare", library).stdout.splitlines()[1]
    assert re.fullmatch(r"in C \(found, \d+% likely; next F: --rival\)", first)
    made = answer("show bare", library)
    assert made["key_found"] is True
    ((key, chance),) = [(each["key"], each.pop("chance")) for each in made["keys"]]
    assert key == "C"
    assert 0.5 < chance <= 1
    assert made["keys"] == [{"from_bar": 1, "key": "C", "found": True, "rival": "F"}]


def test_a_found_key_can_be_shown_in_its_rival(library: Path) -> None:
    plain, other = answer("show bare", library), answer("show bare --rival", library)
    assert (plain["key"], other["key"], other["keys"][0]["rival"]) == ("C", "F", "C")
    assert [bar["chords"] for bar in other["bars"]] == [bar["chords"] for bar in plain["bars"]]
    assert [bar["numbers"] for bar in plain["bars"]] == [["1"], ["4"], ["1", "5"], ["1"]]
    assert [bar["numbers"] for bar in other["bars"]] == [["5"], ["1"], ["5", "2"], ["5"]]
    assert other["keys"][0]["chance"] < plain["keys"][0]["chance"]
    first = run("show bare --rival", library).stdout.splitlines()[1]
    assert re.fullmatch(r"in F \(found, \d+% likely; next C: leave --rival out\)", first)
    moved = answer("show bare --rival --key Eb", library)
    assert (moved["key"], moved["keys"][0]["rival"], moved["bars"][0]["chords"]) == ("Eb", "Bb", ["Bb"])


RISEN = """\
title: Up

[Verse]
| C | Am | F | G |
| C | Am | Dm G | C |
[Chorus]
| F | G | C | Am |
| F | G | C | C |
[Verse 2]
| C | Am | F | G |
| C | Am | Dm G | C |
[Chorus 2]
| Gb | Ab | Db | Bbm |
| Gb | Ab | Db | Db |
"""


def test_a_change_of_key_is_shown_as_found_where_it_comes(tmp_path: Path) -> None:
    folder = library_of(tmp_path / "risen", up=RISEN)
    lines = run("show up", folder).stdout.splitlines()
    at = lines.index("[Chorus 2]") + 1
    assert re.fullmatch(r"key: Db \(found, \d+% likely; next \S.*\)", lines[at])
    assert lines[at + 1].split() == ["25", "|", "Gb", "|", "Ab", "|", "Db", "|", "Bbm", "|"]
    assert lines[at + 2].split() == ["|", "4", "|", "5", "|", "1", "|", "6m", "|"]
    made = answer("show up --key E", folder)
    assert [(each["from_bar"], each["key"], each["found"]) for each in made["keys"]] == [
        (1, "E", True),
        (25, "F", True),
    ]
    assert made["bars"][24]["chords"] == ["Bb"]


def test_a_bar_that_is_played_in_two_keys_is_shown_in_its_first(tmp_path: Path) -> None:
    text = "form: A, B, A\n\n[A]\n| C | F | G | C |\n[B]\nkey: D\n| D | G | A | D |\n"
    made = answer("show two", library_of(tmp_path / "two", two=text))
    assert [(each["from_bar"], each["key"], each["found"]) for each in made["keys"]] == [
        (1, "C", True),
        (5, "D", False),
    ]
    assert [bar["numbers"] for bar in made["played"]][-4:] == [["1"], ["4"], ["5"], ["1"]]


def test_demo_tunes_are_shown_and_written() -> None:
    library = demo_library()
    run("index")
    for path in library.chart_paths()[::12]:
        assert run(["show", path]).exit_code == FOUND
        written = run(["show", path, "--as", "chart"])
        assert read_chart(written.stdout).chart == library.read(path).chart, path


# index


def test_index_as_text(tmp_path: Path) -> None:
    folder = library_of(tmp_path / "charts", a=BARE, b="key: C\n\n| C | Cmaj77 | F |\n", c="key: C\n\n| C F G |\n")
    out = run("index", folder).stdout
    assert out.startswith("2 charts in the index (3 read, 0 unchanged, 0 removed) in ")
    assert "1 chart left out, with 1 fault:\n" in out
    assert "b.txt:3:11: “Cmaj77” is not a chord" in out
    assert "\n    | C | Cmaj77 | F |\n              ^^\n    expected " in out
    assert "\n    nearest: Cmaj7\n" in out
    assert "1 remark on charts that were read:" in out
    assert "c.txt:3: 3 cells cannot share 4 beats equally" in out
    assert run("index", folder).exit_code == FOUND


def test_many_remarks_are_cut_short(tmp_path: Path) -> None:
    folder = library_of(tmp_path / "charts", **{f"t{number}": "| C | F" for number in range(14)})
    assert "… and 4 more (--remarks shows all)" in run("index", folder).stdout
    out = run("index --remarks", folder).stdout
    assert "more (" not in out
    assert out.count("no bar line at the end") == 14


def test_index_of_an_empty_folder(tmp_path: Path) -> None:
    result = run("index", tmp_path)
    assert result.exit_code == FOUND
    assert "every .txt file in it is read as one" in result.stdout
    assert run("find 1", tmp_path).exit_code == NOTHING


# The whole


def test_the_library_may_be_named_by_the_environment(library: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(library))
    assert answer('find "1 6m 4 5"')["charts"] == 1


def test_without_any_the_demo_library_answers() -> None:
    assert answer('find "1 5m b7 4"')["charts"] >= 2


def test_help_and_version() -> None:
    for line in ("--help", "-h", "find --help", "show -h", "index --help", "page --help"):
        result = run(line)
        assert result.exit_code == FOUND
        assert "Examples:" in result.stdout
    assert run("").exit_code in (0, 2)

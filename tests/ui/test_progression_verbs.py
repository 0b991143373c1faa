"""The verb ``progressions``, and names where a pattern is expected."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.helpers.commands import BAD_INPUT, FOUND, NOTHING, answer, library_of, run

BLUES = "key: A\nstyle: blues\n\n| A | D | A | A | D | D | A | A | E | D | A | E |\n"
LOOP = "title: Loop\nkey: D\n\n[Verse]\n|: D | A | Bm | G :|x4\n"
OURS = '[[progression]]\nname = "our loop"\npattern = "1 5 6m 4"\n'


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return library_of(tmp_path, blues=BLUES, loop=LOOP, other="key: C\n\n| C | Fm | C | C |\n")


def test_the_json_of_the_catalogue(small: Path) -> None:
    rows = answer("progressions", small)["progressions"]
    assert len(rows) >= 60
    assert all(list(row) == ["name", "pattern", "strength", "source", "charts", "matches"] for row in rows)
    by_name = {row["name"]: row for row in rows}
    assert by_name["quick-change blues"]["charts"] == 1
    assert (by_name["four-chord loop"]["charts"], by_name["four-chord loop"]["matches"]) == (1, 4)
    assert by_name["key rise"]["pattern"] == "rule: key rise"
    assert [row["charts"] for row in rows] == sorted((row["charts"] for row in rows), reverse=True)


def test_counts_are_those_of_find(small: Path) -> None:
    for row in answer("progressions", small)["progressions"][:12]:
        # A name that is also a pattern is searched as the pattern that it is.
        if row["name"][0].isalpha() and "–" not in row["name"]:
            found = answer(f'find "{row["name"]}"', small)
            assert (found["charts"], found["matches"]) == (row["charts"], row["matches"]), row["name"]


def test_the_text_of_the_catalogue(small: Path) -> None:
    done = run("progressions", small)
    assert done.exit_code == FOUND
    lines = done.stdout.splitlines()
    assert lines[0].split() == ["tunes", "times", "progression", "chords", "keys"]
    assert any("four-chord loop" in line and line.endswith("D 1") for line in lines)
    assert "In no tune: " in lines[-1]
    assert "and" in run("progressions --limit 2", small).stdout.splitlines()[3]


def test_filters_narrow_it(small: Path) -> None:
    rows = answer("progressions --style blues", small)["progressions"]
    assert {row["name"] for row in rows if row["charts"]} >= {"twelve-bar blues", "quick-change blues"}
    assert not any(row["charts"] for row in rows if row["name"] == "four-chord loop")
    nothing = run("progressions --style none", small)
    assert nothing.exit_code == NOTHING
    assert "No tune has any of them." in nothing.stdout


def test_where_in_one_tune(small: Path) -> None:
    made = answer("progressions --of loop", small)
    assert (made["title"], made["path"]) == ("Loop", "loop.txt")
    first = {"name": "four-chord loop", "section": "Verse", "from_bar": 1, "to_bar": 4, "times": 4}
    assert first in made["found"]
    text = run("progressions --of loop", small).stdout
    assert "Verse, bars 1 to 4, 4 times" in text
    assert "(within four-chord loop)" in text


def test_a_tune_without_any(tmp_path: Path) -> None:
    library = library_of(tmp_path, plain="key: C\n\n| C | Ebm | C |\n")
    done = run("progressions --of plain", library)
    assert done.exit_code == NOTHING
    assert "No progression of the catalogue stands in it." in done.stdout
    assert answer("progressions --of plain", library)["found"] == []


def test_all_tunes_of_one(small: Path) -> None:
    made = answer('progressions --name "minor four"', small)
    assert (made["charts"], made["results"][0]["path"]) == (1, "other.txt")
    text = run("progressions --name loop-of-nobody", small)
    assert text.exit_code == BAD_INPUT
    told = run('progressions --name "four-chord loop"', small).stdout
    assert "The same loop begun elsewhere: four-chord loop begun on 6m" in told
    assert "source: Open Music Theory 2e" in told
    rule = answer('progressions --name "falling fifths"', small)
    assert (rule["pattern"], rule["results"]) == ("rule: part of the circle of fifths", [])


def test_unknown_names_are_answered_with_the_nearest(small: Path) -> None:
    for line in ("progressions --name bakdoor", "progressions --of looop", "find bakdoor"):
        done = run(line, small)
        assert done.exit_code == BAD_INPUT, line
        assert "nearest" in done.stderr, line
        assert "Traceback" not in done.stderr


def test_one_question_at_a_time(small: Path) -> None:
    done = run("progressions --of loop --discover", small)
    assert done.exit_code == BAD_INPUT
    assert "ask one of them" in done.stderr


def test_find_knows_names(small: Path) -> None:
    assert answer('find "twelve bar blues"', small)["results"][0]["path"] == "blues.txt"
    assert answer('find "pedal on 1"', small)["charts"] == 0
    nothing = run('find "pedal on 1"', small)
    assert nothing.exit_code == NOTHING
    assert "--strength" not in nothing.stdout
    text = run('find "four chords" --as roman', small).stdout
    assert text.startswith("four-chord loop: tunes with I V vi IV")
    assert "vi" in text
    assert answer('find "four chords" --key C', small)["charts"] == 0
    assert answer('find "ii-V-I"', small)["pattern"] == "ii-V-I"


def test_a_librarys_own_progressions(small: Path) -> None:
    (small / "progressions.toml").write_text(OURS, encoding="utf-8")
    by_name = {row["name"]: row for row in answer("progressions", small)["progressions"]}
    assert by_name["our loop"]["charts"] == 1
    assert answer('find "our loop"', small)["matches"] == 4
    assert "Source: your own" in run('progressions --name "our loop"', small).stdout


def test_a_fault_in_them_is_shown_with_its_place(small: Path) -> None:
    (small / "progressions.toml").write_text(OURS + 'strenght = "loose"\n', encoding="utf-8")
    done = run("progressions --json", small)
    assert done.exit_code == FOUND
    assert "progressions.toml" in done.stderr
    assert "line 4" in done.stderr or ":4" in done.stderr
    assert "nearest: strength" in done.stderr.replace("\n", " ")


def test_discovery(tmp_path: Path) -> None:
    charts = {
        f"tune_{number}": f"title: Tune {number}\nkey: C\n\n|: {odd} | Bb | Dm | C | Em :|x4\n| F | G | Am | {odd} |\n"
        for number, odd in enumerate(["C", "F", "G", "Am", "Dm", "Em"])
    }
    library = library_of(tmp_path, **charts)
    rows = answer("progressions --discover --limit 0", library)["discovered"]
    assert rows
    assert all(list(row) == ["numbers", "charts", "matches", "surprise"] for row in rows)
    assert any(" ".join(row["numbers"]).find("b7 2m 1 3m") >= 0 for row in rows)
    assert "Tune 0" in run("progressions --discover", library).stdout
    empty = run("progressions --discover --style none", library)
    assert empty.exit_code == NOTHING
    assert "No sequence stands out" in empty.stdout


def test_discovery_of_some_tunes_says_so_and_may_tell_what_has_a_name(tmp_path: Path) -> None:
    chance = random.Random(3)
    charts = {}
    for number in range(12):
        noise = chance.choices(["C", "Dm", "Em", "F", "G", "Am", "Bb"], k=24)
        chords = [*noise, *["C", "G", "Am", "F"] * 4] if number % 2 else noise
        charts[f"tune_{number}"] = f"title: Tune {number}\nkey: C\n\n| {' | '.join(chords)} |\n"
    library = library_of(tmp_path, **charts)
    loop = {"1 5 6m 4", "5 6m 4 1", "6m 4 1 5", "4 1 5 6m"}
    every = answer("progressions --discover --named-too", library)
    assert (every["charts"], every["drawn"]) == (12, 12)
    assert loop & {" ".join(row["numbers"]) for row in every["discovered"]}
    assert not loop & {" ".join(row["numbers"]) for row in answer("progressions --discover", library)["discovered"]}
    drawn = answer("progressions --discover --named-too --draw 4", library)
    assert (drawn["charts"], drawn["drawn"]) == (12, 4)
    assert all(row["charts"] <= 4 for row in drawn["discovered"])
    assert answer("progressions --discover --named-too --draw 0", library) == every
    text = run("progressions --discover --named-too --draw 4", library).stdout.splitlines()
    assert text[-1].startswith("4 of 12 tunes were drawn, always the same ones")
    assert text[-1].endswith("--draw 0 looks at all of them.")
    assert "were drawn" not in run("progressions --discover --named-too", library).stdout
    few = run("progressions --discover --draw 1", library)
    assert few.exit_code == NOTHING
    assert few.stdout.splitlines()[1].startswith("1 of 12 tunes were drawn")


@pytest.mark.parametrize("options", ["--draw 5", "--named-too", "--of loop --draw 5"])
def test_options_of_discovery_alone_are_refused(small: Path, options: str) -> None:
    done = run(f"progressions {options}", small)
    assert done.exit_code == BAD_INPUT
    assert "give --discover with them" in done.stderr


NOTHING_FITS = [
    ("progressions --style none", "No tune fits.", "No chart has the style “none”; there are: blues."),
    ("progressions --tag lop", "No tune fits.", "No chart has the tag “lop”; there are: loop."),
    ("progressions --section vers --style blues", "No tune has any of them.", ""),
    ("progressions --section choruss", "No tune has any of them.", "No chart has the section “choruss”"),
    ("progressions --key B", "No tune fits.", ""),
    ("progressions --discover --tag lop", "No sequence stands out", "No chart has the tag “lop”; there are: loop."),
    ("progressions --name canon --tag lop", "No tune has it.", "No chart has the tag “lop”; there are: loop."),
]


@pytest.mark.parametrize(("line", "said", "offered"), NOTHING_FITS)
def test_what_fits_nothing_says_why(tmp_path: Path, line: str, said: str, offered: str) -> None:
    library = library_of(tmp_path, blues=BLUES, loop=LOOP.replace("key: D", "key: D\ntags: loop"))
    done = run(line, library)
    assert done.exit_code == NOTHING
    assert said in done.stdout
    assert offered in done.stdout
    assert "In no tune:" not in done.stdout
    assert "--anywhere" not in done.stdout


@pytest.mark.parametrize("line", ["progressions", "progressions --discover", "progressions --name canon"])
def test_a_library_without_tunes_says_so(tmp_path: Path, line: str) -> None:
    done = run(line, tmp_path)
    assert done.exit_code == NOTHING
    assert "The library has no tunes." in done.stdout


def test_an_unknown_chart_is_answered_with_the_nearest(small: Path) -> None:
    done = run("progressions --of loup", small)
    assert done.exit_code == BAD_INPUT
    assert "there is no chart “loup” in the library; nearest: Loop" in done.stderr


def test_a_part_of_a_title_offers_the_titles_that_hold_it(tmp_path: Path) -> None:
    charts = {f"tune_{name}": f"title: The Long Way to {name}\nkey: C\n\n| C |\n" for name in ("Ayr", "Dunmoor")}
    done = run('progressions --of "long way"', library_of(tmp_path, **charts))
    assert "nearest: The Long Way to Ayr, The Long Way to Dunmoor" in done.stderr

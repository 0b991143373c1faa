"""``samechanges survey``: text, JSON, CSV, Parquet and SVG, and what is said where there is nothing to tell."""

from __future__ import annotations

import io
import json
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pandas as pd
import pytest

from tests.helpers.commands import BAD_INPUT, FOUND, NOTHING, answer, library_of, run

VERSE = "| C | F | G7 | C |\n| Am | F | G | C/E |\n"


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = library_of(
        tmp_path_factory.mktemp("survey") / "charts",
        hall=f"title: Hall\nkey: C\nstyle: folk\nyear: 1971\n\n[Verse]\n{VERSE}",
        quay=f"title: Quay\nkey: C\nstyle: folk rock\nyear: 1975\n\n[Verse]\n{VERSE}| F | C |\n",
        mill="title: Mill\nkey: Am\nstyle: pop\nyear: 1983\n\n[A]\n| Am | G | F | E7 |\n[B]\n| Dm | E7 | Am |\n",
    )
    assert run("index", folder).exit_code == FOUND
    return folder


COUNTS = {"times", "share", "charts", "low", "high"}


@pytest.mark.parametrize(
    ("line", "names"),
    [
        ("roots", {"root"} | COUNTS),
        ("families", {"family"} | COUNTS),
        ("sequences", {"numbers"} | COUNTS),
        ("transitions", {"from", "to", "times", "share"}),
        ("before --chord 4", {"chord"} | COUNTS),
        ("after", {"chord"} | COUNTS),
        ("cadences", {"from", "to", "cadence"} | COUNTS),
        ("keys", {"key"} | COUNTS - {"times"}),
        ("modes", {"mode"} | COUNTS - {"times"}),
        ("lengths", {"bars"} | COUNTS - {"times"}),
        ("metres", {"metre"} | COUNTS - {"times"}),
    ],
)
def test_json_has_its_shape(library: Path, line: str, names: set[str]) -> None:
    made = answer(f"survey {line}", library)
    assert set(made) == {"what", "charts", "rows"}
    assert (made["what"], made["charts"]) == (line.split()[0], 3)
    assert made["rows"]
    assert all(set(row) == names for row in made["rows"])
    assert sum(row["share"] for row in made["rows"]) == pytest.approx(1, abs=1e-4)


def test_rows_of_a_survey(library: Path) -> None:
    rows = {row["root"]: row for row in answer("survey roots", library)["rows"]}
    assert {root: (row["times"], row["charts"]) for root, row in rows.items()} == {
        "1": (9, 3), "4": (6, 3), "5": (6, 3), "6": (2, 2), "b7": (1, 1), "b6": (1, 1),
    }  # fmt: skip
    (row,) = answer("survey sequences --length 5 --strength family --mode minor", library)["rows"][:1]
    assert row["numbers"] == ["1m", "b7maj", "b6maj", "57", "4m"]


def test_groups_in_json(library: Path) -> None:
    made = answer("survey keys --by decade", library)
    assert made["groups"] == {"1970s": 2, "1980s": 1}
    assert [(row["group"], row["key"]) for row in made["rows"]] == [("1970s", "C"), ("1980s", "Am")]
    compared = answer("survey roots --by style --against folk pop", library)
    assert compared["groups"] == {"folk": 2, "pop": 1}
    assert {"root", "times_1", "share_2", "difference", "difference_low", "g2", "p", "q", "log_odds", "z"} <= set(
        compared["rows"][0]
    )


def test_notes_stand_beside_data(library: Path) -> None:
    result = run("survey roots --json", library)
    assert "Few tunes (3)" in result.stderr
    json.loads(result.stdout)


def test_a_table_for_people(library: Path) -> None:
    text = run("survey roots --style folk", library).stdout
    assert text.startswith("Chords by root, style folk.\n2 tunes asked.\n\nroot  times  share ")
    assert re.search(r"^1 +7 +38\.9 +\S+ +2 +100\.0 +34\.2–100\.0$", text, re.MULTILINE)
    assert "Wilson" in text
    assert "bootstrap" in text
    assert "Few tunes (2)" in text
    assert max(map(len, text.splitlines())) <= 100


def test_roman_numerals_for_people(library: Path) -> None:
    text = run("survey sequences --length 2 --strength family --mode minor --as roman", library).stdout
    assert re.search(r"^i bVII +1 ", text, re.MULTILINE)
    assert re.search(r"^from \\ to +I ", run("survey transitions --as roman", library).stdout, re.MULTILINE)


def test_transitions_are_a_matrix(library: Path) -> None:
    lines = run("survey transitions", library).stdout.splitlines()
    assert lines[3].split() == ["from", "\\", "to", "1", "4", "5", "b6", "6", "b7"]
    assert lines[4].split() == ["1", ".", "3", ".", ".", "2", "1"]
    assert re.search(r"^from +to +times", run("survey transitions --strength family", library).stdout, re.MULTILINE)


def test_a_comparison_for_people(library: Path) -> None:
    text = run("survey families --by style --against folk rest", library).stdout
    assert "folk (2 tunes) against rest (1 tune)" in text
    assert "Benjamini" in text
    assert "log-odds" in text


def test_the_limit_counts_rows_of_each_group(library: Path) -> None:
    text = run("survey roots --by decade --limit 2", library).stdout
    assert "decade 1970s, 2 tunes" in text
    assert text.count("more (--limit 0 shows all)") == 2
    assert len(answer("survey sequences --limit 2", library)["rows"]) == 2
    assert len(answer("survey sequences", library)["rows"]) == len(
        answer("survey sequences --limit 0", library)["rows"]
    )


def test_csv(library: Path) -> None:
    table = pd.read_csv(io.StringIO(run("survey sequences --length 3 --csv", library).stdout))
    assert list(table.columns[:4]) == ["numbers", "times", "share", "share_low"]
    assert table["numbers"].iloc[0].count(" ") == 2


def test_parquet_and_svg_are_written(library: Path, tmp_path: Path) -> None:
    table, plot = tmp_path / "table.parquet", tmp_path / "plot.svg"
    result = run(["survey", "sequences", "--parquet", str(table), "--svg", str(plot)], library)
    assert result.exit_code == FOUND
    assert f"Written: {plot}" in result.stderr
    rows = pd.read_parquet(table)
    assert list(rows["numbers"].iloc[0]) == answer("survey sequences", library)["rows"][0]["numbers"]
    assert ElementTree.parse(plot).getroot().tag.endswith("svg")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("roots", ["Chords by root", "b7", "% of all chords; lines: 95%, bootstrap over tunes"]),
        ("sequences --length 2", ["4 5", "% of tunes; lines: 95%, Wilson interval"]),
        ("transitions", ["from, in % of its transitions", "to", "100"]),
        ("transitions --strength exact --by mode", ["mode major, 2 tunes", "57"]),
        ("roots --by style --against folk pop", ["folk (2 tunes)", "pop (1 tune)"]),
        ("cadences --as roman", ["V I  authentic"]),
        ("lengths --by decade", ["decade 1970s, 2 tunes", "8"]),
    ],
)
def test_every_plot_is_drawn(library: Path, tmp_path: Path, line: str, words: list[str]) -> None:
    plot = tmp_path / "plot.svg"
    assert run([*f"survey {line} --svg".split(), str(plot)], library).exit_code == FOUND
    root = ElementTree.parse(plot).getroot()
    drawn = ["".join(each.itertext()) for each in root.iter() if each.tag.endswith("text")]
    for word in words:
        assert word in drawn, drawn
    colours = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]{6}|rgb\([^)]*\))"', plot.read_text(encoding="utf-8")))
    assert colours
    for colour in colours:
        parts = re.findall(r"\d+", colour) if colour.startswith("rgb") else re.findall("..", colour[1:])
        assert len(set(parts)) == 1, f"{colour} is no grey"


def test_a_title_cannot_break_a_plot(tmp_path: Path) -> None:
    folder = library_of(tmp_path / "charts", one="key: C\nstyle: <b>&amp;\n\n| C | F |\n", two="key: C\n\n| C | F |\n")
    plot = tmp_path / "plot.svg"
    assert run(["survey", "roots", "--by", "style", "--svg", str(plot)], folder).exit_code == FOUND
    assert "style <b>&amp;, 1 tune" in ["".join(each.itertext()) for each in ElementTree.parse(plot).getroot().iter()]


def test_a_survey_of_nothing_says_so(library: Path, tmp_path: Path) -> None:
    plot = tmp_path / "plot.svg"
    result = run(["survey", "roots", "--style", "polka", "--svg", str(plot)], library)
    assert result.exit_code == NOTHING
    assert "There is nothing to survey: no tune fits." in result.stdout
    assert "No chart has the style “polka”" in result.stderr
    assert not plot.exists()
    result = run("survey sequences --length 8 --style pop --json", library)
    assert (result.exit_code, json.loads(result.stdout)["rows"]) == (NOTHING, [])
    assert "none of the 1 tune asked has any" in result.stderr
    empty = library_of(tmp_path / "empty")
    assert "the library has no tunes" in run("survey keys", empty).stdout


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("rots", "there is no survey of “rots”; nearest: roots"),
        ("roots --by styel", "nearest: style"),
        (
            "roots --by style --against folk jazz",
            "no tune asked has the style “jazz”; nearest: folk, folk rock, pop, rest",
        ),
        ("roots --against folk pop", "say by what"),
        ("sequences --length 9", "nearest: 8"),
        ("roots --length 2", "a length is for sequences, not for roots"),
        ("before --chord H", "“H” is not"),
        ("before --chord Am", "is not one chord"),
        ("roots --csv --json", "either JSON or CSV"),
        ("roots --only Am", "--only takes numbers"),
        ("roots --mode major-ish", "is not a mode"),
        ("roots --svg /nowhere/plot.svg", "/nowhere/plot.svg cannot be written"),
    ],
)
def test_bad_input_is_told(library: Path, line: str, said: str) -> None:
    result = run(f"survey {line}", library)
    assert result.exit_code == BAD_INPUT
    assert said in result.stderr

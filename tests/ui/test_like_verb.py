"""The verb ``like`` and its part of the page: text, JSON, exit status, names that fit nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.helpers.commands import BAD_INPUT, FOUND, NOTHING, answer, library_of, run
from ui.serving import script

TUNE = "title: Ferry Song\nkey: G\nstyle: folk\n\n[A]\n| G | Em7 | Am7 | D7 |\n| G | G7 | C | Cm |\n"
OTHER = "title: Night Ferry\nkey: Bb\nstyle: jazz\n\n[A]\n|: Bb | Gm | Cm7 | F7 :|\n[B]\n| Bb | Bb7 | Eb | Ebm |\n"
LONELY = "title: Lonely\nkey: C\n\n| C | Db | D | Eb |\n"


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return library_of(tmp_path / "charts", ferry=TUNE, night=OTHER, lonely=LONELY)


def test_json(library: Path) -> None:
    assert answer("like ferry", library) == {
        "title": "Ferry Song",
        "path": "ferry.txt",
        "results": [
            {
                "title": "Night Ferry",
                "path": "night.txt",
                "score": 0.8,
                "shared": [
                    {
                        "numbers": ["1", "6m7", "2m7", "57", "1", "17", "4", "4m"],
                        "here": [1, 8],
                        "there": [1, 8],
                    }
                ],
            }
        ],
    }


def test_passages_side_by_side(library: Path) -> None:
    found = run("like 'Ferry Song'", library)
    assert found.exit_code == FOUND
    assert found.stdout.splitlines() == [
        "Tunes like Ferry Song, in G.",
        "",
        "Night Ferry, in Bb, 80% shared   (night.txt)",
        "  bars 1 to 8 here, bars 1 to 8 there",
        "    here   | 1  | 6m7  | 2m7  | 57  | 1  | 17  | 4  | 4m",
        "    there  | 1  | 6m   | 2m7  | 57  | 1  | 17  | 4  | 4m",
    ]


@pytest.mark.parametrize(
    ("style", "here", "there"),
    [
        ("roman", "I  | vi7  | ii7  | V7", "I  | vi   | ii7  | V7"),
        ("chords", "G   | Em7  | Am7  | D7", "Bb  | Gm   | Cm7  | F7"),
    ],
)
def test_what_passages_are_written_in(library: Path, style: str, here: str, there: str) -> None:
    said = run(f"like ferry --as {style}", library).stdout
    assert f"here   | {here}" in said
    assert f"there  | {there}" in said


@pytest.mark.parametrize(
    ("line", "status", "said"),
    [
        ("like ferry --style jazz", FOUND, "Night Ferry"),
        ("like ferry --style folk", NOTHING, "No tune shares a passage"),
        ("like ferry --section B", NOTHING, "No tune shares a passage"),
        ("like ferry --only '1 4 5'", NOTHING, "No tune shares a passage"),
        ("like lonely", NOTHING, "No tune shares a passage"),
        ("like fery", BAD_INPUT, "there is no chart “fery” in the library; nearest: ferry"),
        ("like ferry --key H", BAD_INPUT, "“H”"),
        ("like ferry --only 'C F'", BAD_INPUT, "--only takes numbers here"),
        ("like ferry --only 'q'", BAD_INPUT, "q"),
    ],
)
def test_status_and_words(library: Path, line: str, status: int, said: str) -> None:
    found = run(line, library)
    assert found.exit_code == status
    assert said in found.output


def test_two_charts_of_one_title_are_both_offered(library: Path) -> None:
    (library / "again.txt").write_text(TUNE, encoding="utf-8")
    found = run("like 'ferry song'", library)
    assert found.exit_code == BAD_INPUT
    assert "could be any of 2 charts; nearest: again.txt, ferry.txt" in found.output


def test_a_long_passage_is_cut_short_on_the_screen(library: Path) -> None:
    long = "title: Long\nkey: C\n\n" + "| C | Am | F | G |\n| Em | A7 | Dm | G7 |\n" * 6
    for name in ("long", "longer"):
        (library / f"{name}.txt").write_text(long.replace("Long", name), encoding="utf-8")
    said = run("like longer", library).stdout
    assert "    … and 16 more" in said


def test_the_page_shows_tunes_alike_when_asked(library: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(library))
    page = AppTest.from_file(str(script()), default_timeout=60)
    page.query_params["view"], page.query_params["tune"] = "Tune", "ferry.txt"
    page.run()
    (switch,) = [each for each in page.toggle if each.label == "Tunes like this"]
    shown = "".join(each.body for each in page.get("html"))
    assert "Night Ferry" not in shown
    page = switch.set_value(True).run()
    assert not page.exception
    shown = "".join(each.body for each in page.get("html"))
    assert "<b>Night Ferry</b>" in shown
    assert "bars 1 to 8 here, bars 1 to 8 there" in shown
    assert "<th>there</th><td>1</td><td>6m</td>" in shown
    (button,) = [each for each in page.button if each.label == "Show"]
    page = button.click().run()
    assert page.session_state["tune"] == "night.txt"

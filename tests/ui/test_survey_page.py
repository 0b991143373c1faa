"""The survey view of the page, run by Streamlit's own test runner."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from tests.helpers.commands import library_of
from ui.page_survey import SURVEYS
from ui.serving import script


@pytest.fixture(autouse=True)
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = library_of(
        tmp_path,
        hall="title: Hall\nkey: C\nstyle: folk\nyear: 1971\n\n[Verse]\n| C | F | G7 | C |\n",
        quay="title: Quay\nkey: G\nstyle: folk\nyear: 1975\n\n[Verse]\n| G | C | D | G |\n",
        mill="title: Mill\nkey: Am\nstyle: <i>pop</i>\nyear: 1983\n\n[Verse]\n| Am | G | F | E7 | Am |\n",
    )
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(folder))
    return folder


def _open(**address: str) -> AppTest:
    page = AppTest.from_file(str(script()), default_timeout=60)
    page.query_params["view"] = "Survey"
    for name, value in address.items():
        page.query_params[name] = value
    return _checked(page.run())


def _checked(page: AppTest) -> AppTest:
    assert not page.exception, [each.value for each in page.exception]
    return page


def _text(page: AppTest) -> str:
    source = "\n".join(each.proto.body for each in page.get("html") if "<style>" not in each.proto.body)
    return html.unescape(re.sub(r"<[^>]*>", " ", source))


def _table(page: AppTest) -> pd.DataFrame:
    return page.dataframe[0].value


@pytest.mark.parametrize("what", [each.value for each in SURVEYS])
def test_every_survey_has_a_table_and_a_plot(what: str) -> None:
    page = _open(what=what, length="2")
    assert "3 tunes asked" in _text(page)
    assert len(_table(page))
    assert len(page.get("vega_lite_chart")) == 1


def test_the_first_survey_is_of_roots() -> None:
    table = _table(_open())
    assert list(table.columns) == ["root", "times", "share %", "95% of share", "tunes", "of tunes %", "95% of tunes"]
    assert table["times"].sum() == 13


def test_roman_numerals_are_the_readers_choice() -> None:
    assert list(_table(_open(writing="roman", what="before", chord="57"))["chord"]) == ["IV", "bVI"]


def test_groups_stand_side_by_side_and_are_compared() -> None:
    page = _open(by="style")
    assert "folk: 2 tunes; <i>pop</i>: 1 tune" in _text(page)
    assert list(_table(page)["style"].unique()) == ["folk", "<i>pop</i>"]
    (compare,) = [each for each in page.selectbox if each.label == "Compare"]
    page = _checked(compare.set_value("folk").run())
    assert {"folk %", "rest %", "difference %", "clear", "q"} <= set(_table(page).columns)
    assert any("bootstrap" in each.value for each in page.caption)


def test_filters_narrow_a_survey() -> None:
    page = _open(mode="minor", what="keys")
    assert "in a minor key" in _text(page)
    assert list(_table(page)["key"]) == ["Am"]


def test_nothing_to_survey_is_said() -> None:
    assert "There is nothing to survey: no tune fits." in _text(_open(style="polka"))


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ({"what": "before", "chord": "zork"}, "zork"),
        ({"by": "colour"}, "colour"),
        ({"by": "style", "first": "polka"}, "no tune asked has the style “polka”"),
        ({"mode": "majorish"}, "is not a mode"),
    ],
)
def test_what_an_address_gets_wrong_is_told(address: dict[str, str], said: str) -> None:
    assert said in _text(_open(**address))


def test_an_address_out_of_bounds_is_brought_back() -> None:
    assert "Sequences of 8 chords" in _text(_open(what="sequences", length="99"))
    assert "Chords by root" in _text(_open(what="nonsense"))

"""The page's view of progressions, and the tags of a tune, run by Streamlit's own test runner."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from corpus.catalogue import OWN_FILE, Catalogue
from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search.discovery import Discovered, Discovery, discover
from search.filters import Filters
from tests.helpers.page_libraries import make_library
from ui import page_progressions
from ui.page_state import PARTS
from ui.serving import script


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = make_library(tmp_path)
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(folder))
    make_index(Library(folder))
    return folder


def opened(**address: str) -> AppTest:
    page = AppTest.from_file(str(script()), default_timeout=90)
    for name, value in address.items():
        page.query_params[name] = value
    return checked(page.run())


def checked(page: AppTest) -> AppTest:
    assert not page.exception, [each.value for each in page.exception]
    return page


def text(page: AppTest) -> str:
    source = "\n".join(each.proto.body for each in page.get("html") if "<style>" not in each.proto.body)
    return html.unescape(re.sub(r"<[^>]*>", " ", source))


def pressed(page: AppTest, label: str) -> AppTest:
    (button,) = [each for each in page.button if each.label == label]
    return checked(button.click().run())


def test_the_catalogue_with_counts(small: Path) -> None:
    page = opened(view="Progressions")
    (table,) = page.dataframe
    rows = table.value
    assert len(rows) >= 60
    assert list(rows["tunes"]) == sorted(rows["tunes"], reverse=True)
    loop = rows[rows["progression"] == "four-chord loop begun on 6m"].iloc[0]
    assert loop["tunes"] >= 1
    assert "Am" in loop["keys"]


def test_filters_that_fit_no_tune_are_told(small: Path) -> None:
    said = text(opened(view="Progressions", style="polka"))
    assert "No tune has any of them. No tune fits. No chart has the style “polka”; there are:" in said


def test_one_progression_with_its_tunes(small: Path) -> None:
    page = opened(view="Progressions", named="four-chord loop begun on 6m")
    assert "The same loop begun elsewhere: four-chord loop" in text(page)
    (table,) = page.dataframe
    assert "Minor Loop" in list(table.value["tune"])
    assert page.query_params["named"] in ("four-chord loop begun on 6m", ["four-chord loop begun on 6m"])


def test_a_name_that_is_none_is_answered_with_the_nearest(small: Path) -> None:
    page = opened(view="Progressions", named="bakdoor")
    assert "There is no progression “bakdoor” in the catalogue; nearest: backdoor" in text(page)


def test_a_progression_that_no_tune_has(small: Path) -> None:
    assert "No tune has it." in text(opened(view="Progressions", named="key rise"))


def test_the_progressions_of_one_tune(small: Path) -> None:
    page = opened(view="Progressions", part=PARTS[1], tune="minor.txt")
    (table,) = page.dataframe
    assert "four-chord loop" in list(table.value["progression"])
    assert "ii–V–I" in list(table.value["progression"])
    (table,) = opened(view="Progressions", part=PARTS[1], tune="minor.txt", writing="roman").dataframe
    assert "ii7 V7 Imaj7" in list(table.value["chords"])
    page = opened(view="Progressions", part=PARTS[1])
    assert "Choose a tune" in text(page)


def test_a_tune_leads_to_its_progressions(small: Path) -> None:
    page = pressed(opened(view="Tune", tune="minor.txt"), "Its named progressions")
    (table,) = page.dataframe
    assert "four-chord loop" in list(table.value["progression"])


def test_faults_of_the_own_file_are_shown(small: Path) -> None:
    (small / OWN_FILE).write_text('[[progression]]\nname = "<b>x</b>"\npattern = "1 )"\n', encoding="utf-8")
    page = opened(view="Progressions")
    assert f"{OWN_FILE}, line 3" in text(page)
    assert "<b>x</b>" not in "\n".join(each.proto.body for each in page.get("html"))


def test_nothing_unnamed_stands_out_in_a_few_tunes(small: Path) -> None:
    assert "No sequence stands out" in text(opened(view="Progressions", part=PARTS[2]))


def test_the_page_says_when_only_some_tunes_were_drawn(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    every = discover

    def of_two(index: OpenIndex, known: Catalogue | None, filters: Filters | None = None) -> Discovery:
        return every(index, known, filters, 2)

    monkeypatch.setattr(page_progressions, "discover", of_two)
    said = text(opened(view="Progressions", part=PARTS[2]))
    assert "2 of " in said
    assert "tunes were drawn, always the same ones; the counts are of these." in said


def naming_page() -> None:
    """A page that names one sequence, as if its row had been ticked."""
    from corpus.library import chosen_library
    from corpus.reading import OpenIndex
    from search.discovery import Discovered
    from ui import page_progressions
    from ui.page_charts import OpenLibrary

    library = chosen_library()
    page_progressions._name_it(
        OpenLibrary(library, OpenIndex(library), (0, 0, 0)), Discovered(("4", "1", "6m"), True, 5, 9, 12.0, ())
    )


def test_a_sequence_is_given_a_name(small: Path) -> None:
    page = checked(AppTest.from_function(naming_page, default_timeout=60).run())
    page.text_input[0].set_value("night bus loop")
    page = pressed(page, "Name it")
    assert 'name = "night bus loop"\npattern = "4 1 6m"\nrotate = true' in (small / OWN_FILE).read_text("utf-8")
    assert page.session_state["named"] == "night bus loop"
    page.text_input[0].set_value("backdoor")
    page = pressed(page, "Name it")
    assert "is a name of “backdoor cadence”" in page.session_state[page_progressions._LEFT][0]
    assert Discovered(("4", "1"), False, 3, 3, 1.0, ()).pattern == "4 1"


def test_tags_are_shown_and_edited(small: Path) -> None:
    before = (small / "loop.txt").read_bytes()
    page = opened(view="Tune", tune="loop.txt")
    (tags,) = [each for each in page.multiselect if each.label == "Tags"]
    assert tags.value == ["loops", "spring"]
    page = checked(tags.set_value(["spring", "<b>bold</b>"]).run())
    assert (small / "loop.txt").read_bytes() == before
    page = pressed(page, "Save the tags")
    assert b"\ntags: spring, <b>bold</b>\n" in (small / "loop.txt").read_bytes()
    (tags,) = [each for each in page.multiselect if each.label == "Tags"]
    assert tags.value == ["spring", "<b>bold</b>"]
    assert not [each for each in page.button if each.label == "Save the tags"]


def test_the_tags_of_the_demo_library_are_only_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SAMECHANGES_LIBRARY", raising=False)
    page = opened(view="Tune", tune="hymn/slane.txt")
    (tags,) = [each for each in page.multiselect if each.label == "Tags"]
    assert tags.disabled
    assert "irish" in tags.value


def test_the_search_knows_names(small: Path) -> None:
    page = opened(find="four-chord loop begun on 6m")
    assert "four-chord loop begun on 6m: tunes with vi IV I V" in text(page)
    assert "Minor Loop" in text(page)
    assert "part of the circle of fifths: tunes by a rule" in text(opened(find="falling fifths"))
    assert "the name “backdoor”" in text(opened(find="bakdoor"))

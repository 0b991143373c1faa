"""The page, run by Streamlit's own test runner: every view, on the demo library and on small ones."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from corpus.index import make_index
from corpus.library import Library
from tests.helpers.page_libraries import CHARTS, FAULTY, LONG_TITLE, SCRIPT_TITLE, make_library
from ui.page_search import EXAMPLES, NOTATION
from ui.serving import script


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = make_library(tmp_path)
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(folder))
    return folder


def _open(**address: str) -> AppTest:
    page = AppTest.from_file(str(script()), default_timeout=60)
    for name, value in address.items():
        page.query_params[name] = value
    return _checked(page.run())


def _checked(page: AppTest) -> AppTest:
    assert not page.exception, [each.value for each in page.exception]
    return page


def _source(page: AppTest) -> str:
    """The HTML of the page, without its style."""
    return "\n".join(each.proto.body for each in page.get("html") if "<style>" not in each.proto.body)


def _text(page: AppTest) -> str:
    return html.unescape(re.sub(r"<[^>]*>", " ", _source(page).replace("<wbr>", "")))


def _address(page: AppTest, name: str) -> str:
    """A value of the address; releases of Streamlit differ in whether it stands in a list."""
    value = page.query_params[name]
    return value if isinstance(value, str) else value[0]


def _press(page: AppTest, label: str) -> AppTest:
    (button,) = [each for each in page.button if each.label == label]
    return _checked(button.click().run())


def _view(page: AppTest, name: str) -> AppTest:
    (views,) = [each for each in page.button_group if each.label == "View"]
    return _checked(views.set_value(name).run())


def test_the_demo_library_needs_no_setting() -> None:
    page = _open()
    assert "Demo library" in _text(page)
    assert "Type a progression" in _text(page)


def test_a_missing_index_is_made_and_said_so(small: Path) -> None:
    assert "one was made: 6 tunes (6 read" in _text(_open())
    assert (small / ".samechanges" / "index.duckdb").exists()
    assert "one was made" not in _text(_open())


def test_an_index_that_vanishes_is_made_again(small: Path) -> None:
    page = _open(find="1 5 6m 2m")
    assert "1 tune" in _text(page)
    (small / ".samechanges" / "index.duckdb").unlink()
    page = _checked(page.run())
    assert "one was made" in _text(page)
    assert "1 tune" in _text(page)


def test_typing_a_progression_shows_its_bars(small: Path) -> None:
    page = _open()
    _checked(page.text_input(key="find").set_value("1 5 6m 2m").run())
    assert "Tunes with 1 5 6m 2m, by chord families, in the key." in _text(page)
    assert "1 tune , 2 times in all" in _text(page)
    assert _source(page).count("sc-match") == 4
    assert "Loop" in _text(page)
    assert _address(page, "find") == "1 5 6m 2m"


@pytest.mark.parametrize(("text", "name"), EXAMPLES)
def test_every_example_finds_tunes_in_the_demo_library(text: str, name: str) -> None:
    page = _press(_open(), name if text.startswith("|") else text)
    assert page.text_input(key="find").value == text
    assert "sc-match" in _source(page)


def test_the_notation_shown_is_read() -> None:
    from search.asking import ask

    for written, _ in NOTATION:
        for pattern in written.split("   "):
            assert ask(pattern).question.pattern.parts, pattern


def test_numbers_or_roman_everywhere(small: Path) -> None:
    page = _open(find="6m 4 1 5", writing="roman")
    assert ">vi<" in _source(page)
    page = _open(view="Tune", tune="minor.txt", writing="roman")
    assert ">iv7<" in _source(page)
    assert ">4m7<" not in _source(page)


def test_a_minor_tune_says_its_count(small: Path) -> None:
    text = _text(_open(find="6m 4 1 5"))
    assert "Counted from the relative major, C" in text
    assert "key found: Am" in text


def test_chord_names_say_their_key_and_offer_others(small: Path) -> None:
    page = _open(find="Am F C G")
    assert re.search(r"counted in\s+C", _text(page))
    others = [each.label for each in page.button if each.label.startswith("Count in ")]
    assert others
    page = _press(page, others[0])
    assert re.search(rf"counted in\s+{others[0].removeprefix('Count in ')}\s+as you chose", _text(page))
    page = _press(page, "Choose the key for me")
    assert "as you chose" not in _text(page)


def test_filters_narrow_and_are_said(small: Path) -> None:
    page = _open(find="6m 4 1 5", metre="3/4")
    assert "in 3/4" in _text(page)
    assert "Minor Loop" in _text(page)
    assert "Unsaid Key" not in _text(page)
    page = _press(page, "Clear the filters")
    assert "Unsaid Key" in _text(page)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ({"find": "1 4q 5"}, "“4q” is not a chord"),
        ({"find": "251"}, "2 5 1"),
        ({"find": ".."}, ".."),
        ({"find": "(1 4"}, "("),
        ({"find": "1 .. 4", "rotate": "yes"}, "loop"),
        ({"find": "1 4", "level": "high"}, "“high” is not a level"),
        ({"find": "1 4", "key": "H"}, "“H” is not a key"),
        ({"find": "1 4", "metre": "5/7"}, "“5/7” is not a metre"),
        ({"find": "1 4", "mode": "sad"}, "“sad” is not a mode"),
        ({"find": "C F", "meant": "H"}, "“H” is not a key"),
    ],
)
def test_what_cannot_be_read_is_marked(small: Path, address: dict[str, str], said: str) -> None:
    page = _open(**address)
    assert said in _text(page)
    assert "^" in _text(page)
    assert page.text_input(key="find").value == address["find"]


def test_nothing_found_offers_wider_questions(small: Path) -> None:
    page = _open(find="1maj7 4m6", strength="exact")
    assert "No tune has it." in _text(page)
    page = _press(page, "Try the roots alone")
    assert _address(page, "strength") == "loose"
    assert "No tune has it." not in _text(page)


def test_more_tunes_are_shown_on_a_click() -> None:
    page = _open(find="1 4")
    before = _source(page).count("<h3")
    page = _press(page, "Show 20 more")
    assert _source(page).count("<h3") == before + 20


def test_a_whole_tune_opens_with_its_places_marked(small: Path) -> None:
    page = _press(_open(find="1 5 6m 2m"), "Whole tune")
    assert page.selectbox(key="tune").value == "loop.txt"
    assert re.search(r"Marked:\s+1 5 6m 2m", _text(page))
    assert _source(page).count("sc-match") == 4
    page = _press(page, "Remove the marks")
    assert "sc-match" not in _source(page)


def test_a_tune_in_another_key_with_notes(small: Path) -> None:
    page = _open(view="Tune", tune="long.txt")
    assert LONG_TITLE in _text(page)
    _checked(page.selectbox(key="to").set_value("F").run())
    assert "shown in F (key Eb)" in _text(page)
    assert "Bbm6/Db" in _text(page)
    assert "Db Bb F G" in _text(page)
    assert _address(page, "to") == "F"
    _checked(page.checkbox(key="notes").set_value(True).run())
    assert _text(page).count("Db Bb F G") == 2


def test_a_found_key_is_said_to_be_found(small: Path) -> None:
    assert re.search(r"key found: Am \(\d+% likely; next C\)", _text(_open(view="Tune", tune="unsaid.txt")))


def _numbers(page: AppTest) -> list[str]:
    """What stands under the chords of the bars."""
    return re.findall(r'class="sc-degree">([^<]*)</span></span>', _source(page))


def test_a_tune_is_read_in_the_rival_of_its_found_key_and_back(small: Path) -> None:
    page = _open(view="Tune", tune="unsaid.txt")
    assert page.selectbox(key="to").options[0] == "Am, as found"
    plain = _numbers(page)
    assert plain[:4] == ["1m", "b6", "b3", "b7"]
    page = _press(page, "Read in C")
    assert page.selectbox(key="to").options[0] == "C, the rival"
    assert re.search(r"read in C \(\d+% likely; found: Am\)", _text(page))
    assert _numbers(page)[:4] == ["6m", "4", "1", "5"]
    assert _address(page, "rival") == "unsaid.txt"
    _checked(page.selectbox(key="to").set_value("D").run())
    assert re.search(r"shown in D \(read in C", _text(page))
    assert _numbers(page)[:4] == ["6m", "4", "1", "5"]
    page = _press(page, "Back to Am")
    assert _numbers(page) == plain
    assert page.selectbox(key="to").value == ""


def test_a_search_result_is_read_in_the_rival_of_its_found_key_and_back(small: Path) -> None:
    page = _open(find="1m b6 b3 b7", key="Am")
    plain, source = _numbers(page), _source(page)
    assert "key found: Am" in _text(page)
    page = _press(page, "Read in C")
    assert "Counted in C; the search counted in Am" in _text(page)
    assert plain != _numbers(page)
    assert {"6m", "4", "1", "5"} <= set(_numbers(page))
    assert _source(page).count("sc-match") == source.count("sc-match")
    assert _numbers(_press(page, "Back to Am")) == plain


def test_an_address_keeps_that_a_tune_is_read_in_its_rival_key(small: Path) -> None:
    page = _open(view="Tune", tune="unsaid.txt", rival="unsaid.txt")
    assert re.search(r"read in C \(\d+% likely; found: Am\)", _text(page))


@pytest.mark.parametrize("tune", ["minor.txt", "loop.txt"])
def test_a_written_key_has_no_rival(small: Path, tune: str) -> None:
    page = _open(view="Tune", tune=tune, rival=tune)
    assert not [button for button in page.button if button.label.startswith(("Read in", "Back to"))]
    assert "key found" not in _text(page)
    assert page.selectbox(key="to").options[0].endswith(", as written")


def test_a_tune_by_its_title_or_not_at_all(small: Path) -> None:
    assert _open(view="Tune", tune="minor loop").selectbox(key="tune").value == "minor.txt"
    assert "there is no chart “Minor Lop” in the library; nearest: Minor Loop" in _text(
        _open(view="Tune", tune="Minor Lop")
    )
    assert "there is no chart" in _text(_open(view="Tune", tune="../../../etc/passwd"))
    assert "“H” is not a key" in _text(_open(view="Tune", tune="minor.txt", to="H"))


def test_words_are_shown(small: Path) -> None:
    assert re.search(r"Down by the ri\s+C\s+4\s+ver bed", _text(_open(view="Tune", tune="sung.txt")))


def test_a_tune_that_became_faulty_shows_its_faults(small: Path) -> None:
    make_index(Library(small))
    (small / "loop.txt").write_text(FAULTY, encoding="utf-8")
    text = _text(_open(view="Tune", tune="loop.txt"))
    assert "loop.txt, line 4, column 11" in text
    text = _text(_open(find="1 5 6m 2m"))
    assert "This chart has changed since the library was read" in text


@pytest.mark.parametrize("address", [{"find": "1 4 57"}, {"view": "Tune", "tune": "script.txt"}, {"view": "Library"}])
def test_a_script_in_a_title_stays_text(small: Path, address: dict[str, str]) -> None:
    page = _open(**address)
    assert "<script" not in _source(page)
    assert "<b>bold" not in _source(page)
    if address.get("view") != "Library":
        assert SCRIPT_TITLE in html.unescape(_source(page))


def test_pasting_marks_faults_and_previews(small: Path) -> None:
    page = _open(view="Paste")
    _checked(page.text_area(key="pasted").set_value(FAULTY).run())
    assert "1 fault:" in _text(page)
    assert "Cmaj77" in _text(page)
    assert "sc-sheet" not in _source(page)
    _checked(page.text_area(key="pasted").set_value(FAULTY.replace("77", "7")).run())
    assert "It can be read." in _text(page)
    assert "sc-sheet" in _source(page)


def test_saving_brings_the_index_up_to_date(small: Path) -> None:
    page = _open(view="Paste")
    _checked(page.text_area(key="pasted").set_value("title: New One\nkey: F\n\n| F | Gm7 | C7 | F |\n").run())
    page = _press(page, "Save into the library")
    assert (small / "new-one.txt").read_text(encoding="utf-8").startswith("title: New One")
    assert "Saved as new-one.txt" in _text(page)
    assert "· 7 tunes" in _text(page)
    page = _press(page, "Open it")
    assert "New One" in _text(page)
    assert "7 tunes" in _text(page)
    page = _view(page, "Search")
    _checked(page.text_input(key="find").set_value("2m7 57 1").run())
    assert "New One" in _text(page)


def test_saving_does_not_write_over_unasked(small: Path) -> None:
    page = _open(view="Paste")
    _checked(page.text_area(key="pasted").set_value("title: Loop\nkey: F\n\n| F | C7 |\n").run())
    (button,) = [each for each in page.button if each.label == "Save into the library"]
    assert button.disabled
    assert (small / "loop.txt").read_text(encoding="utf-8") == CHARTS["loop.txt"]
    _checked(page.checkbox(key="replace").set_value(True).run())
    page = _press(page, "Save into the library")
    assert (small / "loop.txt").read_text(encoding="utf-8") == "title: Loop\nkey: F\n\n| F | C7 |\n"


def test_saving_outside_is_refused(small: Path) -> None:
    page = _open(view="Paste")
    _checked(page.text_area(key="pasted").set_value(CHARTS["loop.txt"]).run())
    _checked(page.text_input(key="name").set_value("../escaped").run())
    page = _press(page, "Save into the library")
    assert "leads out of the library" in _text(page)
    assert not (small.parent / "escaped.txt").exists()


def test_the_demo_library_refuses_to_be_written() -> None:
    page = _open(view="Paste")
    _checked(page.text_area(key="pasted").set_value(CHARTS["loop.txt"]).run())
    assert "The demo library is only there to be read" in _text(page)
    assert not [each for each in page.button if each.label.startswith("Save")]


def test_what_is_pasted_survives_a_look_elsewhere(small: Path) -> None:
    page = _open(view="Paste")
    _checked(page.text_area(key="pasted").set_value(FAULTY).run())
    page = _view(_view(page, "Library"), "Paste")
    assert page.text_area(key="pasted").value == FAULTY


def test_the_library_lists_tunes_and_faults(small: Path) -> None:
    make_library(small, faulty=True)
    page = _open(view="Library")
    assert "1 chart with faults" in _text(page)
    assert "faulty.txt, line 4, column 11" in _text(page)
    assert list(page.dataframe[0].value["title"]) == sorted(page.dataframe[0].value["title"], key=str.lower)
    assert len(page.dataframe[0].value) == 6
    _checked(page.text_input(key="listed").set_value("spring").run())
    assert list(page.dataframe[0].value["title"]) == ["Loop"]


def test_reading_what_changed(small: Path) -> None:
    page = _open(view="Library")
    (small / "sung.txt").unlink()
    (small / "more.txt").write_text(CHARTS["loop.txt"].replace("Loop", "More"), encoding="utf-8")
    page = _press(page, "Read what changed")
    assert "6 tunes (1 read, 5 unchanged, 1 removed)" in _text(page)
    assert "6 tunes (1 read" not in _text(_checked(page.run()))
    assert "More" in set(page.dataframe[0].value["title"])


def test_an_empty_library_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(tmp_path))
    assert "There are no tunes" in _text(_open(view="Tune"))
    assert "The library has no tunes yet" in _text(_open(view="Library"))
    assert "No tune has it" in _text(_open(find="1 4"))


def test_a_missing_folder_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(tmp_path / "nowhere"))
    assert "does not exist" in _text(_open())


def test_a_swapped_index_is_noticed_by_an_open_page(small: Path) -> None:
    page = _open(find="1 5 6m 2m")
    assert "1 tune ," in _text(page)
    (small / "second.txt").write_text(CHARTS["loop.txt"].replace("Loop", "Second"), encoding="utf-8")
    make_index(Library(small))
    page = _checked(page.run())
    assert "2 tunes" in _text(page)
    assert "Second" in _text(page)

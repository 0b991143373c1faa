"""The progressions view: the catalogue with its counts, those of one tune, and what has no name yet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from corpus.catalogue import OWN_FILE, Catalogue, Progression, catalogue
from corpus.own_progressions import name_progression
from corpus.saving import refusal
from grammar.symbols import read_numeral
from search.discovery import Discovered, Discovery, discover
from search.filters import Filters
from search.progressions import NamedPlace, Use, answer_named, found_in, question_of, uses
from search.vocabulary import nothing_fits
from shared.errors import SamechangesError
from shared.match import Answer
from ui.chart_html import element, fault_html, notice_html
from ui.page_charts import OpenLibrary, chart_meant, choices, several
from ui.page_filters import filter_form, filter_widgets, filters_label
from ui.page_state import ANY, FIRST_LIMIT, PARTS, go
from ui.progression_answers import entry_text, keys_text, most_used
from ui.text_answers import place_words

_CATALOGUE, _ONE_TUNE, _UNNAMED = PARTS
_MOST_UNNAMED = 40
_LEFT, _NAME = "what naming did", "name to give"


def progressions_view(opened: OpenLibrary) -> None:
    """The view.

    Raises:
        SamechangesError: If a filter cannot be read, or a progression or tune is none of those there are.
    """
    known = catalogue(opened.library)
    if known.faults:
        st.html("".join(fault_html(fault, path=OWN_FILE) for fault in known.faults))
    if left := st.session_state.pop(_LEFT, None):
        st.html(notice_html(*left))
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        st.segmented_control("Show", PARTS, key="part", label_visibility="collapsed")
        if st.session_state["part"] != _ONE_TUNE:
            with st.popover(filters_label("Filters")):
                filter_widgets(opened)
    if st.session_state["part"] == _ONE_TUNE:
        _one_tune(opened, known)
        return
    filters = filter_form().filters()
    if st.session_state["part"] == _UNNAMED:
        _unnamed(opened, known, filters)
    else:
        _catalogue(opened, known, filters)


def _key(opened: OpenLibrary, known: Catalogue, *more: object) -> str:
    """What an answer is kept under: the library, its index, its own progressions, and what else is asked."""
    return repr((str(opened.library.root), opened.stamp, [entry for entry in known.entries if entry.own], more))


def _catalogue(opened: OpenLibrary, known: Catalogue, filters: Filters) -> None:
    state = st.session_state
    names = [entry.name for entry in known.entries]
    if state["named"] and (entry := known.named(state["named"])):
        state["named"] = entry.name
    options = list(dict.fromkeys([ANY, *sorted(names, key=str.casefold), state["named"]]))
    st.selectbox(
        "Progression",
        options,
        key="named",
        format_func=lambda name: name or f"all {len(names)}, the most used first",
        on_change=go,
        kwargs={"limit": FIRST_LIMIT},
    )
    if not state["named"]:
        ordered = most_used(_uses(opened, _key(opened, known, filters), known, filters))
        if not any(use.charts for use in ordered):
            said = ["No tune has any of them.", *nothing_fits(opened.index, filters)]
            st.html(notice_html(" ".join(said)))
        _table(ordered)
        return
    entry = known.named(state["named"])
    if entry is None:
        nearest = ", ".join(known.nearest(state["named"])) or "none"
        st.html(
            notice_html(f"There is no progression “{state['named']}” in the catalogue; nearest: {nearest}", "fault")
        )
        return
    _one(opened, known, entry, filters)


@st.cache_resource(show_spinner="Counting", max_entries=16)
def _uses(_opened: OpenLibrary, key: str, _known: Catalogue, _filters: Filters) -> list[Use]:
    return uses(_opened.index, _known.entries, _filters)


def _table(ordered: Sequence[Use]) -> None:
    import pandas as pd

    rows = [
        {
            "tunes": use.charts,
            "times": use.matches,
            "progression": use.entry.name,
            "chords": use.entry.written,
            "keys": keys_text(use),
            "at home in": ", ".join(use.entry.styles),
        }
        for use in ordered
    ]
    small = {name: st.column_config.NumberColumn(name, width="small") for name in ("tunes", "times")}
    st.dataframe(pd.DataFrame(rows), hide_index=True, column_config=small, height=600)
    st.caption("Choose one above to see its tunes.")


def _one(opened: OpenLibrary, known: Catalogue, entry: Progression, filters: Filters) -> None:
    """One progression: what it is, and its tunes."""
    heading, *lines = entry_text(entry, known).splitlines()
    st.html(element("h4", heading, "sc-section") + "".join(element("p", line) for line in lines))
    limit = st.session_state["limit"]
    answer = answer_named(opened.index, entry, question_of(entry, filters, limit))
    st.html(element("p", answer.said, "sc-answer"))
    if not answer.charts:
        st.html(notice_html("No tune has it."))
        return
    st.caption(f"{several(answer.charts, 'tune')}, {several(answer.matches, 'time')} as played.")
    _tunes(entry, answer)
    if len({hit.path for hit in answer.hits}) < answer.charts:
        st.button(f"Show {FIRST_LIMIT} more", on_click=go, kwargs={"limit": limit + FIRST_LIMIT})


def _tunes(entry: Progression, answer: Answer) -> None:
    rows = [
        {
            "tune": hit.title,
            "key": str(hit.key),
            "where": "; ".join(map(place_words, hit.places)),
            "path": hit.path,
        }
        for hit in answer.hits
    ]
    row = _picked(rows, f"tunes of {entry.name}")
    if row is not None:
        places = answer.hits[row].places
        bars = [bar for each in places for bar in range(each.from_bar, max(each.from_bar, each.to_bar) + 1)]
        _opening(answer.hits[row].path, bars, entry.name)


def _picked(rows: Sequence[dict[str, Any]], key: str) -> int | None:
    """Shows rows as a table; the number of the one that is ticked."""
    import pandas as pd

    chosen = st.dataframe(pd.DataFrame(rows), hide_index=True, key=key, on_select="rerun", selection_mode="single-row")
    marks = chosen["selection"]["rows"]
    return marks[0] if marks and marks[0] < len(rows) else None


def _opening(path: str, bars: Sequence[int], name: str) -> None:
    marked = (path, tuple(sorted(set(bars))), name)
    target = {"view": "Tune", "tune": path, "to": ANY, "marked": marked}
    st.button("Open the chosen tune, its bars marked", on_click=go, kwargs=target)


def _one_tune(opened: OpenLibrary, known: Catalogue) -> None:
    """The named progressions of one tune."""
    state = st.session_state
    titles = dict(choices(opened).charts)
    if state["tune"]:
        state["tune"] = chart_meant(opened, state["tune"])
    st.selectbox("Tune", [ANY, *titles], key="tune", format_func=lambda path: titles.get(path, "choose a tune"))
    path = state["tune"]
    if not path:
        st.html(notice_html("Choose a tune: click the box and type a part of its title."))
        return
    places = _found(opened, _key(opened, known, path), known, path)
    if not places:
        st.html(notice_html("No progression of the catalogue stands in it."))
        return
    rows = [
        {
            "where": place_words(each.place),
            "progression": each.entry.name,
            "chords": " ".join(_written(each.place.numbers)),
            "within": ", ".join(each.within),
        }
        for each in places
    ]
    row = _picked(rows, f"progressions of {path}")
    if row is not None:
        place = places[row].place
        _opening(path, range(place.from_bar, max(place.from_bar, place.to_bar) + 1), places[row].entry.name)
    else:
        st.caption("Tick a row to see its bars in the tune.")


def _written(numbers: Sequence[str]) -> Sequence[str]:
    """Numbers, or the Roman numerals for them where those are chosen."""
    roman = st.session_state["writing"] == "roman"
    return [read_numeral(number).roman for number in numbers] if roman else numbers


@st.cache_resource(show_spinner="Looking through the tune", max_entries=64)
def _found(_opened: OpenLibrary, key: str, _known: Catalogue, path: str) -> list[NamedPlace]:
    return found_in(_opened.index, _known, path)


def _unnamed(opened: OpenLibrary, known: Catalogue, filters: Filters) -> None:
    """What stands out and has no name, with the box that names it."""
    discovery = _discovered(opened, _key(opened, known, filters), known, filters)
    found = discovery.found[:_MOST_UNNAMED]
    if discovery.note:
        st.html(notice_html(discovery.note))
    if not found:
        st.html(notice_html("No sequence stands out that the catalogue does not name."))
        return
    st.caption("Sequences that more tunes have than chance would give them, the most surprising first (in bits).")
    rows = [
        {
            "chords": f"{each.pattern}{' (loop)' if each.loop else ''}",
            "tunes": each.charts,
            "times": each.matches,
            "surprise": round(each.surprise, 1),
            "in": ", ".join(each.titles[:3]) + (", …" if len(each.titles) > 3 else ""),
        }
        for each in found
    ]
    row = _picked(rows, "discovered")
    if row is None:
        st.caption("Tick a row to give it a name.")
        return
    _name_it(opened, found[row])


def _name_it(opened: OpenLibrary, each: Discovered) -> None:
    if reason := refusal(opened.library):
        st.html(notice_html(reason))
        return
    with st.form("naming", border=False), st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        st.text_input(f"A name for {each.pattern}", placeholder="night bus loop", key=_NAME)
        st.form_submit_button("Name it", on_click=_write, args=(opened, each))


def _write(opened: OpenLibrary, each: Discovered) -> None:
    """Writes the name that was typed; what came of it is shown by the run that follows."""
    try:
        entry = name_progression(opened.library, st.session_state[_NAME], each.pattern, each.loop)
    except SamechangesError as error:
        st.session_state[_LEFT] = (str(error), "fault")
        return
    said = f"“{entry.name}” ({entry.written}) stands in {OWN_FILE} now, and is found by its name."
    st.session_state[_LEFT] = (said, "note")
    go(named=entry.name, part=_CATALOGUE)


@st.cache_resource(show_spinner="Listening for repeats", max_entries=8)
def _discovered(_opened: OpenLibrary, key: str, _known: Catalogue, _filters: Filters) -> Discovery:
    return discover(_opened.index, _known, _filters)

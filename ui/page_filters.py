"""The filters of the page: which tunes are asked, alike in every view that asks some."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import streamlit as st

from grammar.keys import read_key, read_metre
from search.filters import Filters
from shared.errors import ReadingError
from ui.page_charts import OpenLibrary, choices, several
from ui.page_state import ANY, FILTERS, FIRST_LIMIT, clear_filters

T = TypeVar("T")


def read_short(text: str, reader: Callable[[str], T]) -> T:
    """What a reader makes of a short text; its faults are given that text to be drawn with.

    Raises:
        ReadingError: If it cannot be read.
    """
    try:
        return reader(text)
    except ReadingError as error:
        raise ReadingError(replace(fault, line=1, text=text) for fault in error.faults) from None


@dataclass(frozen=True, slots=True)
class FilterForm:
    """What stands in the widgets of the filters, as plain values (answers are kept under it)."""

    key: str
    mode: str
    section: str
    style: str
    tags: tuple[str, ...]
    level: str
    metre: str
    tempo: str
    header: str
    value: str

    def filters(self) -> Filters:
        """The filters.

        Raises:
            ReadingError: If a key or metre cannot be read.
        """
        if self.key:
            read_short(self.key, read_key)
        if self.metre:
            read_short(self.metre, read_metre)
        return Filters(
            key=self.key or None,
            mode=self.mode or None,
            section=self.section.strip() or None,
            style=self.style or None,
            tags=self.tags,
            level=self.level.strip() or None,
            tempo=self.tempo.strip() or None,
            metre=self.metre or None,
            where=((self.header, self.value),) if self.header and self.value.strip() else (),
        )


def filter_form() -> FilterForm:
    """What stands in the widgets of the filters now."""
    values = {name: st.session_state[name] for name in (*FILTERS, "header")}
    return FilterForm(**{**values, "tags": tuple(values["tags"])})


def filters_on() -> int:
    """How many filters are set."""
    return sum(bool(st.session_state[name]) for name in FILTERS)


def filters_label(otherwise: str) -> str:
    """What the button to the filters is called."""
    on = filters_on()
    return several(on, "filter") if on else otherwise


def filter_widgets(opened: OpenLibrary) -> None:
    """The widgets of the filters."""
    there = choices(opened)
    state = st.session_state
    columns = st.columns(3)
    choose(columns[0], "Key", "key", there.keys)
    choose(columns[1], "Mode", "mode", there.modes)
    choose(columns[2], "Style", "style", there.styles)
    choose(columns[0], "Metre", "metre", there.metres)
    columns[1].text_input("Level", key="level", placeholder="2 or 1-3", on_change=from_the_start)
    columns[2].text_input("Tempo", key="tempo", placeholder="90-120", on_change=from_the_start)
    tags = list(dict.fromkeys([*there.tags, *state["tags"]]))
    st.multiselect("Tags, all of them", tags, key="tags", placeholder="any", on_change=from_the_start)
    columns = st.columns(3)
    columns[0].text_input("Section", key="section", placeholder="chorus", on_change=from_the_start)
    choose(columns[1], "Another header", "header", there.headers)
    columns[2].text_input(
        "holds", key="value", placeholder="words of it", disabled=not state["header"], on_change=from_the_start
    )
    st.button("Clear the filters", on_click=clear_filters, disabled=not (filters_on() or state["header"]))


def choose(place: st.delta_generator.DeltaGenerator, label: str, name: str, there: Sequence[str]) -> None:
    """A choice among what the library holds; what an address asks for besides is kept, so that it can be answered."""
    chosen = st.session_state[name]
    options = list(dict.fromkeys([ANY, *there, chosen]))
    place.selectbox(label, options, key=name, format_func=lambda value: value or "any", on_change=from_the_start)


def from_the_start() -> None:
    """Shows the first results again: a callback for whatever changes the question."""
    st.session_state["limit"] = FIRST_LIMIT

"""The survey view: what is counted, of which tunes, as a plot and a table."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import streamlit as st

from search.survey import (
    LONGEST,
    SHORTEST,
    STRENGTHS,
    Surveyed,
    SurveyQuestion,
    answer_survey,
    group_values,
    survey_question,
)
from search.survey_counts import What
from search.survey_groups import GROUPINGS, REST
from search.survey_tables import ITEM_COLUMNS
from shared.pattern import Strength
from ui.chart_html import element, notice_html
from ui.page_charts import OpenLibrary, choices, several
from ui.page_filters import FilterForm, filter_form, filter_widgets, filters_label, from_the_start
from ui.page_state import ANY, FIRST_LIMIT, go
from ui.survey_plots import INK, LIGHT_INK, plot
from ui.survey_text import chance, clear, explained, head_of, in_roman, item_text, nothing, shown_rows, span, survey_csv

#: What can be surveyed, each with what it is called.
SURVEYS = {
    What.ROOTS: "Chords by root",
    What.FAMILIES: "Chords by family",
    What.SEQUENCES: "Chords in a row",
    What.TRANSITIONS: "From chord to chord",
    What.BEFORE: "What comes before a chord",
    What.AFTER: "What comes after a chord",
    What.CADENCES: "How sections end",
    What.KEYS: "Keys",
    What.MODES: "Modes",
    What.LENGTHS: "Lengths in bars",
    What.METRES: "Metres",
}
_DETAILS = {Strength.LOOSE: "Roots", Strength.FAMILY: "Families", Strength.EXACT: "Very chords"}
#: Headers that nobody would group by.
_SINGULAR = ("title", "source", "form", "tags")


@dataclass(frozen=True, slots=True)
class _Form:
    """What stands in the form, as plain values (it is also what answers are kept under)."""

    what: str
    length: int
    detail: str
    chord: str
    by: str
    first: str
    second: str
    filters: FilterForm

    def question(self) -> SurveyQuestion:
        """The question.

        Raises:
            SamechangesError: If the chord or a filter cannot be read.
        """
        what = What(self.what)
        near = what in (What.BEFORE, What.AFTER)
        return survey_question(
            self.what,
            length=self.length if what is What.SEQUENCES else None,
            # The usual detail leaves a chord with a quality to be counted by families.
            strength=self.detail if what in STRENGTHS and not (near and self.detail == Strength.LOOSE.value) else None,
            chord=self.chord.strip() or None if near else None,
            by=self.by or None,
            against=(self.first, self.second or REST) if self.by and self.first else None,
            filters=self.filters.filters(),
        )


def survey_view(opened: OpenLibrary) -> None:
    """The view.

    Raises:
        SamechangesError: If what is asked cannot be read; what was typed stays.
    """
    _options(opened)
    form = _form()
    made = _answer(opened, form)
    st.html(element("p", f"{made.question.sentence}.", "sc-answer"))
    if not len(made.table):
        st.html(notice_html(nothing(made)))
        return
    st.html(f'<p class="sc-facts">{element("span", _tunes(made))}</p>')
    made = in_roman(made) if st.session_state["writing"] == "roman" else made
    limit = st.session_state["limit"]
    dark = st.context.theme.type == "dark"
    st.altair_chart(plot(made, limit, LIGHT_INK if dark else INK), width="content", theme=None)
    _table(made, limit)
    for each in (explained(made, table=True), *made.notes):
        st.caption(each)


def _tunes(made: Surveyed) -> str:
    groups = [f"{name}: {several(charts, 'tune')}" for name, charts in made.groups.items() if name]
    return "; ".join([f"{several(made.charts, 'tune')} asked", *groups])


def _options(opened: OpenLibrary) -> None:
    state = st.session_state
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        st.selectbox(
            "Survey of",
            [each.value for each in SURVEYS],
            key="what",
            format_func=lambda value: SURVEYS[What(value)],
            on_change=from_the_start,
            width=260,
        )
        what = What(state["what"])
        if what is What.SEQUENCES:
            state["length"] = min(max(state["length"], SHORTEST), LONGEST)
            st.number_input("Chords", SHORTEST, LONGEST, key="length", on_change=from_the_start, width=130)
        if what in (What.BEFORE, What.AFTER):
            st.text_input("Chord", key="chord", placeholder="1, 57, 2m", on_change=from_the_start, width=130)
        if what in STRENGTHS:
            st.segmented_control(
                "What counts as one chord",
                [each.value for each in _DETAILS],
                key="detail",
                format_func=lambda value: _DETAILS[Strength(value)],
                on_change=from_the_start,
            )
        _groups(opened)
        with st.popover(filters_label("Filters")):
            filter_widgets(opened)


def _groups(opened: OpenLibrary) -> None:
    state = st.session_state
    headers = [name for name in choices(opened).headers if name not in (*GROUPINGS, *_SINGULAR)]
    by = list(dict.fromkeys([ANY, *GROUPINGS, *headers, state["by"]]))
    st.selectbox(
        "Grouped by", by, key="by", format_func=lambda name: name or "nothing", on_change=_no_groups, width=170
    )
    if not state["by"]:
        return
    values = _values(opened, state["by"])
    for name, label, otherwise in (("first", "Compare", "nothing"), ("second", "with", "the rest")):
        offered = list(dict.fromkeys([ANY, *values, state[name]]))
        st.selectbox(
            label,
            offered,
            key=name,
            format_func=partial(_or, otherwise),
            disabled=name == "second" and not state["first"],
            on_change=from_the_start,
            width=170,
        )


def _or(otherwise: str, value: str) -> str:
    return value or otherwise


def _no_groups() -> None:
    go(first=ANY, second=ANY, limit=FIRST_LIMIT)


def _values(opened: OpenLibrary, by: str) -> list[str]:
    return _kept_values(opened, str(opened.library.root), opened.stamp, by)


@st.cache_resource(show_spinner=False, max_entries=64)
def _kept_values(_opened: OpenLibrary, root: str, stamp: tuple[int, int, int], by: str) -> list[str]:
    return group_values(_opened.index, by)


def _form() -> _Form:
    state = st.session_state
    names = ("what", "length", "detail", "chord", "by", "first", "second")
    return _Form(filters=filter_form(), **{name: state[name] for name in names})


def _answer(opened: OpenLibrary, form: _Form) -> Surveyed:
    return _kept_answer(opened, str(opened.library.root), opened.stamp, form)


@st.cache_resource(show_spinner="Counting", max_entries=32)
def _kept_answer(_opened: OpenLibrary, root: str, stamp: tuple[int, int, int], form: _Form) -> Surveyed:
    return answer_survey(_opened.index, form.question())


def _table(made: Surveyed, limit: int) -> None:
    import pandas as pd

    shown = shown_rows(made, limit)
    rows = [_compared(made, row) if made.question.against else _counted(made, row) for row in shown.to_dict("records")]
    table = pd.DataFrame(rows)
    percents = [name for name in table.columns if name.endswith("%") and not name.startswith("95")]
    small = {name: st.column_config.NumberColumn(name, format="%.1f") for name in percents}
    small |= {name: st.column_config.NumberColumn(name, format="%.2f") for name in ("G²", "z") if name in table}
    st.dataframe(table, hide_index=True, column_config=small, height="content" if len(table) <= FIRST_LIMIT else "auto")
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        if len(shown) < len(made.table):
            rest = f"Show {FIRST_LIMIT} more"
            st.button(rest, on_click=go, kwargs={"limit": limit + FIRST_LIMIT})
        st.download_button(
            "Whole table as CSV", lambda: survey_csv(made, 0), f"{made.question.what.value}.csv", "text/csv"
        )


def _counted(made: Surveyed, row: dict[Any, Any]) -> dict[str, Any]:
    """A row of counts as the page shows it."""
    what = made.question.what
    cells = {made.question.by or "": row["group"]} if "group" in row else {}
    cells |= {head_of(name): _shown(row[name]) for name in ITEM_COLUMNS[what]}
    if not what.of_tunes:
        cells |= {"times": row["times"], "share %": 100 * row["share"]}
        cells["95% of share"] = span(row["share_low"], row["share_high"])
    cells |= {"tunes": row["charts"], "of tunes %": 100 * row["share" if what.of_tunes else "of_tunes"]}
    return cells | {"95% of tunes": span(row["low"], row["high"])}


def _compared(made: Surveyed, row: dict[Any, Any]) -> dict[str, Any]:
    """A row of a comparison as the page shows it."""
    cells = {head_of(name): _shown(row[name]) for name in ITEM_COLUMNS[made.question.what]}
    for side, name in enumerate(made.groups, 1):
        cells[f"{name} %"] = 100 * row[f"share_{side}"]
    cells |= {"difference %": 100 * row["difference"]}
    cells["95% of difference"] = span(row["difference_low"], row["difference_high"], signed=True)
    cells |= {"clear": "yes" if clear(row) else "", "G²": row["g2"], "q": chance(row["q"]), "z": row["z"]}
    return cells


def _shown(value: Any) -> Any:
    """An item: a sequence as one word, a number of bars as a number."""
    return value if isinstance(value, int) else item_text(value)

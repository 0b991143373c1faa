"""The frame of the page: its head, the views, and what is said where the library cannot be opened."""

from __future__ import annotations

import streamlit as st

from shared.errors import ReadingError, SamechangesError
from ui.chart_html import element, fault_html, notice_html
from ui.page_charts import OpenLibrary, choices, faulty_charts, open_library, several
from ui.page_library import library_view
from ui.page_paste import paste_view
from ui.page_progressions import progressions_view
from ui.page_search import search_view
from ui.page_state import VIEWS, WRITINGS, begin, finish
from ui.page_style import STYLE
from ui.page_survey import survey_view
from ui.page_tune import tune_view

_VIEWS = dict(
    zip(VIEWS, (search_view, tune_view, progressions_view, survey_view, paste_view, library_view), strict=True)
)


def page() -> None:
    """One run of the page."""
    st.set_page_config(page_title="samechanges", layout="wide")
    st.html(STYLE)
    begin()
    head = st.container()
    notes = st.container()
    try:
        opened = open_library(lambda text: notes.html(notice_html(text)))
        with head:
            _head(opened)
        _VIEWS[st.session_state["view"]](opened)
    except ReadingError as error:
        st.html("".join(map(fault_html, error.faults)))
    except SamechangesError as error:
        st.html(notice_html(str(error), "fault"))
    finish()


def _head(opened: OpenLibrary) -> None:
    charts = len(choices(opened).charts)
    faulty = faulty_charts(opened)
    faults = f" · {several(faulty, 'chart')} with faults" if faulty else ""
    library = element("span", f"{opened.name} · {several(charts, 'tune')}{faults}")
    st.html(f'<div class="sc-top"><h1>samechanges</h1>{library}</div>')
    with st.container(horizontal=True, vertical_alignment="bottom", horizontal_alignment="distribute"):
        st.segmented_control("View", VIEWS, key="view", label_visibility="collapsed")
        st.segmented_control(
            "Degrees", WRITINGS, key="writing", format_func=_WRITING_NAMES.__getitem__, label_visibility="collapsed"
        )


_WRITING_NAMES = dict(zip(WRITINGS, ("Numbers 2m7", "Roman ii7"), strict=True))

"""The part of the tune view that shows tunes like the one shown, the shared passages side by side."""

from __future__ import annotations

import streamlit as st

from search.alike import Alike, Likes, Shared, like
from ui.chart_html import element, notice_html
from ui.like_verb import passage_words, sides
from ui.page_charts import OpenLibrary, Stamp
from ui.page_state import go

_SHOWN = 8
_CELLS_A_ROW = 8
_ROWS = 4


@st.cache_data(show_spinner=False, max_entries=32)
def _alike(_opened: OpenLibrary, stamp: Stamp, path: str) -> Likes:
    """The tunes alike, kept for as long as the index is the same."""
    return like(_opened.index, path, limit=_SHOWN)


def alike_part(opened: OpenLibrary, path: str) -> None:
    """The tunes like one, behind a switch: nothing is worked out until it is asked for.

    Args:
        opened: The library.
        path: The chart's path.
    """
    if not st.toggle("Tunes like this", key=f"alike {path}"):
        return
    found = _alike(opened, opened.stamp, path)
    if not found.results:
        st.html(notice_html("No tune shares a passage of four bars or chords with it."))
    style = {"roman": "roman"}.get(st.session_state["writing"], "numbers")
    for each in found.results:
        with st.container(horizontal=True, vertical_alignment="center", gap="small"):
            said = f"in {each.key}, {each.score:.0%} shared"
            st.html(f'<p class="sc-answer">{element("b", each.title)} {element("span", said)}</p>', width="content")
            st.button("Show", key=f"alike {path} {each.path}", on_click=go, kwargs={"tune": each.path, "marked": None})
        st.html(passages_html(each, style))


def passages_html(each: Alike, style: str) -> str:
    """The passages of one tune as tables, this tune above the other.

    Args:
        each: The tune.
        style: ``numbers``, ``roman`` or ``chords``.
    """
    parts = []
    for shared in each.shared:
        parts.append(element("p", passage_words(shared), "sc-facts"))
        parts.append(_table(shared, style))
    return "".join(parts)


def _table(shared: Shared, style: str) -> str:
    cells = sides(shared, style)
    rows = []
    for start in range(0, min(len(cells), _CELLS_A_ROW * _ROWS), _CELLS_A_ROW):
        here, there = zip(*cells[start : start + _CELLS_A_ROW], strict=True)
        for name, row in (("here", here), ("there", there)):
            rows.append(element("th", name) + "".join(element("td", cell) for cell in row))
    more = len(cells) - _CELLS_A_ROW * _ROWS
    told = element("p", f"… and {more} more", "sc-facts") if more > 0 else ""
    return f'<table class="sc-alike">{"".join(f"<tr>{row}</tr>" for row in rows)}</table>{told}'

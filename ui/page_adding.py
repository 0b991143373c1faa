"""The place of the library view where files in other notations are dropped to be added."""

from __future__ import annotations

import streamlit as st

from corpus.adding import Added, Source, add, chosen_notation
from corpus.notations import NOTATIONS
from corpus.saving import SavingError, refusal
from ui.chart_html import fault_html, notice_html
from ui.page_charts import OpenLibrary, read_changes, several

_LEFT, _ROUND = "what adding did", "round of dropped files"
_FOUND_OUT = "found out from the content"
_MOST_FAULTS = 50


def adding_view(opened: OpenLibrary) -> None:
    """The box for dropped files, and what became of the last ones."""
    with st.expander("Add tunes in other notations"):
        if reason := refusal(opened.library):
            st.html(notice_html(reason))
            return
        st.caption(
            "Each tune becomes a plain chart file of the library. " + "; ".join(each.title for each in NOTATIONS)
        )
        turn = st.session_state.setdefault(_ROUND, 0)
        dropped = st.file_uploader("Files", accept_multiple_files=True, key=f"dropped {turn}")
        titles = {each.name: each.title for each in NOTATIONS}
        notation = st.selectbox(
            "Notation", [_FOUND_OUT, *titles], format_func=lambda name: titles.get(name, name), key="notation"
        )
        replace = st.checkbox("Write over charts of the same tune or name", key="replace added")
        if st.button("Add", disabled=not dropped):
            chosen = None if notation == _FOUND_OUT else chosen_notation(notation)
            sources = [Source(each.name, each.getvalue) for each in dropped]
            try:
                st.session_state[_LEFT] = add(opened.library, sources, chosen, replace)
            except SavingError as error:
                st.html(notice_html(str(error), "fault"))
                return
            read_changes(opened.library)
            st.session_state[_ROUND] += 1
            # Everything on the page is asked of the new index, its head too.
            st.rerun()
    if done := st.session_state.get(_LEFT):
        _told(done)
        st.session_state[_LEFT] = None


def _told(done: Added) -> None:
    counts = ((done.added, "added"), (done.replaced, "written over"), (done.skipped, "there already, just so"))
    said = ", ".join(f"{several(count, 'tune')} {what}" for count, what in counts if count)
    st.html(notice_html(f"{said or 'No tune was added'}."))
    told = [(placed, "fault") for placed in done.faults] + [(placed, "remark") for placed in done.remarks]
    st.html("".join(fault_html(placed.fault, kind, placed.path) for placed, kind in told[:_MOST_FAULTS]))
    if len(told) > _MOST_FAULTS:
        st.caption(f"The first {_MOST_FAULTS} of {len(told):,}; “samechanges add” tells them all.")

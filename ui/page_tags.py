"""The tags of a tune, shown and edited: what is saved is the ``tags:`` line of its chart file."""

from __future__ import annotations

import streamlit as st

from corpus.saving import refusal
from corpus.tagging import checked_tag, tag_charts, untag_charts
from shared.chart import Chart
from shared.errors import Fault, SamechangesError
from ui.chart_html import fault_html, notice_html
from ui.page_charts import OpenLibrary, choices, read_changes


def tags_of(chart: Chart) -> list[str]:
    """The tags of a chart, in the order written."""
    return [tag.strip() for tag in (chart.header("tags") or "").split(",") if tag.strip()]


def tags_editor(opened: OpenLibrary, path: str, chart: Chart) -> None:
    """The box with the tags of a tune, and the button that writes them into its file."""
    has = tags_of(chart)
    reason = refusal(opened.library)
    offered = list(dict.fromkeys([*has, *choices(opened).tags]))
    # A box of its own for every tune and every state of its tags: what was picked but not saved goes with the tune.
    chosen = st.multiselect(
        "Tags",
        offered,
        default=has,
        key=f"tags of {path}: {', '.join(has)}",
        accept_new_options=True,
        placeholder="none",
        disabled=bool(reason),
        help=reason or "Pick tags of the library, or type a new one. Only the tags: line of the chart file changes.",
    )
    added = [tag for tag in chosen if tag not in has]
    removed = [tag for tag in has if tag not in chosen]
    if not (added or removed) or not st.button("Save the tags"):
        return
    try:
        added = [checked_tag(tag) for tag in added]
        faults = untag_charts(opened.library, {path: removed}).faults if removed else ()
        faults += tag_charts(opened.library, {path: added}).faults if added else ()
    except SamechangesError as error:
        st.html(notice_html(str(error), "fault"))
        return
    if faults:
        st.html("".join(fault_html(Fault(fault.message), path=where) for where, fault in faults))
        return
    read_changes(opened.library)
    # Everything on the page is asked of the new index, its filters too.
    st.rerun()

"""The library view: what is in it, what is wrong with it, and a button to read what changed."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from shared.errors import Fault
from ui.chart_html import element, fault_html, notice_html
from ui.page_adding import adding_view
from ui.page_charts import OpenLibrary, placed_faults, read_changes, said, several
from ui.page_state import ANY, go

#: Rows, and faults or remarks, sent to the browser at once.
_MOST_ROWS = 1000
_MOST_FAULTS = 100
_COLUMNS = ("title", "key", "style", "level", "metre", "bars", "tags", "path")


def library_view(opened: OpenLibrary) -> None:
    """The view.

    Raises:
        SamechangesError: If the folder cannot be read any more.
    """
    if st.button("Read what changed"):
        report = read_changes(opened.library)
        go(note=("", f"{said(report)} {report.seconds:.1f} seconds."))
        # Everything on the page is asked of the new index, its head too.
        st.rerun()
    if note := st.session_state["note"]:
        st.html(notice_html(note[1]))
        go(note=None)
    adding_view(opened)
    _faults(opened)
    _table(opened)
    _remarks(opened)


def _faults(opened: OpenLibrary) -> None:
    faults = placed_faults(opened, "fault")
    if not faults:
        return
    files = len({path for path, _ in faults})
    st.html(element("h4", f"{several(files, 'chart')} with faults, not searched until mended", "sc-section"))
    _list(faults, "fault")


def _list(faults: Sequence[tuple[str, Fault]], kind: str) -> None:
    st.html("".join(fault_html(fault, kind, path) for path, fault in faults[:_MOST_FAULTS]))
    if len(faults) > _MOST_FAULTS:
        st.caption(f"The first {_MOST_FAULTS} of {len(faults):,}; “samechanges index” tells them all.")


def _remarks(opened: OpenLibrary) -> None:
    remarks = placed_faults(opened, "remark")
    if not remarks:
        return
    files = len({path for path, _ in remarks})
    with st.expander(f"{several(len(remarks), 'remark')} on {several(files, 'chart')} (they stop nothing)"):
        _list(remarks, "remark")


def _table(opened: OpenLibrary) -> None:
    words = st.text_input("Words of a title, style or tag", key="listed").casefold().split()
    text = "lower(concat_ws(' ', title, style, array_to_string(tags, ' '), path))"
    where = " AND ".join(f"contains({text}, ?)" for _ in words) or "true"
    rows = opened.index.rows(
        "SELECT title, key || CASE WHEN key_found THEN ' (found)' ELSE '' END, coalesce(style, ''), "
        "coalesce(printf('%g', level), ''), metre, bars, "
        f"array_to_string(tags, ', '), path FROM charts WHERE {where} "
        f"ORDER BY lower(title), path LIMIT {_MOST_ROWS + 1}",
        list(words),
    )
    import pandas as pd

    table = pd.DataFrame(rows[:_MOST_ROWS], columns=list(_COLUMNS))
    if len(rows) > _MOST_ROWS:
        st.caption(f"The first {_MOST_ROWS:,}; give words to narrow the list.")
    if not rows:
        st.html(notice_html("No tune of the library has these words." if words else "The library has no tunes yet."))
        return
    chosen = st.dataframe(
        table,
        hide_index=True,
        key="table",
        on_select="rerun",
        selection_mode="single-row",
        column_config={
            "title": st.column_config.TextColumn("title", width="large"),
            "level": st.column_config.TextColumn("level", width="small"),
            "bars": st.column_config.NumberColumn("bars", width="small"),
            "key": st.column_config.TextColumn("key", width="small"),
            "metre": st.column_config.TextColumn("metre", width="small"),
        },
    )
    marks = chosen["selection"]["rows"]
    if marks and marks[0] < len(table):
        path = str(table["path"].iloc[marks[0]])
        target = {"view": "Tune", "tune": path, "to": ANY, "marked": None, "rival": ANY}
        with st.container(horizontal=True, gap="small"):
            st.button("Open the chosen tune", on_click=go, kwargs=target)
            ((rival,),) = opened.index.rows("SELECT key_rival FROM charts WHERE path = ?", [path])
            if rival:
                st.button(f"Open it in {rival}, the next likeliest key", on_click=go, kwargs=target | {"rival": path})
    else:
        st.caption("Tick a row to open its tune.")

"""The paste view: a chart is pasted and read, its faults marked in place, and saved into the library on a click."""

from __future__ import annotations

import streamlit as st

from corpus.chart_files import read_bytes
from corpus.saving import AlreadyThere, checked_name, refusal, save_chart, suggested_name
from corpus.tunes import played
from shared.chart import Reading
from shared.errors import SamechangesError
from ui.chart_html import element, listing_html, notice_html
from ui.page_charts import OpenLibrary, choices, read_changes, said, several
from ui.page_state import ANY, go
from ui.page_tune import sheet

_EXAMPLE = """title: Saltmarsh Waltz
key: Eb
time: 3/4

[A]
|: Ebmaj7 | Cm7 | Fm7 | Bb7 :|
[B]
| Abmaj7 | Abm6 | Gm7 . C7b9 | Fm7 Bb7 |"""
_TITLE = "title:"


def paste_view(opened: OpenLibrary) -> None:
    """The view."""
    state = st.session_state
    text = st.text_area(
        "Chart", key="pasted", height=320, placeholder=_EXAMPLE, on_change=go, kwargs={"replace": False}
    )
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.button("Read it")
        st.button("Put an example there", on_click=go, kwargs={"pasted": _EXAMPLE}, disabled=bool(text.strip()))
        st.caption("It is read when you leave the box, or press Ctrl+Enter.")
    if not text.strip():
        return
    # A browser's box may hand over line ends of its own.
    text = text.replace("\r\n", "\n")
    reading = read_bytes(text.encode())
    _found(text, reading)
    with st.container(border=True):
        if state["note"]:
            _saved(opened)
        else:
            _save(opened, text, reading)
    if reading.chart is not None:
        with st.container(border=True):
            sheet(played(reading.chart), state["name"] or suggested_name(""))


def _found(text: str, reading: Reading) -> None:
    """What is wrong with the text, marked in place."""
    if reading.faults:
        st.html(element("p", f"{several(len(reading.faults), 'fault')}:", "sc-answer"))
    elif reading.remarks:
        st.html(element("p", f"It can be read, with {several(len(reading.remarks), 'remark')}:", "sc-answer"))
    else:
        st.html(element("p", "It can be read.", "sc-answer"))
        return
    st.html(listing_html(text, reading.faults, reading.remarks))


def _save(opened: OpenLibrary, text: str, reading: Reading) -> None:
    """The name and the button that saves."""
    state = st.session_state
    if reason := refusal(opened.library):
        st.html(notice_html(reason))
        return
    proposed = suggested_name(_title(text, reading))
    st.text_input("File name in the library", key="name", placeholder=proposed, on_change=go, kwargs={"replace": False})
    name = state["name"].strip() or proposed
    there = _is_there(opened, name)
    if there:
        st.checkbox("There is a chart of that name already: write over it", key="replace")
    label = "Save into the library" if reading.chart is not None else "Save it with its faults"
    if reading.chart is None:
        st.caption("A chart with faults is kept and listed under Library, and is not searched until it is mended.")
    if not st.button(label, disabled=there and not state["replace"]):
        return
    try:
        path = save_chart(opened.library, name, text, bool(state["replace"]))
    except AlreadyThere as error:
        st.html(notice_html(f"{error}. Tick the box to write over it, or give another name.", "fault"))
        return
    except SamechangesError as error:
        st.html(notice_html(str(error), "fault"))
        return
    report = read_changes(opened.library)
    go(note=(path, f"Saved as {path}. The library now has {said(report)}"))
    # Everything on the page is asked of the new index, its head too.
    st.rerun()


def _saved(opened: OpenLibrary) -> None:
    """Says what has just been saved; the next run offers to save again."""
    path, text = st.session_state["note"]
    go(note=None, replace=False)
    st.html(notice_html(text))
    if any(path == known for known, _ in choices(opened).charts):
        st.button("Open it", on_click=go, kwargs={"view": "Tune", "tune": path, "to": ANY, "marked": None})


def _title(text: str, reading: Reading) -> str:
    """The title of a chart, faulty or not."""
    if reading.chart is not None:
        return reading.chart.title or ""
    lines = (line.strip() for line in text.splitlines())
    return next((line[len(_TITLE) :] for line in lines if line.casefold().startswith(_TITLE)), "")


def _is_there(opened: OpenLibrary, name: str) -> bool:
    try:
        return (opened.library.root / checked_name(name)).exists()
    except SamechangesError:
        return False

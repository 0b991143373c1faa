"""The tune view: a whole tune as written, in any key, with its degrees and the notes of its chords."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping

import streamlit as st

from corpus.tunes import PlayedChart
from grammar.keys import read_key
from shared.chart import KNOWN_HEADERS
from shared.key import Key, usual_tonic
from shared.match import Count
from shared.pitch import Pitch
from ui.chart_html import bars_html, chords_html, element, fault_html, notice_html
from ui.page_alike import alike_part
from ui.page_bars import figure, spelled, written_sheets
from ui.page_charts import OpenLibrary, chart_meant, choices, played_chart
from ui.page_rival import as_read, found_key_said, in_rival, rival_button
from ui.page_state import ANY, go
from ui.page_tags import tags_editor
from ui.showing import ShownTune, shown

#: Above this many tunes the list is narrowed by words first, so that the browser is not sent all of it.
_LISTED = 1000


def tune_view(opened: OpenLibrary) -> None:
    """The view.

    Raises:
        SamechangesError: If the tune asked for is none of the library's.
    """
    path = _chosen(opened)
    if path is None:
        return
    reading, one = played_chart(opened.library, path)
    if one is None:
        st.html(notice_html(f"{path} has been changed and cannot be read any more.", "fault"))
        st.html("".join(fault_html(fault, path=path) for fault in reading.faults))
        return
    one = as_read(one, path)
    to, count = _asked(one, path)
    marked = _marked(path)
    sheet(one, path, to, count, marked)
    tags_editor(opened, path, one.chart)
    st.button("Its named progressions", on_click=go, kwargs={"view": "Progressions", "part": "In one tune"})
    alike_part(opened, path)


def _chosen(opened: OpenLibrary) -> str | None:
    """The path of the tune that is chosen; None while there is none."""
    state = st.session_state
    charts = choices(opened).charts
    if not charts:
        st.html(notice_html(f"There are no tunes in {opened.library.root} yet: paste one, or put .txt charts there."))
        return None
    if state["tune"]:
        state["tune"] = chart_meant(opened, state["tune"])
    if len(charts) > _LISTED:
        words = st.text_input("Words of the title", key="wanted").casefold().split()
        charts = tuple(each for each in charts if all(word in each[1].casefold() for word in words))[:_LISTED]
    titles = dict(charts)
    if state["tune"]:
        titles.setdefault(state["tune"], dict(choices(opened).charts)[state["tune"]])
    times = Counter(titles.values())
    st.selectbox(
        "Tune",
        [ANY, *titles],
        key="tune",
        format_func=lambda path: _listed(path, titles, times),
        on_change=go,
        kwargs={"to": ANY, "marked": None, "rival": ANY},
    )
    if not state["tune"]:
        st.html(notice_html("Choose a tune: click the box and type a part of its title."))
        return None
    return str(state["tune"])


def _listed(path: str, titles: Mapping[str, str], times: Mapping[str, int]) -> str:
    """A tune in the list: its title, and its path where the title alone does not tell."""
    if not path:
        return "choose a tune"
    return titles[path] if times[titles[path]] == 1 else f"{titles[path]} ({path})"


def keys_to_choose(home: Key) -> list[Key]:
    """The keys that a tune can be shown in beside its own: those of at most six signs, upwards from the tonic.

    >>> [str(key) for key in keys_to_choose(Key(Pitch("A")))]
    ['Bb', 'B', 'C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'Gb', 'G', 'Ab']
    """
    keys = []
    for up in range(1, 12):
        usual = Key(usual_tonic(home.tonic.pitch_class + up, home.mode), home.mode)
        twins = {Key(Pitch.at(usual.tonic.fifths + by), home.mode) for by in (-12, 0, 12)}
        keys += sorted((key for key in twins if abs(key.signature) <= 6), key=lambda key: -key.signature)
    return keys


def _asked(one: PlayedChart, path: str) -> tuple[Key | None, Count]:
    """The key to show the tune in (None: its own) and what it is counted from."""
    state = st.session_state
    home = one.tune.key
    keys = [str(key) for key in keys_to_choose(home)]
    options = list(dict.fromkeys([ANY, *keys, state["to"]]))
    minor = any(segment.key.minor_third for segment in one.tune.segments)
    with st.container(horizontal=True, vertical_alignment="bottom", gap="medium"):
        own = f"{home}, {'the rival' if in_rival(one, path) else 'as found' if one.tune.key_found else 'as written'}"
        st.selectbox("Shown in", options, key="to", format_func=lambda value: value or own, width=170)
        rival_button(one, path)
        if minor:
            st.segmented_control(
                "Minor counted from",
                [each.value for each in Count],
                key="counted",
                format_func={"tonic": "the tonic", "relative": "the relative major"}.__getitem__,
            )
        st.checkbox("Notes under every chord", key="notes")
    to = read_key(state["to"]) if state["to"] else None
    return to, Count(state["counted"]) if minor else Count.TONIC


def _marked(path: str) -> tuple[int, ...]:
    """The bars of the search that led here; they stay marked until another tune is chosen."""
    marked = st.session_state["marked"]
    if marked is None or marked[0] != path or not marked[1]:
        return ()
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.html(f'<p class="sc-answer">Marked: {element("b", marked[2])}</p>', width="content")
        st.button("Back to the search", on_click=go, kwargs={"view": "Search"})
        st.button("Remove the marks", on_click=go, kwargs={"marked": None})
    return tuple(marked[1])


def sheet(
    one: PlayedChart, path: str, to: Key | None = None, count: Count = Count.TONIC, marked: Collection[int] = ()
) -> None:
    """A whole tune.

    Args:
        one: The chart, in the key that it is read in.
        path: Its path; the stem serves for a title where none is written.
        to: The key to show it in; None for its own.
        count: What minor keys are counted from.
        marked: Written bars to mark.
    """
    state = st.session_state
    tune = shown(one, path, to, count)
    parts = [_heading(one, path, tune, count)]
    for each in written_sheets(one, tune, state["writing"], notes=state["notes"], marked=marked):
        parts.append(element("h4", each.label, "sc-section") if each.label else "")
        parts.append(element("div", each.words, "sc-words") if each.words else "")
        parts.append(bars_html(each.boxes, each.columns) if each.boxes else "")
    parts.append(element("h4", "Chords and their notes, the bass first", "sc-section"))
    parts.append(chords_html(_chords(tune, state["writing"])))
    st.html(f'<div class="sc-sheet">{"".join(parts)}</div>')


def _heading(one: PlayedChart, path: str, tune: ShownTune, count: Count) -> str:
    chart = one.chart
    own = found_key_said(one, path)
    said = [own if tune.key == one.tune.key else f"shown in {tune.key} ({own})"]
    if count is Count.RELATIVE and tune.key.minor_third:
        said.append(f"counted from {tune.key.relative_major}")
    said.append(str(chart.metre))
    for name in ("style", "tempo", "level", "year"):
        if value := chart.header(name):
            said.append(value if name == "style" else f"{name} {value}")
    lines = [element("h2", tune.title, "sc-title")]
    if by := chart.header("by"):
        lines.append(element("p", by, "sc-facts"))
    lines.append(element("p", " · ".join(said), "sc-facts"))
    if chart.form:
        lines.append(element("p", f"Played: {', '.join(chart.form)}", "sc-facts"))
    others = [(name, value) for name, value in chart.headers if name in ("tags", "source") or name not in KNOWN_HEADERS]
    if others:
        lines.append(element("p", " · ".join(f"{name}: {value}" for name, value in others if value), "sc-facts"))
    return "".join(lines)


def _chords(tune: ShownTune, writing: str) -> list[tuple[str, str, str]]:
    """Every chord of the tune once, in order, with how it is counted and its notes."""
    found: dict[str, tuple[list[str], str]] = {}
    for bar in tune.bars:
        for chord in bar.chords:
            numbers, _ = found.setdefault(chord.name, ([], spelled(chord.chord)))
            number = figure(chord.numeral, writing)
            if number not in numbers:
                numbers.append(number)
    return [(name, ", ".join(numbers), notes) for name, (numbers, notes) in found.items()]

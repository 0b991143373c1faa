"""The search view: a progression, how nearly it must agree, which tunes are asked, the places found in context."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import streamlit as st

from corpus.catalogue import Progression
from grammar.keys import read_key
from search.asking import Asked, answer, ask
from search.ordering import SORTS
from search.progressions import answer_named, question_of
from shared.key import Key
from shared.match import Answer, Count, Hit, Reach
from shared.pattern import Strength
from shared.tune import PlayedBar
from ui.chart_html import bars_html, element, fault_html, notice_html
from ui.naming import entry_named
from ui.page_bars import Located, Sheet, context_sheets, located, place_alone
from ui.page_charts import OpenLibrary, played_chart, several
from ui.page_filters import (
    FilterForm,
    filter_form,
    filter_widgets,
    filters_label,
    filters_on,
    from_the_start,
    read_short,
)
from ui.page_rival import as_read, found_key_said, in_rival, key_said, rival_button
from ui.page_state import ANY, FIRST_LIMIT, NEAR, clear_filters, go
from ui.widening import widened

#: Progressions to click, each with what players call it (common practice).
EXAMPLES = (
    ("2m7 57 1maj7", "two-five-one"),
    ("1 5m b7 4", "minor five, flat seven, four"),
    ("6m 4 1 5", "four-chord loop from the six"),
    ("1 6m 4,2m 5", "one, six, four or two, five"),
    ("1 4m", "minor four"),
    ("/1 /7 /6 /5", "bass walking down"),
    ("1m b7 b6 57", "minor descent to the five"),
    ("| 1 | 4 | 1 | 1 | 4 | 4 | 1 | 1 | 5 | 4 | 1 | 5 |", "twelve bars"),
    ("Dm7 G7 Cmaj7", "chord names, counted for you"),
)
NOTATION = (
    ("4   b7   #4", "any chord on that degree of the major scale"),
    ("4m   57   1maj7   #4dim", "with that quality; _dim7 is that quality on any degree"),
    ("IV   iv   V7   viiø7", "Roman numerals: the case gives the third"),
    ("Dm7 G7 Cmaj7", "chord names are counted for you"),
    ("5/7   /7", "with 7 in the bass; any chord with that bass"),
    ("4,2m", "either one"),
    ("1 6m? 4", "perhaps"),
    ("1 _ 5   1 .. 5", "any one chord between; any few, none to four"),
    ("(1 4)x2   (6m 4 1 5)+", "twice over; once or more"),
    ("| 1 | 4 | 1 | 1 |", "bar by bar: each bar holds just that"),
    ("[ 4 1   5 1 ]", "where a section starts, or ends; [[ and ]] for the whole tune"),
)
_STRENGTHS = {
    Strength.LOOSE: ("Loose", "the roots alone: 2 5 1 whatever the chords are"),
    Strength.FAMILY: ("Family", "the kind of chord: 57 also finds 9ths and 13ths, 2 finds any chord on 2"),
    Strength.EXACT: ("Exact", "the very chord and bass as written"),
}
_REACHES = {
    Reach.KEY: ("In the key", "counted from the tune's own key, changes of key followed"),
    Reach.ANYWHERE: ("Anywhere", "about any centre: also a passing two-five-one in another key"),
}
_ROTATION = "For a loop, which may begin at any of its chords: 1 5 6m 4 then also finds 6m 4 1 5."
_COUNTS = {ANY: "both", Count.TONIC.value: "its own tonic", Count.RELATIVE.value: "the relative major"}
_SORTS = {
    "best": "best first",
    "title": "title",
    "level": "level",
    "tempo": "tempo",
    "most": "most places first",
}
_PLACES_OPEN = 2
_NEAR_HELP = "Also versions with so many chords swapped, put in or left out; each place says what differs."


@dataclass(frozen=True, slots=True)
class _Form:
    """What stands in the form, as plain values (it is also what answers are kept under)."""

    text: str
    strength: str
    reach: str
    rotate: bool
    near: str
    also: str
    without: str
    count: str
    sort: str
    meant: str
    limit: int
    filters: FilterForm

    def asked(self, entry: Progression | None = None) -> Asked:
        """The question.

        Args:
            entry: The progression that is asked for by its name; None where a pattern is typed.

        Raises:
            SamechangesError: If a pattern or a filter cannot be read, or has no near versions.
        """
        others = {"also": filter(None, [self.also.strip()]), "without": filter(None, [self.without.strip()])}
        return widened(self._asked(entry), {"near": int(self.near), "context": 0, "totals": False, **others})

    def _asked(self, entry: Progression | None) -> Asked:
        if entry is not None:
            more = {"rotate": self.rotate, "anywhere": self.reach == Reach.ANYWHERE.value}
            return question_of(entry, self.filters.filters(), self.limit, self.sort, **more)
        return ask(
            self.text,
            strength=Strength(self.strength),
            reach=Reach(self.reach),
            rotate=self.rotate,
            count=Count(self.count) if self.count and self.reach == Reach.KEY.value else None,
            filters=self.filters.filters(),
            limit=self.limit,
            sort=self.sort,
            key=read_short(self.meant, read_key) if self.meant else None,
        )


def search_view(opened: OpenLibrary) -> None:
    """The view.

    Raises:
        SamechangesError: If the question cannot be read or asked; what was typed stays.
    """
    _box()
    _options(opened)
    form = _form()
    if not form.text.strip():
        st.html(notice_html("Type a progression, or click one of the examples, to see which tunes use it and where."))
        return
    entry = entry_named(form.text, opened.library)
    asked = form.asked(entry)
    if asked.remarks:
        st.html("".join(fault_html(remark, "remark") for remark in asked.remarks))
    found = _answer(opened, form, entry)
    _said(found, form)
    _results(opened, asked, found)


def _box() -> None:
    st.text_input(
        "Progression",
        key="find",
        placeholder="2m7 57 1maj7",
        on_change=go,
        kwargs={"limit": FIRST_LIMIT, "meant": ANY},
    )
    st.caption(
        "Numbers count from the major scale of the key, with chords as you would write them: 1 5m b7 4. "
        "Roman numerals (ii7 V7 I) and chord names (Dm7 G7 C) will do too."
    )
    with st.container(horizontal=True, gap="small"):
        for text, name in EXAMPLES:
            label = name if text.startswith("|") else text
            values = {"find": text, "limit": FIRST_LIMIT, "meant": ANY}
            st.button(label, key=f"example {text}", help=name, on_click=go, kwargs=values)
        _notation()


def _notation() -> None:
    with st.popover("How to write it"):
        rows = "".join(f"<tr>{element('td', written)}{element('td', finds)}</tr>" for written, finds in NOTATION)
        st.html(f'<table class="sc-table">{rows}</table>')


def _options(opened: OpenLibrary) -> None:
    state = st.session_state
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        st.segmented_control(
            "How nearly it must agree",
            [each.value for each in _STRENGTHS],
            key="strength",
            format_func=lambda value: _STRENGTHS[Strength(value)][0],
            on_change=from_the_start,
        )
        st.segmented_control(
            "Where it may stand",
            [each.value for each in _REACHES],
            key="reach",
            format_func=lambda value: _REACHES[Reach(value)][0],
            on_change=from_the_start,
        )
        _filters(opened)
        st.checkbox("Any rotation", key="rotate", help=_ROTATION, on_change=from_the_start)
        st.select_slider(
            "Chords that may differ", NEAR, key="near", help=_NEAR_HELP, on_change=from_the_start, width=180
        )
    said = (_STRENGTHS[Strength(state["strength"])], _REACHES[Reach(state["reach"])])
    st.caption(" ".join(f"{name}: {explained}." for name, explained in said))


def _filters(opened: OpenLibrary) -> None:
    state = st.session_state
    with st.popover(filters_label("Filters and order")):
        left, right = st.columns(2)
        left.selectbox("Order", SORTS, key="sort", format_func=_SORTS.__getitem__, on_change=from_the_start)
        right.selectbox(
            "Minor tunes are counted from",
            list(_COUNTS),
            key="count",
            format_func=_COUNTS.__getitem__,
            disabled=state["reach"] == Reach.ANYWHERE.value,
            on_change=from_the_start,
        )
        left, right = st.columns(2)
        left.text_input("Also with", key="also", placeholder="4 4m 1", on_change=from_the_start)
        right.text_input("Without", key="without", placeholder="b7", on_change=from_the_start)
        filter_widgets(opened)


def _form() -> _Form:
    state = st.session_state
    names = ("strength", "reach", "rotate", "near", "also", "without", "count", "sort", "meant", "limit")
    return _Form(text=state["find"], filters=filter_form(), **{name: state[name] for name in names})


def _answer(opened: OpenLibrary, form: _Form, entry: Progression | None) -> Answer:
    return _kept_answer(opened, str(opened.library.root), opened.stamp, form, repr(entry), entry)


@st.cache_resource(show_spinner="Searching", max_entries=64)
def _kept_answer(
    _opened: OpenLibrary, root: str, stamp: tuple[int, int, int], form: _Form, named: str, _entry: Progression | None
) -> Answer:
    asked = form.asked(_entry)
    return answer(_opened.index, asked) if _entry is None else answer_named(_opened.index, _entry, asked)


def _said(found: Answer, form: _Form) -> None:
    said = [element("p", found.said, "sc-answer")]
    if found.charts:
        times = "once" if found.matches == 1 else f"{several(found.matches, 'time')} in all, as played"
        said.append(f'<p class="sc-answer"><b>{several(found.charts, "tune")}</b>, {times}.</p>')
    else:
        said.append('<p class="sc-answer"><b>No tune has it.</b></p>')
    st.html("".join(said))
    if found.key is not None:
        _said_key(found.key, found.others, form)
    if not found.charts:
        _offered(form)


def _said_key(key: Key, others: Sequence[Key], form: _Form) -> None:
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        again = " as you chose" if form.meant else ""
        st.html(
            f'<p class="sc-answer">The chord names were counted in <b>{element("span", str(key))}</b>{again}.</p>',
            width="content",
        )
        for other in others:
            st.button(f"Count in {other}", key=f"meant {other}", on_click=go, kwargs={"meant": str(other)})
        if form.meant:
            st.button("Choose the key for me", on_click=go, kwargs={"meant": ANY})


def _offered(form: _Form) -> None:
    """What might be tried where nothing was found."""
    with st.container(horizontal=True, gap="small"):
        if form.strength != Strength.LOOSE.value:
            st.button("Try the roots alone", on_click=go, kwargs={"strength": Strength.LOOSE.value})
        if form.reach != Reach.ANYWHERE.value:
            st.button("Try anywhere", on_click=go, kwargs={"reach": Reach.ANYWHERE.value})
        if filters_on():
            st.button("Ask all tunes", on_click=clear_filters)


def _results(opened: OpenLibrary, asked: Asked, found: Answer) -> None:
    for path, hits in groupby(found.hits, key=lambda hit: hit.path):
        with st.container(border=True):
            _tune(opened, asked, path, list(hits))
    shown = len({hit.path for hit in found.hits})
    if shown < found.charts:
        st.html(f'<p class="sc-answer">{several(shown, "tune")} of {found.charts:,} shown.</p>')
        st.button(f"Show {FIRST_LIMIT} more", on_click=go, kwargs={"limit": st.session_state["limit"] + FIRST_LIMIT})


def _tune(opened: OpenLibrary, asked: Asked, path: str, hits: Sequence[Hit]) -> None:
    """One tune with its places, under each count that found some."""
    rows = opened.index.rows(
        "SELECT title, key, key_found, key_chance, key_rival, style, level, tempo, metre FROM charts WHERE path = ?",
        [path],
    )
    title, key, key_found, chance, rival, style, level, tempo, metre = rows[0]
    _, one = played_chart(opened.library, path)
    one = one and as_read(one, path)
    own = found_key_said(one, path) if one else key_said(key, chance if key_found else None, rival)
    facts = [own, style, metre]
    facts += [f"level {level:g}"] if level is not None else []
    facts += [f"tempo {tempo:g}"] if tempo is not None else []
    said = " · ".join(fact for fact in facts if fact)
    instead = str(one.tune.key) if one and in_rival(one, path) else None
    marked: list[int] = []
    bodies = []
    writing, by_bars = st.session_state["writing"], asked.question.pattern.bars
    for hit in hits:
        found = [(place, located(one.tune, place, by_bars) if one else None) for place in hit.places]
        sheets: list[Sheet] = []
        if one is not None:
            there = [each for _, each in found if each is not None]
            count = Count.TONIC if instead else hit.count
            sheets += context_sheets(one, path, there, writing, count, asked.question.reach)
            marked += _written(one.tune.bars, there)
        lost = [place for place, each in found if each is None]
        sheets += [place_alone(place, hit.key, writing) for place in lost]
        why = element("p", " · ".join(hit.why), "sc-facts") if hit.why else ""
        bodies.append(why + _counted(hit, asked.question.reach, instead) + _sheets_html(sheets))
        if lost:
            changed = "This chart has changed since the library was read: see Library, “Read what changed”."
            bodies.append(notice_html(changed))
    st.html(f"{element('h3', title, 'sc-title')}{element('p', said, 'sc-facts')}{''.join(bodies)}")
    values = {
        "view": "Tune",
        "tune": path,
        "to": ANY,
        "marked": (path, tuple(marked), asked.question.pattern.text.strip()),
    }
    with st.container(horizontal=True, gap="small"):
        st.button("Whole tune", key=f"whole {path}", on_click=go, kwargs=values)
        if one is not None:
            rival_button(one, path)


def _counted(hit: Hit, reach: Reach, instead: str | None = None) -> str:
    """What the places are counted from; ``instead``, the rival that the tune is read in, is not what was searched."""
    if reach is Reach.ANYWHERE:
        said = "Counted about the centre of each place"
    elif instead is not None:
        said = f"Counted in {instead}; the search counted in {hit.key}"
    elif hit.count is Count.RELATIVE:
        major = hit.key.relative_major
        said = (
            f"Counted from the relative major, {major}"
            if hit.key.minor_third
            else "Counted as its relative minor would be"
        )
    else:
        said = "Counted from the tonic"
    return element("p", said, "sc-facts")


def _sheets_html(sheets: Sequence[Sheet]) -> str:
    drawn = [element("p", sheet.label, "sc-where") + bars_html(sheet.boxes, sheet.columns) for sheet in sheets]
    rest = drawn[_PLACES_OPEN:]
    more = f'<details class="sc-more"><summary>{several(len(rest), "more place")}</summary>{"".join(rest)}</details>'
    return "".join(drawn[:_PLACES_OPEN]) + (more if rest else "")


def _written(played: Sequence[PlayedBar], places: Sequence[Located]) -> list[int]:
    """The written bars that matches go through."""
    return sorted({bar.bar for each in places for bar in played[each.first : each.last + 1]})

"""Builds a chart from what other notations know: chords and how long they last, bar by bar.

Conventions:
    * A reader of another notation says what every bar holds (see ``grammar.bar_content``) and puts bars, repeats and
      sections together as drafts; ``build_chart`` makes the chart, which our own notation can write and read back
      unchanged.
    * A key may be given as a tonic alone. ``mode_of_tonic`` then finds its mode, from all bars on that tonic.
    * A key whose signature would pass seven signs is written as its enharmonic twin, and its chords with it.
    * What a chart has no room for (a change of key inside a second ending, repeats inside repeats) is written out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from grammar.bar_content import Content, cells_of_run, content_of
from grammar.chart_text import write_chart
from shared.chart import Bar, Cell, Chart, Ending, Metre, Repeat, Section
from shared.chord import Chord
from shared.key import Key, Mode, simplest
from shared.pitch import Pitch, readable
from shared.quality import Third

#: The longest header and the longest label that are kept whole, in characters.
LONGEST_HEADER = 300
LONGEST_LABEL = 60
_COMMON_TIME = Metre(4, 4)


@dataclass(frozen=True, slots=True)
class DraftBar:
    """A bar that is to be.

    Attributes:
        content: What it holds.
        metre: Its metre.
        own: Whether the metre is for this bar alone.
        key: The key in force, a tonic where the source names no mode, None where it names no key.
        line: The line of the source, from 1, where a line is a phrase; 0 where lines say nothing.
    """

    content: Content
    metre: Metre = _COMMON_TIME
    own: bool = False
    key: Key | Pitch | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class DraftRepeat:
    """A repeat that is to be: what is played each time, how often in all, and endings with the times they are for."""

    body: tuple[DraftBar | DraftRepeat, ...]
    times: int = 2
    endings: tuple[tuple[tuple[int, ...], tuple[DraftBar, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class DraftSection:
    """A section that is to be; one without a label goes on with the section before it."""

    label: str | None
    body: tuple[DraftBar | DraftRepeat, ...]


def mode_of_tonic(tonic: Pitch, chords: Iterable[tuple[Chord, Fraction]]) -> Mode:
    """The mode of a key of which only the tonic is known: major, unless the chords on the tonic are mostly minor.

    Args:
        tonic: The tonic.
        chords: The chords played in the key, each with its length in any unit. Those on another root, or without a
            third, say nothing.

    >>> from grammar.symbols import read_chord
    >>> mode_of_tonic(Pitch("A"), [(read_chord("Am7"), Fraction(4)), (read_chord("A"), Fraction(2))]).label
    'minor'
    """
    lengths = {Third.MAJOR: Fraction(0), Third.MINOR: Fraction(0), Third.NONE: Fraction(0)}
    for chord, length in chords:
        if chord.root.pitch_class == tonic.pitch_class:
            lengths[chord.quality.third] += length
    return Mode.MINOR if lengths[Third.MINOR] > lengths[Third.MAJOR] else Mode.MAJOR


def header_value(text: str) -> str:
    """A value as a header holds it: on one line, without white space at its ends, not endlessly long."""
    return " ".join(text.split())[:LONGEST_HEADER]


def section_label(text: str) -> str | None:
    """A label as a section and a form can hold it, without brackets, commas and line ends; None where none is left."""
    return " ".join("".join(" " if sign in "[],|" else sign for sign in text).split())[:LONGEST_LABEL].strip() or None


def build_chart(
    headers: Iterable[tuple[str, str]],
    sections: Iterable[DraftSection],
    form: Sequence[str] = (),
    metre: Metre | None = None,
) -> Chart:
    """The chart of these sections.

    Args:
        headers: Names and values (see ``header_value``); key, time and form are put in here, empty values left out.
        sections: The sections as written (see ``section_label``).
        form: The labels in playing order, where that is not the order in which they are written.
        metre: The metre of the header; that of the first bar which has not its own where None.

    Returns:
        The chart. Reading what ``write_chart`` writes of it gives it again.

    Raises:
        ValueError: If there are no bars.
    """
    drafts = _joined(sections, form)
    bars = [bar for section in drafts for bar in _written(section.body)]
    if not bars:
        raise ValueError("a chart has bars")
    if metre is None:
        metre = next((bar.metre for bar in bars if not bar.own), bars[0].metre)
    keys = _keys(drafts)
    chart = _Builder(keys).chart(list(headers), drafts, tuple(form), metre)
    if any(_may_not_fit(section.body) for section in drafts):
        try:
            write_chart(chart)
        except ValueError:
            flat = [replace(section, body=tuple(_unfolded(section.body))) for section in drafts]
            chart = _Builder(keys).chart(list(headers), flat, tuple(form), metre)
    return chart


def _joined(sections: Iterable[DraftSection], form: Sequence[str]) -> list[DraftSection]:
    """The sections that hold bars (or are named in the form), unlabelled ones joined to the one before."""
    drafts: list[DraftSection] = []
    for section in sections:
        if section.label is None and drafts:
            drafts[-1] = replace(drafts[-1], body=drafts[-1].body + section.body)
        elif section.body or section.label in form:
            drafts.append(section)
    return drafts


def _written(body: Iterable[DraftBar | DraftRepeat]) -> Iterator[DraftBar]:
    for item in body:
        if isinstance(item, DraftBar):
            yield item
        else:
            yield from _written(item.body)
            for _, bars in item.endings:
                yield from bars


def _unfolded(body: Iterable[DraftBar | DraftRepeat]) -> Iterator[DraftBar]:
    for item in body:
        if isinstance(item, DraftBar):
            yield item
            continue
        for time in range(1, item.times + 1):
            yield from _unfolded(item.body)
            for numbers, bars in item.endings:
                if time in numbers:
                    yield from bars


def _may_not_fit(body: Iterable[DraftBar | DraftRepeat]) -> bool:
    """Whether a chart may have no room for something in it: only plain repeats are sure of one."""
    return any(
        isinstance(item, DraftRepeat) and (item.endings or any(isinstance(each, DraftRepeat) for each in item.body))
        for item in body
    )


def _keys(sections: Iterable[DraftSection]) -> dict[Key | Pitch | None, tuple[Key | None, int]]:
    """Every key as it is written, and how many fifths its chords are moved for that."""
    keys: dict[Key | Pitch | None, tuple[Key | None, int]] = {}
    counted: dict[Key | Pitch | None, _Counted] = {}
    sounding: Chord | None = None
    within: Key | Pitch | None = None
    here = counted[None] = {}
    for section in sections:
        for bar, times in _with_times(section.body, 1):
            if bar.key is not within:
                within = bar.key
                here = counted.setdefault(within, {})
            content = bar.content
            at = id(content), id(sounding)
            before = here.get(at)
            here[at] = (bar, sounding, times + before[2] if before else times)
            if content.last is not None:
                sounding = content.last.chord
    for key, bars in counted.items():
        if isinstance(key, Pitch):
            keys[key] = _spelled(Key(key, mode_of_tonic(key, _lengths(bars.values()))))
        else:
            keys[key] = _spelled(key) if key else (None, 0)
    return keys


#: Bars by what they hold and what sounds before, with how often each is played.
_Counted = dict[tuple[int, int], tuple[DraftBar, Chord | None, int]]


def _with_times(body: Iterable[DraftBar | DraftRepeat], times: int) -> Iterator[tuple[DraftBar, int]]:
    """The bars as written, each with how often it is played."""
    for item in body:
        if isinstance(item, DraftBar):
            yield item, times
        else:
            yield from _with_times(item.body, times * item.times)
            for numbers, bars in item.endings:
                yield from _with_times(bars, times * len(numbers))


def _lengths(bars: Iterable[tuple[DraftBar, Chord | None, int]]) -> Iterator[tuple[Chord, Fraction]]:
    """The chords of bars and how long each sounds, in whole notes."""
    for bar, before, times in bars:
        for run in bar.content.runs:
            chord = run.chord if run.struck or run.chord is not None else before
            if chord is not None:
                yield chord, run.beats * times / bar.metre.unit


def _spelled(key: Key) -> tuple[Key, int]:
    tonic = simplest(key.tonic, key.mode)
    return Key(tonic, key.mode), tonic.fifths - key.tonic.fifths


@lru_cache(maxsize=4096)
def _moved(chord: Chord, fifths: int) -> Chord:
    """A chord spelled enharmonically otherwise, so many fifths away, or nearer where that would need two signs."""
    root = readable(Pitch.at(chord.root.fifths + fifths))
    bass = readable(Pitch.at(chord.bass.fifths + fifths)) if chord.bass else None
    return Chord(root, chord.quality, bass)


class _Builder:
    """Numbers the bars and fills in what depends on the bars before: keys, and chords that are held."""

    def __init__(self, keys: dict[Key | Pitch | None, tuple[Key | None, int]]) -> None:
        self._keys = keys
        self._count = 0
        self._sounding: Cell | None = None
        self._within: Key | Pitch | None = None
        self._key, self._fifths = keys[None]
        self._spelled: dict[tuple[int, int], Content] = {}
        self._gone_on: dict[tuple[int, int], tuple[Cell, ...]] = {}

    def chart(
        self, headers: list[tuple[str, str]], drafts: list[DraftSection], form: tuple[str, ...], metre: Metre
    ) -> Chart:
        """The chart of these sections."""
        sections = tuple(Section(draft.label, self._body(draft.body)) for draft in drafts)
        key = next(bar.key for section in sections for bar in section.bars())
        headers = [(name, value) for name, value in headers if value]
        place = next((i for i, (name, _) in enumerate(headers) if name not in ("title", "by")), len(headers))
        said = ([("key", str(key))] if key else []) + [("time", str(metre))]
        separator = ", " if any(" " in label for label in form) else " "
        said += [("form", separator.join(form))] if form else []
        return Chart((*headers[:place], *said, *headers[place:]), sections, form, key, metre)

    def _body(self, drafts: Iterable[DraftBar | DraftRepeat]) -> tuple[Bar | Repeat, ...]:
        made: list[Bar | Repeat] = []
        for draft in drafts:
            if isinstance(draft, DraftBar):
                made.append(self._bar(draft))
            else:
                body = self._body(draft.body)
                endings = tuple(Ending(numbers, tuple(map(self._bar, bars))) for numbers, bars in draft.endings)
                made.append(Repeat(body, draft.times, endings))
        return tuple(made)

    def _bar(self, draft: DraftBar) -> Bar:
        self._count += 1
        # No chart goes on without a key once it has one: bars from before the first key, written out again behind it,
        # stay in the key before.
        if draft.key is not None and draft.key is not self._within:
            self._within = draft.key
            self._key, self._fifths = self._keys[draft.key]
        content = draft.content
        if self._fifths:
            content = self._respelled(content, draft.metre)
        cells, last = content.cells, content.last
        if not cells[0].struck:
            at = id(content), id(self._sounding)
            if at not in self._gone_on:
                self._gone_on[at] = self._goes_on(content)
            cells = self._gone_on[at]
            last = last or (cells[0] if cells[0].struck else self._sounding)
        self._sounding = last
        return Bar(self._count, cells, self._key, draft.metre, draft.own, line=draft.line)

    def _goes_on(self, content: Content) -> tuple[Cell, ...]:
        """The cells of a bar into which a chord is held: written out where the bar above ends on another one."""
        meant, before = content.runs[0].chord, self._sounding
        count = next((i for i, cell in enumerate(content.cells) if cell.struck), len(content.cells))
        if before is None or (meant is not None and meant is not before.chord and meant != before.chord):
            return (*cells_of_run(meant, count, True), *content.cells[count:])
        if content.cells[0].chord == before.chord:
            return content.cells
        held = tuple(replace(cell, chord=before.chord) for cell in content.cells[:count])
        return held + content.cells[count:]

    def _respelled(self, content: Content, metre: Metre) -> Content:
        """A content with its chords spelled for the key in force."""
        at = id(content), self._fifths
        if at not in self._spelled:
            runs = [replace(run, chord=_moved(run.chord, self._fifths)) if run.chord else run for run in content.runs]
            self._spelled[at] = content_of(runs, metre)
        return self._spelled[at]

"""Reads the body of an ABC tune: lines of music and fields become bars and marks, and those a chart's sections.

Conventions:
    * Only the first voice is read; fields that stand in another one do not bear on it, except ``P:``.
    * A bar of another length than its metre says (a pickup, a bar that a repeat divides) has its own metre. One that is
      at least twice as long is cut into bars of the metre. In free metre the commonest length gives the metre.
    * Before the first chord there is silence; a bar without a chord symbol holds the chord before it. In an ending that
      is the chord at the end of what is repeated.
    * Where the key changes inside a bar, the bar is written as two.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from grammar.abc_fields import decoded, default_length, read_abc_key, read_abc_length, read_abc_metre
from grammar.abc_music import MOST_BARS, Music, Piece, Symbol, read_line, read_music
from grammar.abc_repeats import MOST_TIMES, Mark, Sounding, Structure, TuneBar
from grammar.abc_symbols import read_abc_symbol
from grammar.bar_content import INEXACT, MOST_CELLS, Content, Run, content_of, partial_metre
from grammar.building import DraftBar, DraftSection, section_label
from grammar.places import Place
from shared.chart import Metre
from shared.chord import Chord
from shared.errors import Fault, ReadingError
from shared.key import Key
from shared.pitch import Pitch

_COMMON_TIME = Metre(4, 4)
_FIELD = re.compile(r"\[(?P<letter>[A-Za-z]):(?P<value>[^\]]*)(?P<end>\]?)")
_SYMBOL_LINE = re.compile(r'"([^"]*)"|[|*]')
_VOICE = re.compile(r"\s*(\S+)")


class Body:
    """The body of one tune while it is being read."""

    def __init__(self, remarks: list[Fault]) -> None:
        self.remarks = remarks
        self.chords = self.strange = 0
        self.labels: list[str] = []
        self._events: list[TuneBar | Mark] = []
        self._unit: Fraction | None = None
        self._metre: Metre | None = None
        self._home: Metre | None = None
        self._key: Key | Pitch | None = None
        self._voice = self._first_voice = ""
        self._bar: TuneBar | None = None
        self._carried: list[tuple[Chord | None, Place]] = []
        self._parted = False
        self._rested = 0
        self._last: Chord | None = None
        self._line_music: list[list[tuple[TuneBar, Fraction, Music]]] = []

    @property
    def metre(self) -> Metre | None:
        """The metre of the header, None where it is free."""
        return self._home

    def field(self, letter: str, value: str, place: Place) -> None:
        """A field on a line of its own, or inline: ``place`` is that of its value."""
        if letter == "V":
            self._start_voice(value)
        elif letter == "P":
            self._start_part(value, place)
        elif self._voice == self._first_voice and letter in "KLM":
            try:
                {"K": self._start_key, "L": self._start_length, "M": self._start_metre}[letter](value, place)
            except ReadingError as error:
                self.remarks += [fault.at(place.line, place.text, place.column - 1) for fault in error.faults]
        elif self._voice == self._first_voice and letter == "s":
            self._symbol_line(value, place)

    def _start_voice(self, value: str) -> None:
        found = _VOICE.match(value)
        self._voice = found[1] if found and found[1] != "*" else self._first_voice
        self._first_voice = self._first_voice or self._voice

    def begin(self) -> None:
        """The header ends: voices that it names are not yet playing."""
        self._voice = self._first_voice
        self._unit = self.unit
        self._home = self._metre

    def _start_part(self, value: str, place: Place) -> None:
        label = section_label(decoded(value))
        if label is None:
            self.remarks.append(place.fault("a part without a name is passed over", "a name, such as P:A"))
            return
        self._end_bar()
        if label != (self.labels[-1] if self.labels else None):
            self.labels.append(label)
            self._events.append(Mark("part", place, label=label))

    def _start_key(self, value: str, place: Place) -> None:
        written = read_abc_key(value)
        if written.remark:
            self.remarks.append(written.remark.at(place.line, place.text, place.column - 1))
        if not written.says or written.key == self._key:
            return
        if written.key is None:
            message = "no chart goes on without a key once it has one, so the key before stays in force"
            self.remarks.append(place.fault(message, "a key"))
            return
        if self._bar is not None:
            self.remarks.append(place.fault("the key changes inside the bar, which is written as two bars"))
            self._bar.parted = True
            self._end_bar()
            self._parted = True
        self._key = written.key

    def _start_length(self, value: str, _: Place) -> None:
        self._unit = read_abc_length(value)

    def _start_metre(self, value: str, place: Place) -> None:
        metre = read_abc_metre(value)
        self._metre = metre
        if self._bar is not None:
            self.remarks.append(place.fault("the metre changes inside the bar and governs the bars behind it"))

    @property
    def unit(self) -> Fraction:
        """The unit note length; where none is written it is settled by the metre of the header."""
        return self._unit if self._unit is not None else default_length(self._metre)

    def _symbol_line(self, value: str, place: Place) -> None:
        """A line of symbols, each for one note of the music line above."""
        bars = iter(
            [
                [(bar, start + at * self.unit) for bar, start, music in each for at in music.notes]
                for each in self._line_music
            ]
        )
        notes = iter(next(bars, []))
        for found in _SYMBOL_LINE.finditer(value):
            if found[0] == "|":
                notes = iter(next(bars, []))
                continue
            note = next(notes, None)
            while note is None and (following := next(bars, None)) is not None:
                notes = iter(following)
                note = next(notes, None)
            if note is None:
                return
            if found[1] is not None and found[1][:1] not in tuple("^_<>@"):
                column = place.column + found.start(1)
                self._symbol(found[1], Place(place.line, column, len(found[1]), place.text), *note)

    def music(self, line: int, text: str, shown: str) -> None:
        """A line of music: ``text`` without its comment, ``shown`` as it stands in the file."""
        self._line_music = [[]]
        for piece in read_line(text):
            place = Place(line, piece.start + 1, len(piece.text), shown)
            if piece.kind == "FIELD":
                self._inline(piece, place)
            elif self._voice != self._first_voice:
                continue
            elif piece.kind == "MUSIC":
                self._music(piece.text, place)
            elif piece.kind == "BAR_LINE":
                self._bar_line(piece.text, place)
            elif piece.kind in ("ENDING", "ENDING_MARK"):
                self._ending(piece.text, place)
            elif self._bar is None:
                self._events.append(Mark("open", place))
            else:
                self.remarks.append(place.fault(f"“{piece.text}” has no meaning here and is passed over"))

    def _inline(self, piece: Piece, place: Place) -> None:
        found = _FIELD.fullmatch(piece.text)
        assert found is not None
        if not found["end"]:
            self.remarks.append(place.fault(f"“{piece.text}” is never closed", "“]” behind it"))
        value = Place(place.line, place.column + found.start("value"), max(1, len(found["value"])), place.text)
        if found["letter"] not in "s":
            self.field(found["letter"], found["value"], value)

    def _music(self, text: str, place: Place) -> None:
        compound = self._metre is not None and self._metre.beats % 3 == 0 and self._metre.beats > 3
        music = read_music(text, compound)
        self.remarks += [remark.at(place.line, place.text, place.column - 1) for remark in music.remarks]
        if music.bars and not music.length and self._bar is None:
            self._whole_bars(text, music, place)
            return
        if music.bars:
            self.remarks.append(place.fault("a rest of whole bars stands beside notes and is passed over", "“z”"))
        if music.length:
            bar = self._bar = self._bar or self._new_bar(place)
            start, bar.length = bar.length, bar.length + music.length * self.unit
            self._line_music[-1].append((bar, start, music))
            for symbol in music.symbols:
                if symbol.offset < music.length:
                    at = self._at(symbol, place)
                    self._symbol(text[symbol.start : symbol.end], at, bar, start + symbol.offset * self.unit)
        for symbol in music.symbols:
            if symbol.offset == music.length:
                self._carry(text[symbol.start : symbol.end], self._at(symbol, place))

    @staticmethod
    def _at(symbol: Symbol, place: Place) -> Place:
        return Place(place.line, place.column + symbol.start, max(1, symbol.end - symbol.start), place.text)

    def _new_bar(self, place: Place) -> TuneBar:
        """A bar that starts here, with the chord symbols that wait for its first note."""
        bar = TuneBar(place, self._metre, self._key, Fraction(0), [], self._parted)
        bar.symbols += [(Fraction(0), chord) for chord, _ in self._carried[-1:]]
        self._carried = []
        return bar

    def _whole_bars(self, text: str, music: Music, place: Place) -> None:
        for symbol in music.symbols:
            self._carry(text[symbol.start : symbol.end], self._at(symbol, place))
        metre = self._metre or _COMMON_TIME
        self._rested += music.bars
        if self._rested > MOST_BARS:
            self.remarks.append(place.fault("the tune rests too long, so one bar is left", f"at most {MOST_BARS} bars"))
        for _ in range(music.bars if self._rested <= MOST_BARS else 1):
            self._bar = self._new_bar(place)
            self._bar.length = Fraction(metre.beats, metre.unit)
            self._end_bar()

    def _carry(self, text: str, place: Place) -> None:
        """A chord symbol with no note behind it in its piece: it belongs to the next note."""
        said = self._said(text, place)
        if said is not None:
            self._carried.append((said[0], place))

    def _symbol(self, text: str, place: Place, bar: TuneBar, offset: Fraction) -> None:
        """A chord symbol over a note; of two over one note the first counts."""
        if any(at == offset for at, _ in bar.symbols):
            self.remarks.append(place.fault(f"“{text}” is the second chord over one note and is passed over"))
        elif len(bar.symbols) >= MOST_CELLS:
            self.remarks.append(place.fault(f"“{text}” is passed over", f"at most {MOST_CELLS} chords in a bar"))
        elif said := self._said(text, place):
            bar.symbols.append((offset, said[0]))
            bar.symbols.sort(key=lambda each: each[0])

    def _said(self, text: str, place: Place) -> tuple[Chord | None] | None:
        """The chord that a symbol names (None for silence); None where it names none."""
        read = read_abc_symbol(text)
        chord = read.chord
        if read.remark:
            self.remarks.append(read.remark.at(place.line, place.text, place.column - 1))
            self.strange += not read.holds
        if read.holds:
            return None
        if read.bass is not None:
            if self._last is None:
                self.remarks.append(place.fault(f"“{text}” has no chord before it", "a chord such as C/E"))
                return None
            chord = Chord(self._last.root, self._last.quality, read.bass)
        self.chords += chord is not None
        self._last = chord or self._last
        return (chord,)

    def _bar_line(self, text: str, place: Place) -> None:
        self._end_bar()
        self._line_music.append([])
        stem = text.strip(":")
        before = len(text) - len(text.lstrip(":"))
        after = len(text) - len(text.rstrip(":")) if stem else before // 2
        before = before if stem else before // 2
        if before:
            self._events.append(Mark("close", place, times=min(before + 1, MOST_TIMES)))
        if after:
            self._events.append(Mark("open", place))
        if len(stem) > 1 and not (before or after):
            self._events.append(Mark("double", place))

    def _ending(self, text: str, place: Place) -> None:
        self._end_bar()
        numbers: list[int] = []
        for part in text.strip("[ .").split(","):
            first, _, last = part.partition("-")
            if len(part) < 6:
                numbers += range(int(first), int(last or first) + 1)
        if not numbers or min(numbers) < 1 or max(numbers) > MOST_TIMES:
            message = f"“{text}” is no ending and is passed over"
            self.remarks.append(place.fault(message, f"times from 1 to {MOST_TIMES}, such as [1,3"))
            return
        self._events.append(Mark("ending", place, numbers=tuple(sorted(set(numbers)))))

    def _end_bar(self) -> None:
        self._parted = False
        if self._bar is not None:
            self._events.append(self._bar)
            self._bar = None

    def sections(self) -> list[DraftSection]:
        """The sections, once everything is read."""
        self._end_bar()
        for _, place in self._carried:
            self.remarks.append(place.fault("a chord symbol with no note behind it is passed over", "a note or a rest"))
        events = list(_measured(self._events, self.remarks))
        maker = _Maker(events, self._home, self.remarks)
        return Structure(maker.bar, self.remarks, maker.sounding).sections(events)


def _measured(events: Sequence[TuneBar | Mark], remarks: list[Fault]) -> Iterable[TuneBar | Mark]:
    """Bars and marks with a metre for every bar, bars that are far too long cut into bars of their metre."""
    lengths = Counter(event.length for event in events if isinstance(event, TuneBar) and event.metre is None)
    free = next((m for length, _ in lengths.most_common() if (m := partial_metre(_COMMON_TIME, length * 4))), None)
    room = MOST_BARS
    for event in events:
        if isinstance(event, Mark):
            yield event
            continue
        event.metre = event.metre or free or _COMMON_TIME
        whole = Fraction(event.metre.beats, event.metre.unit)
        if event.length < 2 * whole or event.length > room * whole:
            yield event
            continue
        room -= int(event.length / whole)
        message = f"a bar of {float(event.length / whole):.3g} times its length is cut into bars of {event.metre}"
        remarks.append(event.place.fault(message, f"a bar line behind every {event.metre}"))
        start = Fraction(0)
        while start < event.length:
            length = min(whole, event.length - start)
            symbols = [(at - start, chord) for at, chord in event.symbols if start <= at < start + length]
            yield replace(event, length=length, symbols=symbols)
            start += length


class _Maker:
    """Makes bars for a chart, one after the other."""

    def __init__(self, events: Sequence[TuneBar | Mark], home: Metre | None, remarks: list[Fault]) -> None:
        self.sounding = Sounding()
        self._remarks = remarks
        self._begun = False
        bars = [event for event in events if isinstance(event, TuneBar)]
        self._own = {id(bar): own for bar, own in zip(bars, _own_metres(bars, home), strict=True)}
        self._at_mark = {
            id(event)
            for before, event, after in zip([None, *events], events, [*events[1:], None], strict=False)
            if not (isinstance(before, TuneBar) and isinstance(after, TuneBar))
        }

    def bar(self, bar: TuneBar) -> DraftBar:
        """A bar of the chart, with the chord that goes on into it."""
        metre = bar.metre
        assert metre is not None
        beats = bar.length * metre.unit
        scale, own = Fraction(1), self._own[id(bar)]
        if beats != metre.beats:
            partial = partial_metre(metre, beats)
            lasts = f"a bar of {beats} beats stands in {metre}"
            if partial is None:
                scale = Fraction(metre.beats) / beats
                self._remarks.append(bar.place.fault(f"{lasts} and is written as a whole one", f"{metre.beats} beats"))
            else:
                if id(bar) not in self._at_mark and not bar.parted:
                    self._remarks.append(bar.place.fault(f"{lasts} and has its own metre", f"{metre.beats} beats"))
                metre, own = partial, True
        content = _content(tuple(self._runs(bar, metre, scale * metre.unit)), metre)
        if not content.exact:
            self._remarks.append(bar.place.fault(INEXACT))
        return DraftBar(content, metre, own, bar.key)

    def _runs(self, bar: TuneBar, metre: Metre, factor: Fraction) -> Iterable[Run]:
        """The chords of a bar with their lengths in beats; ``factor`` makes whole notes beats."""
        sounding = self.sounding
        symbols = bar.symbols
        if not symbols or symbols[0][0]:
            struck = not self._begun or (sounding.chord is None and sounding.elsewhere)
            end = symbols[0][0] * factor if symbols else Fraction(metre.beats)
            yield Run(sounding.chord, end, struck)
        self._begun, sounding.elsewhere = True, False
        for index, (offset, chord) in enumerate(symbols):
            end = symbols[index + 1][0] * factor if index + 1 < len(symbols) else Fraction(metre.beats)
            sounding.chord = chord
            yield Run(chord, end - offset * factor)


def _own_metres(bars: Sequence[TuneBar], home: Metre | None) -> list[bool]:
    """Which bars have a metre for themselves alone: the one before them comes back directly, or nothing follows.

    Before the first bar that is the metre of the header, ``home``.
    """
    own = [False] * len(bars)
    for index in range(len(bars)):
        before = bars[index - 1].metre if index else home or bars[0].metre
        following = bars[index + 1].metre if index + 1 < len(bars) else before
        own[index] = not own[index - 1] and bars[index].metre != before and following == before
    return own


@lru_cache(maxsize=65536)
def _content(runs: tuple[Run, ...], metre: Metre) -> Content:
    """What a bar holds; a bar that recurs is put together once."""
    return content_of(runs, metre)

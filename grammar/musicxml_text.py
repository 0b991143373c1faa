"""Writes a chart as MusicXML 4.0: one part of rests, as slashes, with a chord symbol wherever a chord begins.

Conventions:
    * Sections are written in playing order, a form written out, with their repeats and endings. What programs read in
      different ways (a repeat inside a repeat, endings that are not played in order) is written out.
    * A chord that goes on is written again where the bar above does not end on it.
    * A line of chords above words becomes one bar, which the chords share; words and the places of chords above them
      have no room. Numbers and Roman numerals become chord names.
    * A bar with its own metre has a time signature of its own, a shorter first bar is a pickup.
    * ``style``, ``level``, ``year`` and ``tags`` go into miscellaneous fields; other headers have no room.

Source: W3C, MusicXML 4.0, whose order of elements is kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from grammar.bar_content import SILENCE, partial_metre
from grammar.musicxml_kinds import NONE, kind_of
from grammar.musicxml_order import MOST_TIMES
from grammar.musicxml_reading import KEPT_FIELDS
from shared.chart import Bar, Chart, Metre, Repeat
from shared.chord import Chord
from shared.key import Key
from shared.pitch import Pitch
from shared.quality_names import quality_name

_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" \
"http://www.musicxml.org/dtds/partwise.dtd">
"""
_NUMBER = re.compile(r"[1-9]\d{0,3}(\.\d+)?")
_NO_XML = re.compile("[^\\t\\n\\r\\x20-\\ud7ff\\ue000-\\ufffd\\U00010000-\\U0010ffff]")
#: Note values of the standard by their length in quarter notes.
_TYPES = {
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
    Fraction(1, 32): "128th",
    Fraction(1, 64): "256th",
}


@dataclass(slots=True)
class _Written:
    """A bar as it is written: the section it begins, and the signs at its bar lines."""

    bar: Bar
    label: str | None = None
    forward: bool = False
    times: int = 0
    ending: tuple[int, ...] = ()
    stopping: tuple[int, ...] = ()

    @property
    def from_elsewhere(self) -> bool:
        """Whether another bar than the one above may have been played before."""
        return self.forward or bool(self.ending) or self.label is not None


def write_musicxml(chart: Chart) -> str:
    """A chart as an uncompressed MusicXML file.

    Args:
        chart: The chart.

    Returns:
        The text; encode it as UTF-8. Reading it gives the same chords, bars and keys in playing order.

    Raises:
        ValueError: If the chart has no bars.

    >>> from grammar.charts import read_chart
    >>> text = write_musicxml(read_chart("| C | F6 |").chart)
    >>> '<kind text="6">major-sixth</kind>' in text
    True
    """
    bars = list(_sections(chart))
    if not bars:
        raise ValueError("a chart has bars")
    score = Element("score-partwise", version="4.0")
    _head(score, chart)
    divisions = lcm(*(length.denominator for each in bars for length in _lengths(each.bar)))
    in_force = next((each.bar.metre for each in bars if not each.bar.own_metre), chart.metre)
    writer = _Writer(SubElement(score, "part", id="P1"), divisions, chart.header("tempo") or "", in_force)
    for each in bars:
        writer.measure(each, last=each is bars[-1])
    indent(score)
    return _HEAD + tostring(score, encoding="unicode") + "\n"


class _Writer:
    """Writes measure after measure, keeping what is in force and which chord sounds."""

    def __init__(self, part: Element, divisions: int, tempo: str, in_force: Metre) -> None:
        self._part, self._divisions, self._tempo, self._in_force = part, divisions, tempo, in_force
        self._number = 1
        self._key: Key | None = None
        self._metre: Metre | None = None
        #: The chord that sounds, at most one; empty where nothing has sounded yet.
        self._sounding: list[Chord | None] = []

    def measure(self, written: _Written, last: bool) -> None:
        """One measure."""
        bar = written.bar
        first = self._metre is None
        pickup = first and bar.own_metre and self._fits_as_pickup(bar.metre)
        numbering = {"number": "0", "implicit": "yes"} if pickup else {"number": str(self._number)}
        self._number += not pickup
        measure = SubElement(self._part, "measure", numbering)
        _barline(measure, "left", "heavy-light" if written.forward else "", written)
        self._attributes(measure, bar.key, self._in_force if pickup else bar.metre, first)
        if written.label is not None:
            kind = SubElement(SubElement(measure, "direction", placement="above"), "direction-type")
            SubElement(kind, "rehearsal").text = _clean(written.label)
        if first and _NUMBER.fullmatch(self._tempo):
            _metronome(measure, self._tempo, self._in_force)
        self._content(measure, written)
        _barline(measure, "right", "light-heavy" if written.times or last else "", written)

    def _fits_as_pickup(self, metre: Metre) -> bool:
        whole = self._in_force
        return metre.length < whole.length and partial_metre(whole, metre.length * whole.unit / 4) == metre

    def _attributes(self, measure: Element, key: Key | None, metre: Metre, first: bool) -> None:
        """Divisions and clef, and the key and metre where they change."""
        if not first and key == self._key and metre == self._metre:
            return
        attributes = SubElement(measure, "attributes")
        if first:
            SubElement(attributes, "divisions").text = str(self._divisions)
        if key != self._key:
            element = SubElement(attributes, "key")
            SubElement(element, "fifths").text = str(key.signature if key else 0)
            SubElement(element, "mode").text = key.mode.label if key else "none"
        if metre != self._metre:
            element = SubElement(attributes, "time")
            SubElement(element, "beats").text = str(metre.beats)
            SubElement(element, "beat-type").text = str(metre.unit)
        if first:
            clef = SubElement(attributes, "clef")
            SubElement(clef, "sign").text = "G"
            SubElement(clef, "line").text = "2"
            style = SubElement(attributes, "measure-style")
            SubElement(style, "slash", {"type": "start", "use-stems": "no"})
        self._key, self._metre = key, metre

    def _content(self, measure: Element, written: _Written) -> None:
        """Chord symbols, each before the rests that last as long as it does."""
        bar = written.bar
        runs: list[tuple[Chord | None, bool, Fraction]] = []
        for cell, length in zip(bar.cells, _lengths(bar), strict=True):
            if runs and not cell.struck and cell.chord == runs[-1][0]:
                runs[-1] = runs[-1][0], runs[-1][1], runs[-1][2] + length
            else:
                runs.append((cell.chord, cell.struck, length))
        for index, (chord, struck, length) in enumerate(runs):
            if struck or [chord] != self._sounding or (index == 0 and written.from_elsewhere):
                _harmony(measure, chord)
            self._sounding = [chord]
            self._rests(measure, length, whole=len(runs) == 1)

    def _rests(self, measure: Element, length: Fraction, whole: bool) -> None:
        if whole:
            note = SubElement(measure, "note")
            SubElement(note, "rest", measure="yes")
            self._duration(note, length)
            return
        while length > 0:
            value = next((value for value in _TYPES if value <= length), length)
            dotted = value * 3 / 2 == length and value in _TYPES
            value = length if dotted else value
            note = SubElement(measure, "note")
            SubElement(note, "rest")
            self._duration(note, value)
            kind = _TYPES.get(value * 2 / 3 if dotted else value)
            if kind:
                SubElement(note, "type").text = kind
            if dotted:
                SubElement(note, "dot")
            length -= value

    def _duration(self, note: Element, length: Fraction) -> None:
        SubElement(note, "duration").text = str(length * self._divisions)
        SubElement(note, "voice").text = "1"


def _barline(measure: Element, location: str, style: str, written: _Written) -> None:
    """A bar line, where it has something to say."""
    left = location == "left"
    repeat = written.forward if left else written.times > 0
    ending = bool(written.ending) if left else bool(written.stopping)
    if not (style or repeat or ending):
        return
    barline = SubElement(measure, "barline", location=location)
    if style:
        SubElement(barline, "bar-style").text = style
    if ending and left:
        SubElement(barline, "ending", number=", ".join(map(str, written.ending)), type="start")
    elif ending:
        kind = "stop" if repeat else "discontinue"
        SubElement(barline, "ending", number=", ".join(map(str, written.stopping)), type=kind)
    if repeat:
        sign = SubElement(barline, "repeat", direction="forward" if left else "backward")
        if not left and not ending and written.times != 2:
            sign.set("times", str(written.times))


def _metronome(measure: Element, tempo: str, metre: Metre) -> None:
    """The tempo, in beats of the metre; three eighths are one beat (common practice)."""
    compound = metre.unit == 8 and metre.beats % 3 == 0
    unit = Fraction(1) if compound else Fraction(4, metre.unit)
    direction = SubElement(measure, "direction", placement="above")
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    SubElement(metronome, "beat-unit").text = _TYPES[unit]
    if compound:
        SubElement(metronome, "beat-unit-dot")
    SubElement(metronome, "per-minute").text = tempo
    quarters = float(tempo) * float(unit) * (1.5 if compound else 1)
    SubElement(direction, "sound", tempo=f"{quarters:g}")


def _harmony(measure: Element, chord: Chord | None) -> None:
    """The symbol of a chord, or of no chord."""
    harmony = SubElement(measure, "harmony")
    if chord is None:
        SubElement(SubElement(harmony, "root"), "root-step", text="").text = "C"
        SubElement(harmony, "kind", text=SILENCE).text = NONE
        return
    kind, degrees = kind_of(chord.quality)
    _pitch(harmony, "root", chord.root)
    SubElement(harmony, "kind", text=quality_name(chord.quality)).text = kind
    if chord.bass is not None:
        _pitch(harmony, "bass", chord.bass)
    for each in degrees:
        degree = SubElement(harmony, "degree", {"print-object": "no"})
        SubElement(degree, "degree-value").text = str(each.value)
        SubElement(degree, "degree-alter").text = str(each.alter)
        SubElement(degree, "degree-type").text = each.type


def _pitch(harmony: Element, name: str, pitch: Pitch) -> None:
    element = SubElement(harmony, name)
    SubElement(element, f"{name}-step").text = pitch.letter
    if pitch.alteration:
        SubElement(element, f"{name}-alter").text = str(pitch.alteration)


def _sections(chart: Chart) -> Iterator[_Written]:
    """The bars of all sections in playing order."""
    sections = list(chart.sections)
    if chart.form:
        labelled = {section.label: section for section in sections}
        sections = [section for section in sections if section.label is None]
        sections += [labelled[label] for label in chart.form]
    for section in sections:
        for index, written in enumerate(_items(section.body)):
            if index == 0:
                written.label = section.label
            yield written


def _items(body: Sequence[Bar | Repeat]) -> Iterator[_Written]:
    for item in body:
        if isinstance(item, Bar):
            yield _Written(item)
        else:
            yield from _repeat(item)


def _repeat(repeat: Repeat) -> Iterator[_Written]:
    """A repeat with its signs, or written out where its signs would not be understood everywhere."""
    common = list(_unfolded(repeat.body))
    endings = repeat.endings
    if len(endings) == 1:
        common, endings = [*common, *endings[0].body], ()
    in_order = [number for ending in endings for number in ending.numbers] in ([], list(range(1, repeat.times + 1)))
    if repeat.times > MOST_TIMES or not in_order:
        for time in range(1, repeat.times + 1):
            yield from map(_Written, common)
            for ending in endings:
                if time in ending.numbers:
                    yield from map(_Written, ending.body)
        return
    bars = [_Written(bar) for bar in common]
    bars[0].forward = True
    if not endings:
        bars[-1].times = repeat.times
    for ending in endings:
        own = [_Written(bar) for bar in ending.body]
        own[0].ending = ending.numbers
        own[-1].stopping = ending.numbers
        own[-1].times = 0 if ending is endings[-1] and len(ending.numbers) == 1 else 2
        bars += own
    yield from bars


def _unfolded(body: Sequence[Bar | Repeat]) -> Iterator[Bar]:
    for item in body:
        if isinstance(item, Bar):
            yield item
        else:
            for written in _repeat_plainly(item):
                yield written.bar


def _repeat_plainly(repeat: Repeat) -> Iterator[_Written]:
    for time in range(1, repeat.times + 1):
        yield from map(_Written, _unfolded(repeat.body))
        for ending in repeat.endings:
            if time in ending.numbers:
                yield from map(_Written, ending.body)


def _lengths(bar: Bar) -> list[Fraction]:
    """How long each cell lasts, in quarter notes."""
    return [beats * 4 / bar.metre.unit for beats in bar.beats()]


def _head(score: Element, chart: Chart) -> None:
    """Title, people, other headers, and the list of parts."""
    if title := _clean(chart.title or ""):
        SubElement(SubElement(score, "work"), "work-title").text = title
    identification = SubElement(score, "identification")
    if by := _clean(chart.header("by") or ""):
        SubElement(identification, "creator", type="composer").text = by
    kept = [(name, _clean(chart.header(name) or "")) for name in KEPT_FIELDS]
    if any(value for _, value in kept):
        fields = SubElement(identification, "miscellaneous")
        for name, value in kept:
            if value:
                SubElement(fields, "miscellaneous-field", name=name).text = value
    if len(identification) == 0:
        score.remove(identification)
    part = SubElement(SubElement(score, "part-list"), "score-part", id="P1")
    SubElement(part, "part-name").text = "Chords"


def _clean(text: str) -> str:
    """A text without signs that XML cannot hold."""
    return _NO_XML.sub("", text)

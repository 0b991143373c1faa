"""Reads the chords of a JAMS file: Harte labels in time, put into bars by annotated beats.

Conventions:
    * The first ``chord`` (or ``chord_harte``) annotation that has chords is read; the first of the beats, segments and
      keys each. Times are in seconds; a remark gives the time of what it is about.
    * A bar starts at every beat with the position 1, and has as many beats as are counted up to the next. The metre is
      the one that most bars have; others have their own. Six, nine and twelve beats are eighths, else beats are
      quarters, unless ``beat_position`` says otherwise. Beats are carried on, evenly, as far as chords sound beyond.
    * A chord begins on the nearest beat; where several would begin on one, on the nearest half or quarter of a beat.
      Where nothing is annotated between two chords for half a second or more, there is silence.
    * Without beats that tell their position every chord is one bar of 4/4, and a remark says so.
    * A section starts at the bar nearest to the start of a segment. A key holds in the bars of which it has the middle;
      one without a mode gets it from the chords.

Source: E. J. Humphrey et al., "JAMS: A JSON annotated music specification for reproducible MIR research", ISMIR 2014,
and the namespaces of its reference implementation.
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from grammar.bar_content import MOST_CELLS, Run, content_of
from grammar.building import DraftBar, DraftSection, build_chart, header_value, section_label
from grammar.harte import harte_or_fault
from grammar.jams_beats import MOST_BEATS, Beat, beats_of_bars, carried_on, most_common, pace_of, places_of
from grammar.keys import read_key
from grammar.symbols import read_pitch
from shared.chart import Metre
from shared.chord import Chord
from shared.errors import Fault, ReadingError
from shared.foreign import ForeignTune
from shared.key import Key
from shared.pitch import Pitch

#: The longest text, in characters.
MOST_CHARACTERS = 8_000_000
_CHORDS = ("chord", "chord_harte")
_BEATS = ("beat_position", "beat")
_SEGMENTS = (
    "segment_open",
    "segment_salami_function",
    "segment_salami_upper",
    "segment_tut",
    "segment_salami_lower",
    "multi_segment",
)
_KEYS = ("key_mode",)
_KEY = re.compile(r"(?P<tonic>[A-G][b#]?)(?::(?P<mode>[a-z]+))?")
_LONGEST_BAR = 32
_EIGHTHS = (6, 9, 12)
_MOST_SHOWN = 40
#: The shortest silence between two chords, and the shortest time from beat to beat, in seconds.
_SILENCE = 0.5
_SHORTEST_BEAT = 0.02


@dataclass(frozen=True, slots=True)
class _Event:
    """One observation: its start and end in seconds, and its value."""

    start: float
    end: float
    value: Any


@dataclass(frozen=True, slots=True)
class _Change:
    """A chord (or silence) and the second at which it begins."""

    start: float
    end: float
    chord: Chord | None


def read_jams(text: str) -> tuple[ForeignTune, ...]:
    """The tune that a JAMS file holds.

    Args:
        text: The whole text of a file.

    Returns:
        One tune, with a chart wherever there is a chord.

    >>> chord = '{"time": 0, "duration": 2, "value": "A:min"}'
    >>> tune, = read_jams('{"annotations": [{"namespace": "chord", "data": [' + chord + ']}]}')
    >>> tune.chart.sections[0].body[0].cells[0].written
    'Am'
    """
    if len(text) > MOST_CHARACTERS:
        fault = Fault(f"the file has {len(text):,} characters", expected=f"at most {MOST_CHARACTERS:,}")
        return (ForeignTune("1", None, None, (fault,)),)
    try:
        jams = json.loads(text.removeprefix("\ufeff"))
    except json.JSONDecodeError as error:
        return (ForeignTune("1", None, None, (Fault(f"this is no JSON: {error.msg}", error.lineno, error.colno),)),)
    except (ValueError, RecursionError):
        return (ForeignTune("1", None, None, (Fault("this is JSON beyond all use: a number or a nesting"),)),)
    if not isinstance(jams, dict) or not isinstance(jams.get("annotations"), list):
        fault = Fault("this is no JAMS file", expected="an object with a list of annotations")
        return (ForeignTune("1", None, None, (fault,)),)
    return (_Reader(jams).tune(),)


class _Reader:
    """Makes the chart of one file."""

    def __init__(self, jams: dict[str, Any]) -> None:
        self._remarks: list[Fault] = []
        self._annotations = [each for each in jams["annotations"] if isinstance(each, dict)]
        metadata = jams.get("file_metadata")
        said = metadata if isinstance(metadata, dict) else {}
        values = {name: said.get(name) for name in ("title", "artist")}
        self._said = {name: header_value(value) if isinstance(value, str) else "" for name, value in values.items()}

    def tune(self) -> ForeignTune:
        """The tune."""
        title = self._said["title"] or None
        changes = list(_with_silence([self._change(event) for event in self._events(_CHORDS)]))
        if not any(change.chord for change in changes):
            fault = Fault("no chords", expected="an annotation of the namespace “chord” with Harte labels")
            return ForeignTune("1", title, None, (fault,), tuple(self._remarks))
        bars = self._bars(changes)
        headers = [("title", title or ""), ("by", self._said["artist"])]
        chart = build_chart(headers, self._sections(bars))
        return ForeignTune("1", title, chart, (), tuple(self._remarks))

    def _remark(self, time: float, message: str, fault: Fault | None = None) -> None:
        expected, nearest = (fault.expected, fault.nearest) if fault else ("", "")
        self._remarks.append(Fault(f"at {time:g} s: {message}", expected=expected, nearest=nearest))

    def _events(self, namespaces: Sequence[str]) -> list[_Event]:
        """The observations of the first annotation of these namespaces that has some, in order of time."""
        found = [(each, list(_observed(each))) for name in namespaces for each in self._annotations if _is(each, name)]
        full = [(each, events) for each, events in found if events]
        if len(full) > 1 and namespaces == _CHORDS:
            message = f"{len(full)} chord annotations, of which the first is read"
            self._remarks.append(Fault(message))
        if not found:
            return []
        chosen, events = full[0] if full else found[0]
        if lost := len(_records(chosen)) - len(events):
            message = f"{lost} of the observations in “{chosen['namespace']}” are left out"
            self._remarks.append(Fault(message, expected="a time in seconds for each"))
        if not events:
            return []
        events = sorted(events, key=lambda event: event.start)
        starts = [event.start for event in events[1:]]
        return [
            event if event.end > event.start else _Event(event.start, following, event.value)
            for event, following in zip(events, [*starts, events[-1].end], strict=True)
        ]

    def _change(self, event: _Event) -> _Change:
        if not isinstance(event.value, str):
            self._remark(event.start, "a chord that is no text is silent")
            return _Change(event.start, event.end, None)
        read = harte_or_fault(event.value.strip())
        if isinstance(read, Fault):
            self._remark(event.start, read.message + "; it is silent", read)
            return _Change(event.start, event.end, None)
        return _Change(event.start, event.end, read)

    def _bars(self, changes: Sequence[_Change]) -> list[tuple[float, DraftBar]]:
        """The bars and when they start."""
        beats, units = self._beats()
        bars = beats_of_bars(beats)
        common = most_common(len(bar) for bar in bars[1:-1] or bars)
        if not bars or max(map(len, bars)) > _LONGEST_BAR:
            self._remarks.append(Fault("no beats that tell their place in the bar, so every chord is one bar of 4/4"))
            return self._bar_by_chord(changes)
        sounding = [change for change in changes if change.chord]
        beats = carried_on(beats, common, sounding[0].start, max(change.end for change in sounding))
        bars = beats_of_bars(beats)
        if len(bars[-1]) < common:
            missing = common - len(bars[-1])
            beats = carried_on(beats, common, beats[0].time, beats[-1].time + (missing + 1) * pace_of(beats))
            bars = beats_of_bars(beats)
        places = places_of([change.start for change in changes], [beat.time for beat in beats], pace_of(beats))
        for change in (changes[i] for i, place in enumerate(places) if place is None):
            if change.chord:
                self._remark(change.start, f"{change.chord.name} is too short to stand in a bar and is left out")
        placed = [(place, change.chord) for place, change in zip(places, changes, strict=True) if place is not None]
        unit = units or (8 if common in _EIGHTHS else 4)
        made: list[tuple[float, DraftBar]] = []
        first = 0
        keys = self._keys()
        for number, bar in enumerate(bars):
            runs = list(_runs(placed, first, len(bar)))
            first += len(bar)
            pickup = number == 0 and len(bar) < common
            if pickup and all(run.chord is None for run in runs):
                continue
            metre = Metre(len(bar), unit)
            middle = (bar[0].time + bar[-1].time) / 2
            content = content_of(runs, metre)
            made.append((bar[0].time, DraftBar(content, metre, len(bar) != common, _in_force(keys, middle))))
        return made

    def _bar_by_chord(self, changes: Sequence[_Change]) -> list[tuple[float, DraftBar]]:
        keys, metre = self._keys(), Metre()
        return [
            (
                change.start,
                DraftBar(
                    content_of([Run(change.chord, Fraction(metre.beats))], metre),
                    metre,
                    False,
                    _in_force(keys, (change.start + change.end) / 2),
                ),
            )
            for change in changes
        ]

    def _beats(self) -> tuple[list[Beat], int]:
        """The beats, and the note value of one where that is said, else 0; no beats where places are not told."""
        beats: list[Beat] = []
        units: Counter[int] = Counter()
        for event in self._events(_BEATS):
            value = event.value
            if isinstance(value, dict):
                unit = value.get("beat_units")
                if isinstance(unit, int) and unit in (1, 2, 4, 8, 16, 32):
                    units[unit] += 1
                value = value.get("position")
            known = isinstance(value, (int, float)) and not isinstance(value, bool) and value == value
            if known and 1 <= value <= _LONGEST_BAR and value == int(value):
                beats.append(Beat(event.start, int(value)))
            elif beats and not known:
                beats.append(Beat(event.start, beats[-1].position + 1))
        beats = [b for i, b in enumerate(beats) if i == 0 or b.time - beats[i - 1].time > _SHORTEST_BEAT]
        told = any(beat.position == 1 for beat in beats) and 2 <= len(beats) <= MOST_BEATS
        return (beats if told else []), (units.most_common(1)[0][0] if units else 0)

    def _keys(self) -> list[tuple[float, Key | Pitch]]:
        """The keys and when they start; a tonic alone where no mode is told."""
        keys: list[tuple[float, Key | Pitch]] = []
        for event in self._events(_KEYS):
            found = _KEY.fullmatch(event.value.strip()) if isinstance(event.value, str) else None
            if event.value == "N":
                continue
            try:
                if found is None:
                    raise ReadingError([Fault("", expected="a key such as Eb:minor, or N")])
                tonic, mode = found.group("tonic"), found.group("mode")
                keys.append((event.start, read_key(f"{tonic} {mode}") if mode else read_pitch(tonic)))
            except ReadingError as error:
                message = f"“{str(event.value)[:_MOST_SHOWN]}” is not a key, so the one before stays in force"
                self._remark(event.start, message, error.faults[0])
        return keys

    def _sections(self, bars: Sequence[tuple[float, DraftBar]]) -> list[DraftSection]:
        """The bars in the sections that segments make."""
        starts = [start for start, _ in bars]
        labels: dict[int, str | None] = {}
        for event in self._events(_SEGMENTS):
            value = event.value.get("label") if isinstance(event.value, dict) else event.value
            if isinstance(event.value, dict) and event.value.get("level", 0) != 0:
                continue
            if isinstance(value, str) and event.end > starts[0] and event.start <= starts[-1]:
                nearest = min(range(len(starts)), key=lambda i: abs(starts[i] - event.start))
                labels[nearest] = section_label(value.replace("_", " ")) or labels.get(nearest)
        bounds = sorted({0, *(index for index, label in labels.items() if label)})
        drafts = [bar for _, bar in bars]
        ends = [*bounds[1:], len(bars)]
        return [DraftSection(labels.get(a), tuple(drafts[a:b])) for a, b in zip(bounds, ends, strict=True)]


def _with_silence(changes: Sequence[_Change]) -> Iterator[_Change]:
    """The chords, with silence between those that do not follow on each other."""
    for index, change in enumerate(changes):
        if index and change.start - changes[index - 1].end >= _SILENCE:
            yield _Change(changes[index - 1].end, change.start, None)
        yield change


def _is(annotation: dict[str, Any], namespace: str) -> bool:
    return annotation.get("namespace") == namespace


def _records(annotation: dict[str, Any]) -> list[Any]:
    """The observations of an annotation: a list of records, or (as older files have it) a record of lists."""
    data = annotation.get("data")
    if isinstance(data, dict):
        columns = [data.get(name) for name in ("time", "duration", "value")]
        if not all(isinstance(column, list) for column in columns):
            return []
        return [{"time": t, "duration": d, "value": v} for t, d, v in zip(*columns, strict=False)]
    return data if isinstance(data, list) else []


def _observed(annotation: dict[str, Any]) -> Iterator[_Event]:
    """The observations of an annotation that have a time."""
    for record in _records(annotation):
        if isinstance(record, dict):
            start, duration = _seconds(record.get("time")), _seconds(record.get("duration"))
            if start is not None:
                yield _Event(start, start + (duration or 0.0), record.get("value"))


def _seconds(value: object) -> float | None:
    """A time in seconds, None where it is none."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return float(value) if abs(value) < 1e6 and math.isfinite(value) else None


def _runs(placed: Sequence[tuple[Fraction, Chord | None]], first: int, beats: int) -> Iterator[Run]:
    """What a bar of so many beats, from beat ``first`` on, holds."""
    inside = [(place - first, chord) for place, chord in placed if first <= place < first + beats][:MOST_CELLS]
    before = next((chord for place, chord in reversed(placed) if place < first), None)
    begun = any(place < first for place, _ in placed)
    if not inside or inside[0][0] > 0:
        end = inside[0][0] if inside else Fraction(beats)
        yield Run(before, end, struck=not begun or before is None)
    bounds = [*(place for place, _ in inside), Fraction(beats)]
    for index, (_, chord) in enumerate(inside):
        yield Run(chord, bounds[index + 1] - bounds[index])


def _in_force(keys: Sequence[tuple[float, Key | Pitch]], time: float) -> Key | Pitch | None:
    """The key at a time; before the first one that one holds."""
    begun = [key for start, key in keys if start <= time]
    return begun[-1] if begun else keys[0][1] if keys else None

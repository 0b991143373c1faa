"""Reads the measures of one part of a MusicXML score: chords and where they stand, keys, metres, and signs of order.

Conventions:
    * Positions and lengths are in quarter notes from the start of the measure; a chord stands where the notes written
      before it have led (``divisions``, ``backup`` and ``forward`` understood), moved by its ``offset``.
    * A measure lasts as long as its notes do; ``content`` is None where it has none.
    * A change of key or metre behind the first note of a measure holds from the next one.
    * What cannot be read is remarked on, with the number of the measure, and costs nothing else.
    * Jumps are read from ``sound`` (and ``barline``) attributes, from words such as "D.C. al Fine" and from the signs
      of segno and coda. The first of two bare coda signs is where the jump starts.

Source: W3C, MusicXML 4.0.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from grammar.building import section_label
from grammar.musicxml_files import line_of, text_at, texts
from grammar.musicxml_harmony import MODES, ReadHarmony, key_of, read_harmony
from grammar.musicxml_numbers import decimal, ending_numbers, metre_of
from grammar.musicxml_order import MOST_TIMES, Jump, Signs
from shared.chart import Metre
from shared.errors import Fault, ReadingError
from shared.key import Key

_DACAPO = re.compile(r"\bd\.?\s?c\b|\bda\s+capo\b")
_DALSEGNO = re.compile(r"\bd\.?\s?s\b|\bdal\s+segno\b|\bdel\s+segno\b")
_AL = re.compile(r"\bal\s+(fine|coda)\b")
_TOCODA = re.compile(r"\b(to|alla)\s+(the\s+)?(coda\b|[⊕𝄌])|^al\s+coda\b")
_CODA = re.compile(r"^(coda|[⊕𝄌])(\s|$)")
_FINE = re.compile(r"^(al\s+)?fine\b\W*$")
_NUMBER = re.compile(r"\d+(\.\d+)?")
_MOST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Signature:
    """A key as written: fifths (sharps +, flats -) and the mode's name, empty where none is given."""

    fifths: int
    mode: str = ""

    @property
    def key(self) -> Key | None:
        """The key, None where the mode is not given."""
        return key_of(self.fifths, self.mode)


@dataclass(frozen=True, slots=True)
class Placed:
    """A chord (or silence) and where it stands."""

    position: Fraction
    read: ReadHarmony


@dataclass(slots=True)
class Measure:
    """One measure.

    Attributes:
        number: Its number as written.
        line: Its line in the text.
        signature: The key in force, None where none is written.
        metre: The metre in force; None without one (senza misura).
        content: How long its notes last, None where it has none.
        chords: Its chords, by position, no two at one.
        again: 0, or of how many measures before this one the first is played again.
        signs: The signs of order.
    """

    number: str
    line: int
    signature: Signature | None = None
    metre: Metre | None = None
    content: Fraction | None = None
    chords: list[Placed] = field(default_factory=list)
    again: int = 0
    signs: Signs = field(default_factory=Signs)


@dataclass(frozen=True, slots=True)
class Part:
    """The measures of a part, its tempo (empty where none is given) and remarks."""

    measures: tuple[Measure, ...]
    tempo: str
    remarks: tuple[Fault, ...]

    @property
    def count(self) -> tuple[int, int]:
        """How many chords it has that can be read, and how many symbols in all."""
        chords = [placed.read.chord for measure in self.measures for placed in measure.chords]
        return sum(chord is not None for chord in chords), len(chords)


def read_part(measures: Iterable[Element]) -> Part:
    """The measures of one part.

    Args:
        measures: Its ``measure`` elements (or, of a score written measure by measure, their ``part`` elements).
    """
    reader = _PartReader()
    read = tuple(reader.measure(index, element) for index, element in enumerate(measures))
    reader.settle(read)
    return Part(read, reader.tempo, tuple(reader.remarks))


class _PartReader:
    """Reads measure after measure, keeping what is in force."""

    def __init__(self) -> None:
        self.remarks: list[Fault] = []
        self.tempo = ""
        self._divisions = Fraction(1)
        self._signature: Signature | None = None
        self._metre: Metre | None = Metre()
        self._again = 0
        self._bare_codas: list[tuple[int, int]] = []
        self._late_signs: list[tuple[str, str | bool]] = []

    def measure(self, index: int, element: Element) -> Measure:
        """One measure."""
        number = (element.get("number") or str(index + 1))[:_MOST_SHOWN]
        self._here = Measure(number, line_of(element))
        self._index = index
        self._position = self._end = Fraction(0)
        self._noted = False
        self._found: list[tuple[Fraction, ReadHarmony, int]] = []
        self._here.signature, self._here.metre = self._signature, self._metre
        self._here.again = self._again
        for name, identity in self._late_signs:
            setattr(self._here.signs, name, identity)
        self._late_signs = []
        for child in element:
            self._child(child)
        if self._noted and self._end > 0:
            self._here.content = self._end
        self._place_chords()
        return self._here

    def settle(self, measures: Sequence[Measure]) -> None:
        """Tells from which bare coda sign the jump starts, and to which it leads."""
        signs = [measure.signs for measure in measures]
        bare = [(i, k) for i, k in self._bare_codas if all(s.coda is s.tocoda is None for s in signs[i : k + 1])]
        leads = len(bare) > 1 or any(each.coda is not None for each in signs)
        if bare and leads and not any(each.tocoda is not None for each in signs):
            signs[bare.pop(0)[0]].tocoda = ""
        for _, index in bare:
            if index < len(signs):
                signs[index].coda = ""

    def _remark(self, message: str, element: Element, expected: str = "") -> None:
        line = line_of(element) or self._here.line
        self.remarks.append(Fault(f"measure {self._here.number}: {message}", line, expected=expected))

    def _child(self, child: Element) -> None:
        match child.tag:
            case "note":
                self._note(child)
            case "backup":
                self._position = max(Fraction(0), self._position - self._duration(child))
            case "forward":
                self._advance(self._duration(child))
            case "attributes":
                self._attributes(child)
            case "harmony":
                self._harmony(child)
            case "direction":
                self._direction(child)
            case "sound":
                self._sound(child, self._position)
            case "barline":
                self._barline(child)

    def _note(self, note: Element) -> None:
        if note.find("chord") is not None or note.find("grace") is not None:
            return
        duration = self._duration(note)
        rest = note.find("rest")
        if rest is not None and rest.get("measure") == "yes" and self._here.metre is not None:
            duration = min(duration, self._here.metre.length) or self._here.metre.length
        self._advance(duration)

    def _advance(self, duration: Fraction) -> None:
        self._noted = True
        self._position += duration
        self._end = max(self._end, self._position)

    def _duration(self, element: Element) -> Fraction:
        text = text_at(element, "duration")
        length = decimal(text)
        if length is None or length < 0:
            if text:
                self._remark(f"“{text[:_MOST_SHOWN]}” is no duration", element, "a number")
            return Fraction(0)
        return length / self._divisions

    def _offset(self, element: Element) -> Fraction:
        return (decimal(text_at(element, "offset")) or Fraction(0)) / self._divisions

    def _attributes(self, attributes: Element) -> None:
        divisions = text_at(attributes, "divisions")
        if divisions:
            number = decimal(divisions)
            if number is None or number <= 0:
                self._remark(f"“{divisions[:_MOST_SHOWN]}” are no divisions", attributes, "a number above 0")
            else:
                self._divisions = number
        if (decimal(text_at(attributes, "transpose/chromatic")) or 0) % 12:
            self._remark("the part is written for a transposing instrument, and its chords stay as written", attributes)
        at_once = self._position == 0
        for key in attributes.iterfind("key"):
            if key.get("number", "1") == "1":
                self._key(key)
        for time in attributes.iterfind("time"):
            if time.get("number", "1") == "1":
                self._time(time)
        if at_once:
            self._here.signature, self._here.metre = self._signature, self._metre
        for again in attributes.iterfind("measure-style/measure-repeat"):
            number = decimal(text_at(again, ".")) or Fraction(1)
            self._again = int(number) if again.get("type") == "start" and 1 <= number <= 8 else 0
            self._here.again = self._again

    def _key(self, key: Element) -> None:
        fifths = decimal(text_at(key, "fifths"))
        mode = text_at(key, "mode").lower()
        if fifths is None or fifths.denominator != 1 or abs(fifths) > 7:
            self._remark("a key signature that is not read, so the one before stays", key, "fifths from -7 to 7")
        elif mode == "none":
            if self._signature is not None:
                self._remark("no key from here on, so the one before stays", key)
        elif mode and mode not in MODES:
            self._remark(f"“{mode[:_MOST_SHOWN]}” is no mode, so it is found", key, ", ".join(MODES))
            self._signature = Signature(int(fifths))
        else:
            self._signature = Signature(int(fifths), mode)

    def _time(self, time: Element) -> None:
        if time.find("senza-misura") is not None:
            self._metre = None
            return
        beats, types = list(texts(time, "beats")), list(texts(time, "beat-type"))
        try:
            self._metre = metre_of(beats, types)
        except ReadingError:
            written = f"{'+'.join(beats)}/{'+'.join(types)}"[:_MOST_SHOWN]
            self._remark(f"“{written}” is no metre, so the one before stays", time, "beats and beat-type such as 3, 4")

    def _harmony(self, element: Element) -> None:
        signature = self._here.signature
        key = None
        if signature is not None:
            key = signature.key or key_of(signature.fifths, "major")
        if element.get("type") == "alternate":
            self._remark("an alternative chord is left out", element)
            return
        read = read_harmony(element, key)
        if read.problem:
            self._remark(f"{read.problem}; no chord stands in its place", element, "a root A to G and a kind")
        elif read.note:
            self._remark(read.note, element)
        position = max(Fraction(0), self._position + self._offset(element))
        self._found.append((position, read, line_of(element)))

    def _place_chords(self) -> None:
        """Puts the chords in order; of two in one place the first stays."""
        metre = self._here.metre
        length = self._here.content or (metre.length if metre else None)
        for position, read, line in sorted(self._found, key=lambda found: found[0]):
            name = read.chord.name if read.chord else "no chord"
            why = ""
            if length is not None and position >= length:
                why = "stands behind the end of the measure"
            elif self._here.chords and self._here.chords[-1].position == position:
                why = "stands in the same place as the chord before it"
            if why:
                self.remarks.append(Fault(f"measure {self._here.number}: {name} {why} and is left out", line))
            else:
                self._here.chords.append(Placed(position, read))

    def _direction(self, direction: Element) -> None:
        position = self._position + self._offset(direction)
        signs = self._here.signs
        for kind in direction.iterfind("direction-type/*"):
            if kind.tag == "rehearsal":
                signs.label = signs.label or section_label("".join(kind.itertext()))
            elif kind.tag == "segno":
                self._target("segno", "", position)
            elif kind.tag == "coda":
                self._bare_codas.append((self._index, self._index + self._behind(position)))
            elif kind.tag == "metronome" and not self.tempo:
                found = _NUMBER.search(text_at(kind, "per-minute"))
                self.tempo = found.group() if found else ""
        words = " ".join(texts(direction, "direction-type/words")).lower().replace("d. c", "d.c").replace("d. s", "d.s")
        if words:
            self._words(words)
        for sound in direction.iterfind("sound"):
            self._sound(sound, position)

    def _target(self, name: str, identity: str, position: Fraction) -> None:
        """A segno or coda to which a jump leads: at the end of a measure it is meant for the next one."""
        if self._behind(position):
            self._late_signs.append((name, identity))
        elif getattr(self._here.signs, name) in (None, ""):
            setattr(self._here.signs, name, identity)

    def _behind(self, position: Fraction) -> bool:
        """Whether a position is the end of the measure."""
        length = self._here.metre.length if self._here.metre else self._end
        return self._noted and position > 0 and position >= max(self._end, length)

    def _words(self, words: str) -> None:
        signs = self._here.signs
        al = _AL.search(words)
        if _DACAPO.search(words):
            signs.jump = signs.jump or Jump(None)
        elif _DALSEGNO.search(words):
            signs.jump = signs.jump or Jump("")
        elif _TOCODA.search(words):
            signs.tocoda = signs.tocoda or ""
            return
        elif _CODA.match(words):
            signs.coda = signs.coda or ""
            return
        elif _FINE.match(words):
            signs.fine = True
            return
        if al and signs.jump:
            signs.jump = Jump(signs.jump.segno, al.group(1))

    def _sound(self, sound: Element, position: Fraction) -> None:
        signs = self._here.signs
        if sound.get("dacapo") == "yes":
            signs.jump = Jump(None, signs.jump.al if signs.jump else "")
        if (segno := sound.get("dalsegno")) is not None:
            signs.jump = Jump(segno, signs.jump.al if signs.jump else "")
        if (to_coda := sound.get("tocoda")) is not None:
            signs.tocoda = to_coda
        if sound.get("fine") is not None:
            signs.fine = True
        for name in ("segno", "coda"):
            if (identity := sound.get(name)) is not None:
                self._target(name, identity, position)
        if sound.get("forward-repeat") == "yes":
            signs.forward = True
        if not self.tempo and (tempo := decimal(sound.get("tempo", ""))):
            self.tempo = f"{float(tempo):g}" if 0 < tempo < 1000 else ""

    def _barline(self, barline: Element) -> None:
        location = barline.get("location", "right")
        signs = self._here.signs
        for name in ("segno", "coda"):
            if barline.find(name) is not None or barline.get(name) is not None:
                identity = barline.get(name, "")
                if location == "left":
                    setattr(signs, name, identity)
                else:
                    self._late_signs.append((name, identity))
        ending = barline.find("ending")
        if ending is not None:
            if ending.get("type") == "start":
                signs.ending = ending_numbers(ending.get("number", ""))
            else:
                signs.ending_stops = True
        repeat = barline.find("repeat")
        if repeat is None:
            return
        if location == "middle":
            self._remark("a repeat sign inside the measure is left out", barline)
        elif repeat.get("direction") == "forward":
            if location == "right" and self._noted:
                self._late_signs.append(("forward", True))
            else:
                signs.forward = True
        elif repeat.get("direction") == "backward":
            signs.times = self._times(repeat)
            signs.after_jump = repeat.get("after-jump") == "yes"

    def _times(self, repeat: Element) -> int:
        written = repeat.get("times", "2")
        times = decimal(written)
        if times is None or times.denominator != 1 or not 0 <= times <= MOST_TIMES:
            self._remark(f"“{written[:_MOST_SHOWN]}” is no number of times", repeat, f"2 to {MOST_TIMES}")
            return 2
        return max(1, int(times))

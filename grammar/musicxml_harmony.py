"""Reads one ``harmony`` element of MusicXML: root, function or numeral, kind, inversion, bass and degrees.

Conventions:
    * ``None`` as a chord is no chord; what cannot be read is no chord either, and says why.
    * A numeral, or a function, is a step of the scale that the key's signature gives (in A minor 7 is G, and G# under a
      harmonic or melodic minor ``numeral-mode``); without a mode the signature's major scale is meant. Several numerals
      in one harmony are an applied chord, the later ones counted from the major scale of the tonic: 5 of 2 is V of ii.
    * Several chords stacked in one harmony: the first is read.
    * A kind that is ``other``, or unknown, is read from its text, then from the degrees added to the root.
    * The root of a functional sixth (Neapolitan, Italian, French, German) is its own where it stands where that chord
      has it in the key (b2, b6); else it is the tonic that the chord leads to.

Source: W3C, MusicXML 4.0, element ``harmony`` and its children.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from grammar.bar_content import writable
from grammar.musicxml_files import text_at
from grammar.musicxml_kinds import ALL_KINDS, FUNCTIONAL_SIXTHS, KINDS, NONE, OTHER, WrittenDegree, with_degrees
from grammar.signs import hyphened, plain
from grammar.symbols import filled, symbol_or_none
from shared.chord import Chord
from shared.key import Key, Mode
from shared.pitch import LETTERS, Degree, Pitch, alteration_of, readable
from shared.quality import Quality

#: The modes of the standard by name.
MODES = {mode.label: mode for mode in Mode} | {"ionian": Mode.MAJOR, "aeolian": Mode.MINOR}
#: Kinds by their name, of which some programs miss the capital.
_KINDS = {name.casefold(): name for name in ALL_KINDS}
_FUNCTION = re.compile(r"([#b]*)([IViv]+)")
_ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6, "VII": 7}
_ROOTS = ("root", "numeral", "function")
#: By how much a numeral's mode raises steps of the natural minor scale.
_RAISED = {"harmonic minor": {7: 1}, "melodic minor": {6: 1, 7: 1}}
_MOST_ALTERED = 3
_MOST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class ReadHarmony:
    """What a harmony says.

    Attributes:
        chord: The chord; None for no chord, or where it cannot be read.
        problem: Why it cannot be read, as the end of a sentence; empty where it can.
        note: What is worth saying of one that could be read; empty where nothing is.
    """

    chord: Chord | None
    problem: str = ""
    note: str = ""


class _Unreadable(Exception):
    """Why a harmony cannot be read."""


def read_harmony(element: Element, key: Key | None) -> ReadHarmony:
    """The chord of a ``harmony`` element.

    Args:
        element: The element.
        key: The key in force, from which numerals are counted; None where no key is written.

    >>> from xml.etree.ElementTree import fromstring
    >>> read_harmony(fromstring('''<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root>
    ...     <kind>half-diminished</kind><bass><bass-step>F</bass-step></bass></harmony>'''), None).chord.name
    'Bbm7b5/F'
    """
    groups: list[list[Element]] = []
    for child in element:
        if child.tag in _ROOTS:
            groups.append([child])
        elif groups and child.tag in ("kind", "inversion", "bass", "degree"):
            groups[-1].append(child)
    try:
        if not groups:
            if text_at(element, "kind") == NONE:
                return ReadHarmony(None)
            raise _Unreadable("a harmony without root")
        return _chord(groups, key)
    except _Unreadable as reason:
        return ReadHarmony(None, str(reason))
    except ValueError as error:
        return ReadHarmony(None, str(error)[:_MOST_SHOWN])


def _chord(groups: Sequence[Sequence[Element]], key: Key | None) -> ReadHarmony:
    first = groups[0]
    kind = next((child for child in first if child.tag == "kind"), None)
    said = "" if kind is None else " ".join((kind.text or "").split())
    name = _KINDS.get(said.casefold(), said)
    if name == NONE:
        return ReadHarmony(None)
    root, note = _root(groups, key)
    degrees = [_written_degree(child) for child in first if child.tag == "degree"]
    bass = next((child for child in first if child.tag == "bass"), None)
    below = None if bass is None else _pitch(bass, "bass")
    if name in FUNCTIONAL_SIXTHS:
        sixth = FUNCTIONAL_SIXTHS[name]
        own = key is not None and root.degree_in(key.tonic) == sixth.degree
        root = root if own else root.up(sixth.degree)
        quality = with_degrees(sixth.quality, degrees)
        below = below or (root.up(sixth.bass) if sixth.bass else None)
    else:
        quality = _quality(name, kind, degrees, root)
    below = below or _inverted(first, root, quality)
    chord = writable(Chord(root, quality, below))
    if chord is None:
        raise _Unreadable(f"the tones {quality} have no chord name")
    if name in FUNCTIONAL_SIXTHS:
        note = f"“{name}” is read as {chord.name}"
    return ReadHarmony(chord, note=note)


def _root(groups: Sequence[Sequence[Element]], key: Key | None) -> tuple[Pitch, str]:
    """The root of the first chord, and what is worth saying of it."""
    heads = [group[0] for group in groups]
    if heads[0].tag == "root":
        note = "the first of several stacked chords is read" if len(heads) > 1 else ""
        return _pitch(heads[0], "root"), note
    applied = [_step(head) for head in heads if head.tag != "root"]
    tonic = _tonic_of_numeral(heads[0]) or key
    if tonic is None:
        raise _Unreadable("a numeral where no key is written")
    number, alter, mode = applied[-1]
    pitch = _in_scale(tonic, number, alter + _RAISED.get(mode, {}).get(number, 0))
    for number, alter, _ in reversed(applied[:-1]):
        pitch = pitch.up(Degree(number, alter))
    return pitch, ""


def _step(head: Element) -> tuple[int, int, str]:
    """The number of a numeral or function (1 to 7), its alteration and the mode it names."""
    if head.tag == "function":
        written = " ".join("".join(head.itertext()).split())
        found = _FUNCTION.match(plain(written))
        if not found or found.group(2).upper() not in _ROMAN:
            raise _Unreadable(f"“{written[:_MOST_SHOWN]}” is no function such as II or bVI")
        return _ROMAN[found.group(2).upper()], alteration_of(found.group(1)), ""
    number = _whole(text_at(head, "numeral-root"), "numeral-root")
    if not 1 <= number <= 7:
        raise _Unreadable(f"{number} is no numeral from 1 to 7")
    return (
        number,
        _whole(text_at(head, "numeral-alter") or "0", "numeral-alter"),
        text_at(head, "numeral-key/numeral-mode"),
    )


def _tonic_of_numeral(head: Element) -> Key | None:
    """The key that a numeral brings with it."""
    if head.find("numeral-key") is None:
        return None
    fifths = _whole(text_at(head, "numeral-key/numeral-fifths"), "numeral-fifths")
    return key_of(fifths, "minor" if "minor" in text_at(head, "numeral-key/numeral-mode") else "major")


def key_of(fifths: int, mode: str) -> Key | None:
    """The key of a signature and a mode's name, None where there is no such key."""
    known = MODES.get(mode)
    return Key(Pitch.at(fifths - known.fifths), known) if known and abs(fifths) <= 7 else None


def _in_scale(key: Key, number: int, alter: int) -> Pitch:
    """A step of the scale that a key's signature gives, altered."""
    letter = LETTERS[(LETTERS.index(key.tonic.letter) + number - 1) % 7]
    fifths = Pitch(letter).fifths
    while fifths < key.signature - 1:
        fifths += 7
    while fifths > key.signature + 5:
        fifths -= 7
    return _spelled(Pitch.at(fifths + 7 * alter))


def _spelled(pitch: Pitch) -> Pitch:
    return pitch if abs(pitch.alteration) <= 2 else readable(pitch)


def _pitch(element: Element, name: str) -> Pitch:
    """The pitch of a root or a bass."""
    letter = text_at(element, f"{name}-step")
    if len(letter) != 1 or letter not in LETTERS:
        raise _Unreadable(f"“{letter[:_MOST_SHOWN]}” is no {name} A to G")
    return _spelled(Pitch(letter, _whole(text_at(element, f"{name}-alter") or "0", f"{name}-alter")))


def _whole(text: str, name: str) -> int:
    """A small whole number, perhaps written with a decimal point."""
    try:
        number = float(text)
    except ValueError:
        raise _Unreadable(f"“{text[:_MOST_SHOWN]}” is no number for {name}") from None
    if number != number or abs(number) > 100 or number != int(number):
        raise _Unreadable(f"{text[:_MOST_SHOWN]} is no whole number for {name}")
    if name.endswith("alter") and abs(number) > _MOST_ALTERED:
        raise _Unreadable(f"{text[:_MOST_SHOWN]} is too much for {name}")
    return int(number)


def _written_degree(element: Element) -> WrittenDegree:
    value = _whole(text_at(element, "degree-value"), "degree-value")
    alter = _whole(text_at(element, "degree-alter") or "0", "degree-alter")
    return WrittenDegree(value, alter, text_at(element, "degree-type") or "add")


def _quality(name: str, kind: Element | None, degrees: Sequence[WrittenDegree], root: Pitch) -> Quality:
    if name in KINDS:
        return with_degrees(KINDS[name].read, degrees)
    text = "" if kind is None else kind.get("text", "").strip()
    if text and len(text) <= _MOST_SHOWN:
        written = hyphened(text)
        wanted = symbol_or_none(f"{root}{written}") or symbol_or_none(written)
        if wanted is not None and wanted.root == root and wanted.bass is None:
            return filled(wanted)
    if name == OTHER and degrees:
        return with_degrees(Quality.spelled("1"), degrees)
    said = f"“{name[:_MOST_SHOWN]}”" if name else "an empty kind"
    raise _Unreadable(f"{said}, with the text “{text[:_MOST_SHOWN]}”, is no kind of chord")


def _inverted(group: Sequence[Element], root: Pitch, quality: Quality) -> Pitch | None:
    """The bass that an inversion gives: 1 is the second tone from below, and so on."""
    inversion = next((child for child in group if child.tag == "inversion"), None)
    if inversion is None:
        return None
    number = _whole("".join(inversion.itertext()).strip(), "inversion")
    if not 0 <= number < len(quality.tones):
        raise _Unreadable(f"a chord of {len(quality.tones)} tones has no inversion {number}")
    return root.up(quality.tones[number]) if number else None

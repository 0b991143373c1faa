"""Reads the Roman text of the rock corpus: a song as Roman numerals between bar lines.

Conventions:
    * ``[Eb]`` is the tonic from there on, without a mode (see ``grammar.building.mode_of_tonic``), ``[2/4]`` the metre
      from there on, 4/4 before the first. A tonic that changes inside a bar parts the bar in two.
    * The cells of a bar share it equally, ``.`` holds the chord before, an empty bar too, ``R`` is silence.
    * Degrees are those of the major scale; the case of a numeral is its third. Figures are figured bass: ``6`` and
      ``64`` are inversions of the triad, ``7 65 43 42`` a seventh chord and its inversions.
    * A seventh is the scale's own: of a capital numeral that of the major scale of the tonic (I7, IV7 and bVII7 major,
      II7 and V7 minor), of a small one minor. ``d`` before a seventh is a dominant on any degree, ``h``
      half-diminished, ``x`` fully diminished, ``o`` diminished (with a seventh fully so), ``a`` or ``+`` augmented.
      ``d`` without a seventh is a diminished triad: the analysts have ``iid6`` and ``iio`` in the same place.
    * ``9 11 13`` put a plain ninth, ninth and eleventh, ninth and thirteenth on that seventh chord; ``#9`` and ``b9``
      stand on a dominant; ``s4`` takes the place of the third. ``+9`` and ``+11`` add a tone to the triad: the other
      analyst has the plain triad there, never an augmented one.
    * ``V7/ii`` is counted from the major scale of ii, its bass too.
    * A figure that does not exist is silence, with a remark.

Source: T. de Clercq and D. Temperley, "A corpus analysis of rock harmony", Popular Music 30/1 (2011), 47-70; corpus
release 2.1. What it leaves unsaid (kinds of sevenths and ninths) is common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache, lru_cache
from itertools import product
from typing import NamedTuple

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput, UnexpectedToken

from grammar.bar_content import INEXACT, MOST_CELLS, Run, content_of, partial_metre, writable
from grammar.building import DraftBar, DraftSection, build_chart
from grammar.keys import read_metre
from grammar.parsers import parser
from grammar.places import Place, whole
from grammar.symbols import read_pitch
from shared.chart import Metre
from shared.chord import Chord, Numeral
from shared.errors import Fault, ReadingError, nearest
from shared.foreign import ForeignTune
from shared.pitch import Degree, Pitch, alteration_of
from shared.quality import Quality, tone

_LINE_END = re.compile(r"\r\n|\n|\r")
_ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6, "VII": 7}
_LONGEST = 40
#: The tone in the bass, by inversion.
_BASS = {"6": 3, "65": 3, "64": 5, "43": 5, "42": 7}
_SEVENTHS = frozenset(("7", "65", "43", "42", "9", "11", "13"))
#: What stands above the seventh; a 13th leaves out the 11th, as in chord names.
_STACKS = {"9": (9,), "11": (9, 11), "13": (9, 13)}
_KINDS = {
    "o": ("1 b3 b5", "bb7"),
    "h": ("1 b3 b5", "b7"),
    "x": ("1 b3 b5", "bb7"),
    "a": ("1 3 #5", ""),
    "+": ("1 3 #5", ""),
    "d": ("1 3 5", "b7"),
}
#: Numerals and figures that the analysts write: the nearest of them is offered for a faulty one.
_NUMERALS = ("I", "ii", "iii", "IV", "V", "vi", "vii", "i", "II", "III", "iv", "v", "bII", "bIII", "bVI", "bVII", "#IV")
_FIGURES = ("", "6", "64", "7", "65", "43", "42", "9", "11", "s4", "7s4", "d7", "h7", "x7", "o", "a")
_APPLIED = ("", "/ii", "/iii", "/IV", "/V", "/vi")
_COMMON = tuple("".join(parts) for parts in product(_NUMERALS, _FIGURES, _APPLIED))


@dataclass(frozen=True, slots=True)
class _Bars:
    """What one written bar becomes: a bar, or several where the tonic changes inside it.

    Attributes:
        drafts: The bars.
        metre: The metre in force behind it.
        tonic: The tonic in force behind it.
        remarks: Remarks, with columns inside the text of the bar.
    """

    drafts: tuple[DraftBar, ...]
    metre: Metre
    tonic: Pitch | None
    remarks: tuple[Fault, ...]


@cache
def roman_text_parser() -> Lark:
    """The parser of whole songs (``song``) and of their parts (``bar``, ``figure``)."""
    return parser("roman_text", ["song", "bar", "figure"], maybe_placeholders=False)


def read_roman_text(text: str) -> tuple[ForeignTune, ...]:
    """The song that an analysis holds.

    Args:
        text: The whole text of a file.

    Returns:
        One tune, with a chart wherever there is a bar.

    >>> song, = read_roman_text("[C] I IV6 | V7/ii | | [3/4] R |")
    >>> [[cell.written for cell in bar.cells] for _, bar in song.chart.bars()]
    [['C', 'F/A'], ['A7'], [''], ['N.C.']]
    """
    drafts: list[DraftBar] = []
    remarks: list[Fault] = []
    metre, tonic = Metre(), None
    lines = _LINE_END.split(text.removeprefix("\ufeff"))
    for number, line in enumerate(lines, 1):
        column = 0
        *closed, rest = line.split("|")
        for index, bar in enumerate(closed):
            if index or bar.strip():
                made = _bars(bar, metre, tonic)
                metre, tonic = made.metre, made.tonic
                drafts += made.drafts
                remarks += [f.at(number, line, column) for f in made.remarks]
            column += len(bar) + 1
        if rest.strip():
            made = _bars(rest, metre, tonic)
            metre, tonic = made.metre, made.tonic
            remarks += [f.at(number, line, column) for f in made.remarks]
            if not _only_changes(rest):
                drafts += made.drafts
                place = Place(number, len(line.rstrip()), 1, line)
                remarks.append(place.fault("no bar line behind the last bar", "“|”"))
    if not drafts:
        number, line = next(((n, t) for n, t in enumerate(lines, 1) if t.strip()), (1, ""))
        fault = whole(number, line).fault("no bars found", "numerals between bar lines, such as [C] I | IV V |")
        return (ForeignTune("1", None, None, (fault,), tuple(remarks)),)
    return (ForeignTune("1", None, build_chart((), (DraftSection(None, tuple(drafts)),)), (), tuple(remarks)),)


def _only_changes(text: str) -> bool:
    """Whether nothing but a tonic or a metre is written, to hold from the next line on."""
    return all(word.startswith("[") and word.endswith("]") for word in text.split())


class _Stretch(NamedTuple):
    """The cells of a bar on one tonic: chords and whether they are struck. ``at`` is the place of the tonic's sign."""

    tonic: Pitch | None
    cells: list[tuple[Chord | None, bool]]
    at: Fault


@lru_cache(maxsize=65536)
def _bars(text: str, metre: Metre, tonic: Pitch | None) -> _Bars:
    """One written bar, in a metre and on a tonic; bars recur, so each is read once."""
    remarks: list[Fault] = []
    stretches = [_Stretch(tonic, [], Fault(""))]
    for token in roman_text_parser().parse(text, "bar").children:
        assert isinstance(token, Token)
        at = Fault("", column=(token.start_pos or 0) + 1, length=len(token))
        cells = stretches[-1].cells
        if token.type == "TONIC":
            tonic = read_pitch(token[1:-1])
            if not cells:
                stretches.pop()
            stretches.append(_Stretch(tonic, [], at))
        elif token.type == "METRE":
            try:
                metre = read_metre(token[1:-1])
            except ReadingError as error:
                remarks += [f.at(0, "", at.column) for f in error.faults]
        elif token.type == "HOLD":
            cells.append((None, False))
        elif token.type == "SILENCE":
            cells.append((None, True))
        elif token.startswith("["):
            expected = "a tonic such as [Eb] or a metre such as [2/4]"
            remarks.append(replace(at, message=f"“{token}” is not read", expected=expected))
        else:
            chord = _chord(str(token), tonic)
            if isinstance(chord, Fault):
                remarks.append(chord.at(0, "", at.column - 1))
            cells.append((chord if isinstance(chord, Chord) else None, True))
    if len(stretches) > 1 and not stretches[-1].cells:
        stretches.pop()
    drafts = _drafts(stretches, metre, remarks)
    if not all(draft.content.exact for draft in drafts):
        blank = len(text) - len(text.lstrip())
        remarks.append(Fault(INEXACT, column=blank + 1, length=len(text.strip())))
    return _Bars(drafts, metre, tonic, tuple(sorted(remarks, key=lambda remark: remark.column)))


def _drafts(stretches: list[_Stretch], metre: Metre, remarks: list[Fault]) -> tuple[DraftBar, ...]:
    """The bars that the stretches of one written bar become, each on its own tonic."""
    count = sum(len(stretch.cells) for stretch in stretches)
    if count > MOST_CELLS:
        remarks.append(Fault(f"a bar of {count} chords is silent", column=1, expected=f"at most {MOST_CELLS}"))
        stretches = [_Stretch(stretches[0].tonic, [(None, True)], stretches[0].at)]
    elif not count:
        stretches[0].cells.append((None, False))
    share = Fraction(metre.beats, sum(len(stretch.cells) for stretch in stretches))
    runs = [[Run(chord, share, struck) for chord, struck in stretch.cells] for stretch in stretches]
    if len(runs) == 1:
        return (DraftBar(content_of(runs[0], metre), metre, False, stretches[0].tonic),)
    metres = [partial_metre(metre, share * len(each)) for each in runs]
    drafts = []
    for stretch, each, own in zip(stretches, runs, metres, strict=True):
        if own is None:
            break
        scaled = [Run(run.chord, Fraction(own.beats, len(each)), run.struck) for run in each]
        drafts.append(DraftBar(content_of(scaled, own), own, True, stretch.tonic))
    message = "the tonic changes inside the bar, which is written as two bars"
    if len(drafts) < len(runs):
        message = "the tonic changes inside the bar, and is written from the next one on"
        joined = [run for each in runs for run in each]
        drafts = [DraftBar(content_of(joined, metre), metre, False, stretches[0].tonic)]
    remarks += [replace(stretch.at, message=message) for stretch in stretches[1:]]
    return tuple(drafts)


@lru_cache(maxsize=65536)
def _chord(figure: str, tonic: Pitch | None) -> Chord | Fault:
    """The chord of a figure, or why it is none; columns count from 1 inside the figure."""
    numeral = figure_or_fault(figure)
    if isinstance(numeral, Fault):
        return numeral
    if tonic is None:
        message = f"“{figure}” is counted from a tonic, and none stands before it"
        return Fault(message, column=1, length=len(figure), expected="a tonic such as [C]", nearest="[C]")
    named = writable(numeral.on(tonic))
    return named or Fault(f"the tones of “{figure}” have no chord name", column=1, length=len(figure))


@lru_cache(maxsize=65536)
def figure_or_fault(text: str) -> Numeral | Fault:
    """The numeral of a figure, or why it is none; columns count from 1 inside ``text``.

    >>> figure_or_fault("V65/ii").number, figure_or_fault("IV7").number, figure_or_fault("bVIId7").number
    ('67/#1', '4maj7', 'b77')
    """
    if len(text) > _LONGEST:
        return Fault(f"“{text[:20]}…” is too long for a figure", column=1, length=len(text))
    try:
        first, *targets = roman_text_parser().parse(text, "figure").children
    except UnexpectedInput as error:
        at_end = isinstance(error, UnexpectedToken) and error.token.type == "$END"
        return _fault(text, len(text) - 1 if at_end else max(0, error.pos_in_stream or 0))
    assert isinstance(first, Tree)
    parts: dict[str, Token] = {}
    extra: list[Token] = []
    for part in first.children:
        assert isinstance(part, Token)
        if part.type in ("ADDED", "ALTERED"):
            extra.append(part)
        elif part.type in parts:
            return _fault(text, part.start_pos or 0)
        else:
            parts[part.type] = part
    numeral = _numeral(parts, extra)
    for target in targets:
        numeral = numeral.above(_degree(str(target)))
    return numeral


def _degree(numeral: str) -> Degree:
    letters = numeral.lstrip("#b")
    return Degree(_ROMAN[letters.upper()], alteration_of(numeral[: len(numeral) - len(letters)]))


def _numeral(parts: dict[str, Token], extra: list[Token]) -> Numeral:
    """The numeral that the parts of a figure make."""
    root, lower = _degree(parts["NUMERAL"]), parts["NUMERAL"].lstrip("#b").islower()
    kind, inversion = str(parts.get("KIND", "")), str(parts.get("INVERSION", ""))
    changes = [tone(each.replace("+", "")) for each in extra]
    seventh = (
        inversion in _SEVENTHS
        or kind in ("h", "x")
        or any(each.type == "ALTERED" and change.number > 5 for each, change in zip(extra, changes, strict=True))
    )
    if kind == "d" and not seventh:
        kind = "o"
    triad, with_seventh = _KINDS.get(kind, ("1 b3 5" if lower else "1 3 5", "b7" if lower else ""))
    made = Quality.spelled(triad)
    if "SUSPENDED" in parts:
        made = made.suspended(int(parts["SUSPENDED"][1:]))
    if seventh:
        natural = Degree(7) if inversion and _major_seventh(root) else Degree(7, -1)
        made = made.added(tone(with_seventh) if with_seventh else natural)
    for number in _STACKS.get(inversion, ()):
        made = made.added(Degree(number))
    for each, change in zip(extra, changes, strict=True):
        made = made.altered(change) if each.type == "ALTERED" else made.added(change)
    bass = next((t for t in made.tones if t.number == _BASS.get(inversion)), None)
    if bass is None and inversion in ("6", "65") and "SUSPENDED" in parts:
        bass = tone(parts["SUSPENDED"][1:])
    return Numeral(root, made, Degree.at(bass.fifths + root.fifths) if bass else None)


def _major_seventh(root: Degree) -> bool:
    """Whether the seventh above a degree, as the major scale has it, is a major one.

    >>> [str(each) for each in map(tone, "1 2 b3 3 4 5 b6 b7 7".split()) if _major_seventh(each)]
    ['1', 'b3', '4', 'b6', 'b7']
    """
    above = Degree((root.number + 5) % 7 + 1)
    return Degree.at(above.fifths - root.fifths).semitones == 11


def _fault(text: str, place: int) -> Fault:
    """A figure's fault in words, with the nearest one that would have been right."""
    near = next(iter(nearest(text, _COMMON, 1)), "")
    if place == 0:
        expected = "a numeral I to VII, in capitals or small letters, “.”, “R” or a bar line"
        return Fault(f"“{text}” is not a figure", column=1, length=max(1, len(text)), expected=expected, nearest=near)
    message = f"“{text}” is not a figure: “{text[place:]}” cannot stand there"
    expected = "a kind (o h x d a), a figure (6 64 7 65 43 42 9 11), s4, #9, b5, “/” and a numeral, or the end"
    return Fault(message, column=place + 1, length=len(text) - place, expected=expected, nearest=near)

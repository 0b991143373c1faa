"""Reads one chord symbol: a name, a number or a Roman numeral, with whatever quality is written behind it.

Conventions: a symbol holds no white space; columns of its faults count from 1 inside the symbol. ``read_symbol`` says
what was written and leaves open what was not (that is what a pattern asks); ``read_chord`` and ``read_numeral`` fill in
the plain triad, as a chart means it.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Any

from lark import Lark, Token, Transformer, v_args
from lark.exceptions import UnexpectedInput, UnexpectedToken, VisitError

from grammar.parsers import grammar_text, parser
from grammar.signs import hyphened, plain
from shared.chord import Chord, Numeral
from shared.errors import Fault, ReadingError
from shared.pattern import Wanted
from shared.pitch import Degree, Pitch
from shared.quality import MAJOR_THIRD, MINOR_THIRD, Quality, Third, tone
from shared.quality_names import BY_NAME, QUALITIES

_ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6, "VII": 7}
_TRIAD = BY_NAME[""]
_MINOR_TRIAD = BY_NAME["m"]
_LONGEST = 60


def read_pitch(text: str) -> Pitch:
    """A pitch from its name in plain signs, such as ``Bb``."""
    return Pitch(text[0], text.count("#") - text.count("b"))


def _degree(text: str) -> Degree:
    return tone(text)


@cache
def symbol_parser() -> Lark:
    """The parser of symbols."""
    return parser("chord", "symbol", grammar_text("named"), maybe_placeholders=True)


class _Minor:
    """A quality as it reads behind a numeral in lower case: the third is minor."""

    @staticmethod
    def of(name: str | None, quality: Quality) -> Quality:
        if name is not None and f"m{name}" in BY_NAME:
            return BY_NAME[f"m{name}"]
        if quality.third is Third.MAJOR:
            return Quality.of({*quality.tones} - {MAJOR_THIRD} | {MINOR_THIRD})
        return quality


@v_args(inline=True)
class _Symbols(Transformer[Token, Wanted]):
    """Turns the parse of a symbol into what it asks for."""

    def quality(self, named: Token | None, *modifiers: Any) -> tuple[str | None, tuple[Token, ...]]:
        flat = [m for each in modifiers for m in (each if isinstance(each, tuple) else (each,))]
        return (None if named is None else str(named)), tuple(flat)

    def modifier(self, *inner: Token) -> tuple[Token, ...]:
        return inner

    def name(self, root: Token, quality: Any, bass: Token | None) -> Wanted:
        return Wanted(read_pitch(root), _made(quality), None, read_pitch(bass) if bass else None)

    def number(self, degree: Token, quality: Any, bass: Token | None) -> Wanted:
        return Wanted(_degree(degree), _made(quality), None, _degree(bass) if bass else None)

    def roman(self, numeral: Token, quality: Any, bass: Token | None) -> Wanted:
        degree, lower = _numeral(numeral)
        made = _made(quality, lower)
        third = (Third.MINOR if lower else Third.MAJOR) if made is None else None
        return Wanted(degree, made, third, _degree(bass) if bass else None)

    def applied(self, numeral: Token, quality: Any, *to: Token) -> Wanted:
        wanted = self.roman(numeral, quality, None)
        root = wanted.root
        assert isinstance(root, Degree)
        for each in to:
            root = root.above(_numeral(each)[0])
        return Wanted(root, wanted.quality, wanted.third)

    def wild(self, quality: Any, bass: Token | None) -> Wanted:
        return Wanted(None, _made(quality), None, _place(bass))

    def bare_bass(self, bass: Token) -> Wanted:
        return Wanted(bass=_place(bass))


def _place(bass: Token | None) -> Degree | Pitch | None:
    if bass is None:
        return None
    return read_pitch(bass) if bass.type == "PITCH" else _degree(bass)


def _numeral(text: str) -> tuple[Degree, bool]:
    figure = text.lstrip("#b")
    signs = text[: len(text) - len(figure)]
    return Degree(_ROMAN[figure.upper()], signs.count("#") - signs.count("b")), figure.islower()


def _made(quality: tuple[str | None, tuple[Token, ...]], lower: bool = False) -> Quality | None:
    """The quality that a name and its modifiers make; None where nothing is written."""
    named, modifiers = quality
    if named is None and not modifiers:
        return None
    made = BY_NAME[named or ""]
    if lower:
        made = _Minor.of(named, made)
    for mark in modifiers:
        text = str(mark)
        if mark.type == "SUSPENDED":
            made = made.suspended(int(text[3:] or 4))
        elif mark.type == "OMITTED":
            made = made.without(tone(text.removeprefix("no").removeprefix("omit").lstrip("b#")).number)
        elif mark.type == "ALTERED":
            change = tone(text.replace("-", "b").replace("+", "#"))
            made = made.altered(Degree(11, 1) if change == Degree(4, 1) else change)
        else:
            made = made.added(tone(text.removeprefix("add")))
    return made


@lru_cache(maxsize=65536)
def symbol_or_none(text: str) -> Wanted | None:
    """What a symbol asks for, None where it is no symbol (see ``read_symbol``); cheap to ask of any word."""
    if len(text) > _LONGEST:
        return None
    try:
        return _parsed(text)
    except (UnexpectedInput, VisitError):
        return None


def _parsed(text: str) -> Wanted:
    signs = plain(text)
    return _spelled(signs) or parsed(signs)


def parsed(signs: str) -> Wanted:
    """What the grammar makes of a symbol in plain signs.

    Raises:
        LarkError: If it is no symbol.
    """
    return _Symbols().transform(symbol_parser().parse(signs))


#: The terminals ``ROOT`` and ``DEGREE`` of the grammar, and what is written behind them.
_HEAD = re.compile(r"(?:(?P<root>[A-G](?:##|bb|#|b)?)|(?P<degree>[#b]*[1-7](?!-5)))(?P<spelling>.*)")


def _spelled(signs: str) -> Wanted | None:
    """The same of a root or degree with nothing behind it but a spelling of the table, None for others.

    Most symbols are that, and the parser's expression for thousands of spellings takes a short command a tenth of its
    time to make ready (measured).
    """
    found = _HEAD.fullmatch(signs)
    if found is None or found["spelling"] not in BY_NAME:
        return None
    quality = BY_NAME[found["spelling"]] if found["spelling"] else None
    return Wanted(read_pitch(found["root"]) if found["root"] else _degree(found["degree"]), quality)


def read_symbol(text: str) -> Wanted:
    """What a symbol asks for: its root, quality, third and bass, each None where it is not written.

    Args:
        text: One symbol, such as ``Dm7``, ``5/7``, ``viiø7``, ``V7/ii``, ``_dim7`` or ``/7``.

    Raises:
        ReadingError: If it is none; the fault's column counts from 1 inside ``text``.

    >>> read_symbol("V7/ii").root
    Degree(number=6, alteration=0)
    """
    if len(text) > _LONGEST:
        raise ReadingError([Fault(f"“{text[:20]}…” is too long for a chord", column=1, length=len(text))])
    wanted = symbol_or_none(text)
    if wanted is None:
        raise ReadingError([_fault(text)])
    return wanted


def read_chord(text: str) -> Chord:
    """A chord from its name, such as ``Bbm7b5/Ab``.

    Raises:
        ReadingError: If it is not a chord name.

    >>> read_chord("CΔ7").name
    'Cmaj7'
    """
    wanted = read_symbol(hyphened(text))
    if not isinstance(wanted.root, Pitch):
        raise ReadingError(
            [Fault(f"“{text}” is not a chord name", column=1, length=len(text), expected="a letter A to G")]
        )
    bass = wanted.bass if isinstance(wanted.bass, Pitch) else None
    return Chord(wanted.root, filled(wanted), bass)


def read_numeral(text: str) -> Numeral:
    """A numeral from a number or a Roman numeral, such as ``2m7`` or ``V7/ii``.

    Raises:
        ReadingError: If it is neither.

    >>> read_numeral("viiø7").number
    '7m7b5'
    """
    wanted = read_symbol(text)
    if not isinstance(wanted.root, Degree):
        raise ReadingError(
            [
                Fault(
                    f"“{text}” is not a numeral",
                    column=1,
                    length=len(text),
                    expected="a number 1 to 7 or a Roman numeral",
                )
            ]
        )
    bass = wanted.bass if isinstance(wanted.bass, Degree) else None
    return Numeral(wanted.root, filled(wanted), bass)


def filled(wanted: Wanted) -> Quality:
    """The quality that is meant where one need not be written: the plain triad, minor for a numeral in lower case."""
    if wanted.quality is not None:
        return wanted.quality
    return _MINOR_TRIAD if wanted.third is Third.MINOR else _TRIAD


_ROOT = re.compile(r"(?P<name>[A-G](?:##|bb|#|b)?)|(?P<degree>[#b]*(?:[1-7]|[IViv]+))|(?P<wild>_)")
#: White space, commas that part nothing, brackets with nothing in them, a slash before a slash.
_STRAY = re.compile(r"\s|(?<=[(,]),|,(?=\)|$)|\((?:\)|$)|/(?=/)")
_ONE = re.compile(r"[#b]*[1-7]")
_RUN = re.compile(r"[#b]*[1-7](-?[#b]*[1-7])+")


def _fault(text: str) -> Fault:
    """A symbol's fault in words, with the nearest symbol that would have been right."""
    signs = plain(text)
    root = _ROOT.match(signs)
    if not root:
        expected = "a chord name (A to G), a number (1 to 7) or a Roman numeral"
        near, length = _rooted(signs), max(1, len(text))
        return Fault(f"“{text}” is not a chord", column=1, length=length, expected=expected, nearest=near)
    if digits := _RUN.fullmatch(signs):
        apart = " ".join(_ONE.findall(digits.group()))
        return Fault(
            f"“{text}” is not one chord", column=1, length=len(text), expected="spaces between chords", nearest=apart
        )
    expected = "an alteration (b9), an addition (add9), an omission (no5), a suspension (sus4), a bass (/G) or the end"
    near = _repaired(signs, root.group(0))
    try:
        _parsed(text)
    except UnexpectedToken as error:
        place = len(text) if error.token.type == "$END" else error.pos_in_stream or 0
    except UnexpectedInput as error:
        place = error.pos_in_stream or 0
    except VisitError as error:
        return Fault(f"“{text}” is not a chord: {error.orig_exc}", column=1, length=len(text), nearest=near)
    if place >= len(text):
        return Fault(f"“{text}” breaks off", column=len(text), expected=expected, nearest=near)
    message = f"“{text}” is not a chord: “{text[place:]}” cannot stand there"
    return Fault(message, column=place + 1, length=len(text) - place, expected=expected, nearest=near)


def _rooted(signs: str) -> str:
    """The nearest symbol where the first sign is no root at all; H is what some countries call B."""
    first = signs[:1].upper()
    candidate = ("B" if first == "H" else first) + signs[1:]
    return candidate if symbol_or_none(candidate) else ""


def _repaired(signs: str, root: str) -> str:
    """The nearest symbol on the root that was written: the same without stray signs, or a quality much like it."""
    import difflib

    tail, slash, bass = signs[len(root) :].partition("/")
    tidy = _STRAY.sub("", signs).replace("/H", "/B")
    options = [tidy, f"{tidy})" if tidy.count("(") > tidy.count(")") else tidy]
    for names, likeness in (([row.name for row in QUALITIES], 0.6), (list(BY_NAME), 0.75)):
        options += [root + name + slash + bass for name in difflib.get_close_matches(tail, names, n=1, cutoff=likeness)]
    options += [signs[:end] for end in range(len(signs) - 1, 0, -1)]
    return next((each for each in options if symbol_or_none(each)), "")

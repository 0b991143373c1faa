"""Reads the values of ABC fields: keys, metres, note lengths, parts, tempi, and text with its escapes.

Conventions: columns of faults count from 1 inside the value. A length is a part of a whole note. A key may be a tonic
alone, where its mode is not told by name; its accidentals by themselves (``K:D ^g``) say nothing about the mode.

Source: the ABC music standard 2.1 (December 2011), sections 3.1 (fields), 3.1.14 (keys) and 8.2 (text).
"""

from __future__ import annotations

import html
import re
import unicodedata
from fractions import Fraction
from functools import cache, lru_cache
from typing import NamedTuple

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from grammar.keys import read_metre
from grammar.parsers import parser
from grammar.signs import plain
from grammar.symbols import read_pitch
from shared.chart import Metre
from shared.errors import Fault, ReadingError
from shared.key import Key, Mode
from shared.pitch import Pitch

#: The most names that the playing order of the parts is unfolded to.
MOST_PARTS = 400
#: Modes by their first three letters, which alone count (section 3.1.14).
_MODES = {
    "maj": Mode.MAJOR,
    "ion": Mode.MAJOR,
    "min": Mode.MINOR,
    "aeo": Mode.MINOR,
    "mix": Mode.MIXOLYDIAN,
    "dor": Mode.DORIAN,
    "phr": Mode.PHRYGIAN,
    "lyd": Mode.LYDIAN,
    "loc": Mode.LOCRIAN,
}
MODE_NAMES = {mode: name[:3] for name, mode in reversed(_MODES.items())}
_ACCENTS = {"'": "́", "`": "̀", "^": "̂", "~": "̃", '"': "̈", "c": "̧", "v": "̌", "u": "̆", "H": "̋", "=": "̄",
            ".": "̇", ";": "̨"}  # fmt: skip
_LIGATURES = {"ae": "æ", "AE": "Æ", "oe": "œ", "OE": "Œ", "ss": "ß", "aa": "å", "AA": "Å", "/o": "ø", "/O": "Ø"}
_ESCAPE = re.compile(
    r"\\u(?P<code>(?![dD][89a-fA-F])[0-9a-fA-F]{4})|\\(?P<ligature>ae|AE|oe|OE|ss|aa|AA|/o|/O)"
    r"|\\(?P<accent>['`^~\"cvuH=.;])(?P<letter>[A-Za-z])|\\(?P<sign>[%&\\])|(?P<entity>&#?\w+;)"
)


class WrittenKey(NamedTuple):
    """What a ``K:`` field says.

    Attributes:
        says: Whether it names a key at all; a clef alone does not.
        key: The key, a tonic whose mode is not said, or None for no key.
        remark: What was not understood in it, None where all was.
    """

    says: bool
    key: Key | Pitch | None
    remark: Fault | None = None


@cache
def fields_parser() -> Lark:
    """The parser of values, one start for each kind of field."""
    return parser("abc_fields", ["key", "metre", "length", "parts", "tempo"], maybe_placeholders=False)


def _parse(start: str, value: str, expected: str) -> Tree[Token]:
    try:
        return fields_parser().parse(value, start)
    except UnexpectedInput as error:
        place = error.pos_in_stream if isinstance(error, UnexpectedCharacters | UnexpectedToken) else None
        at_end = isinstance(error, UnexpectedToken) and error.token.type == "$END"
        column = max(1, len(value.rstrip())) if at_end or place is None else place + 1
        names = {"key": "a key", "metre": "a metre", "length": "a note length", "parts": "an order of parts"}
        message = f"“{value.strip()}” is not {names.get(start, 'a tempo')}"
        raise ReadingError([Fault(message, column=column, expected=expected)]) from None


def _numbers(tree: Tree[Token]) -> list[int]:
    return [int(token) for token in tree.children if isinstance(token, Token) and token.type == "NUMBER"]


@lru_cache(maxsize=4096)
def read_abc_key(value: str) -> WrittenKey:
    """The key that ``K:`` names.

    Raises:
        ReadingError: If it is none.

    >>> str(read_abc_key("AMix clef=bass").key), str(read_abc_key("D Phr").key), read_abc_key("none").key
    ('A mixolydian', 'D phrygian', None)
    """
    expected = "a tonic A to G and a mode, such as G, Am or D dor"
    tree = _parse("key", plain(value), expected)
    tokens = {token.type: token for token in tree.children if isinstance(token, Token)}
    tonic = tokens.get("TONIC")
    if tonic is None:
        return WrittenKey(not tokens or bool({"NOTHING", "PIPES", "EXPLICIT", "SIGN"} & set(tokens)), None)
    pitch = read_pitch(tonic)
    mode = tokens.get("MODE")
    if mode is None:
        return WrittenKey(True, pitch if "EXPLICIT" in tokens else Key(pitch))
    if mode == "m":
        return WrittenKey(True, Key(pitch, Mode.MINOR))
    known = Mode.MAJOR if mode == "M" else _MODES.get(mode[:3].lower())
    if known is not None:
        return WrittenKey(True, Key(pitch, known))
    fault = Fault(
        f"“{mode}” is no mode, so the mode is found from the chords",
        column=(mode.start_pos or 0) + 1,
        length=len(mode),
        expected="maj, min, mix, dor, phr, lyd or loc",
    )
    return WrittenKey(True, pitch, fault)


@lru_cache(maxsize=4096)
def read_abc_metre(value: str) -> Metre | None:
    """The metre that ``M:`` names, None for free metre.

    Raises:
        ReadingError: If it is none.

    >>> str(read_abc_metre("C|")), str(read_abc_metre("(2+3+2)/8")), read_abc_metre("none")
    ('2/2', '7/8', None)
    """
    if not value.strip():
        return None
    tree = _parse("metre", value, "beats and their unit, such as 3/4, or C, C| or none")
    token = tree.children[0]
    assert isinstance(token, Token)
    if token.type == "NUMBER":
        *beats, unit = _numbers(tree)
        return read_metre(f"{sum(beats)}/{unit}")
    return {"COMMON": Metre(4, 4), "CUT": Metre(2, 2)}.get(token.type)


def read_abc_length(value: str) -> Fraction:
    """The note length that ``L:`` names.

    Raises:
        ReadingError: If it is none.

    >>> read_abc_length("1/16")
    Fraction(1, 16)
    """
    expected = "a part of a whole note, such as 1/8"
    numbers = _numbers(_parse("length", value, expected))
    over, under = (*numbers, 1)[:2]
    if not all(numbers) or over > 4 * under or under > 512:
        raise ReadingError([Fault(f"“{value.strip()}” is not a note length", column=1, expected=expected)])
    return Fraction(over, under)


def default_length(metre: Metre | None) -> Fraction:
    """The note length where no ``L:`` says it: a sixteenth where the metre is less than 3/4, else an eighth (3.1.7)."""
    return Fraction(1, 16) if metre and Fraction(metre.beats, metre.unit) < Fraction(3, 4) else Fraction(1, 8)


def read_abc_parts(value: str) -> tuple[str, ...]:
    """The playing order that ``P:`` in a header names, repeats and brackets unfolded.

    Raises:
        ReadingError: If it is none.

    >>> "".join(read_abc_parts("A(AB)2.C2"))
    'AABABCC'
    """
    if len(value) > MOST_PARTS:
        raise ReadingError([Fault("the order of parts is too long", column=1, expected=f"at most {MOST_PARTS} signs")])
    tree = _parse("parts", value, "letters, counts and brackets, such as AABB or (AB)3")
    order = _unfolded(tree)
    if not order or len(order) > MOST_PARTS:
        message = f"“{value.strip()}” is an order of more than {MOST_PARTS} parts" if order else "no part is played"
        raise ReadingError([Fault(message, column=1, length=max(1, len(value)))])
    return tuple(order)


def _unfolded(tree: Tree[Token]) -> list[str]:
    """The parts under a node in playing order, at most one more than may be."""
    if tree.data == "part":
        what, *count = tree.children
        times = int(str(count[0])) if count else 1
        once = [str(what)] if isinstance(what, Token) else _unfolded(what)
        return (once * min(times, MOST_PARTS + 1))[: MOST_PARTS + 1]
    made: list[str] = []
    for child in tree.children:
        assert isinstance(child, Tree)
        made += _unfolded(child)
    return made[: MOST_PARTS + 1]


def read_abc_tempo(value: str) -> str | None:
    """The beats a minute that ``Q:`` names, as written, whatever the beat; None where it names none.

    Raises:
        ReadingError: If it is not a tempo.

    >>> read_abc_tempo('"Allegro" 1/4=120'), read_abc_tempo('"Slowly"')
    ('120', None)
    """
    tree = _parse("tempo", value, "a beat and how many a minute, such as 1/4=120")
    return next((str(t) for t in tree.children if isinstance(t, Token) and t.type == "RATE"), None)


def decoded(text: str) -> str:
    r"""Text with its accents, entities and escaped signs as they are meant.

    >>> decoded(r"Caf\'e &amp; 50\%")
    'Café & 50%'
    """
    return _ESCAPE.sub(_meant, text)


def _meant(found: re.Match[str]) -> str:
    if found["code"]:
        return chr(int(found["code"], 16))
    if found["ligature"]:
        return _LIGATURES[found["ligature"]]
    if found["accent"]:
        return unicodedata.normalize("NFC", found["letter"] + _ACCENTS[found["accent"]])
    return found["sign"] or html.unescape(found["entity"])


def encoded(text: str) -> str:
    """Text as a field holds it, so that ``decoded`` gives it again."""
    return re.sub(r"[%\\]|&(?=#?\w+;)", lambda found: "\\" + found[0], text)

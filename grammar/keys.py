"""Reads keys and metres as a header or a line of a chart writes them."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from grammar.signs import plain
from grammar.symbols import read_pitch
from shared.errors import Fault, ReadingError, nearest
from shared.key import Key, Mode
from shared.pitch import Degree, Pitch, alteration_of

if TYPE_CHECKING:
    from shared.chart import Metre

_MODES = {mode.label: mode for mode in Mode}
#: Ways of writing a mode behind the tonic; "m" alone is told from "M" by case.
_WRITTEN = {
    "": Mode.MAJOR,
    "maj": Mode.MAJOR,
    "ionian": Mode.MAJOR,
    "m": Mode.MINOR,
    "min": Mode.MINOR,
    "-": Mode.MINOR,
    "aeolian": Mode.MINOR,
    **_MODES,
}
_KEY = re.compile(r"([A-Ga-g])\s?(#|b(?!lues)|sharp|flat)?(?![#b])\s*(.*)", re.IGNORECASE)
#: What begins like a key: H is what some countries call B.
_NEAR_KEY = re.compile(r"([A-Ha-h])([#b]*)(.*)", re.IGNORECASE)
_METRE = re.compile(r"\(?\s*(\d{1,3})\s*/\s*(\d{1,3})\s*\)?")
_NAMED_METRES = {"C": (4, 4), "common": (4, 4), "cut": (2, 2)}
_UNITS = (1, 2, 4, 8, 16, 32)
_MOST_BEATS = 32


@lru_cache(maxsize=1024)
def read_key(text: str) -> Key:
    """A key as written: ``Eb``, ``Am``, ``A minor``, ``F# minor``, ``D dorian``, ``B♭ major``.

    Raises:
        ReadingError: If it is none; columns count from 1 inside ``text``.

    >>> str(read_key("a minor")), str(read_key("D dorian"))
    ('Am', 'D dorian')
    """
    signs = plain(text).strip()
    found = _KEY.fullmatch(signs)
    mode = None
    if found:
        written = found.group(3).strip()
        mode = Mode.MAJOR if written == "M" else _WRITTEN.get(written.lower())
    if not found or mode is None:
        raise ReadingError([_no_key(text, signs)])
    sign = {"sharp": "#", "flat": "b"}.get((found.group(2) or "").lower(), found.group(2) or "")
    key = Key(read_pitch(found.group(1).upper() + sign.lower()), mode)
    if abs(key.signature) > 7:
        message = f"“{text}” has a signature of {abs(key.signature)} signs, and seven are the most"
        raise ReadingError([Fault(message, column=1, length=max(1, len(text)), nearest=str(_twin(key)))])
    return key


def _no_key(text: str, signs: str) -> Fault:
    expected = "a tonic A to G and a mode, such as Eb, Am or D dorian"
    near = ""
    if found := _NEAR_KEY.fullmatch(signs):
        letter = found.group(1).upper().replace("H", "B")
        tonic = Pitch(letter, alteration_of(found.group(2).lower()))
        near = str(_twin(Key(tonic, _nearest_mode(found.group(3).strip()))))
    return Fault(f"“{text}” is not a key", column=1, length=max(1, len(text)), expected=expected, nearest=near)


def _nearest_mode(written: str) -> Mode:
    """The mode that a word was most likely meant for: one that it begins, one much like it, or one it begins with."""
    word = written.lower()
    begun = [name for name in _WRITTEN if len(word) > 2 and name.startswith(word)]
    alike = nearest(word, [name for name in _WRITTEN if len(name) > 1], 1)
    if begun or alike:
        return _WRITTEN[(*begun, *alike)[0]]
    return Mode.MINOR if re.match(r"m(?!aj)|-", written) else Mode.MAJOR


def _twin(key: Key) -> Key:
    """The key itself, or its enharmonic twin where the signature would pass seven signs."""
    return key.moved(Degree(1))


def read_metre(text: str) -> Metre:
    """A metre as written: ``3/4``, ``(2/4)``, ``12/8``; ``C`` and ``cut`` too.

    Raises:
        ReadingError: If it is none; columns count from 1 inside ``text``.

    >>> str(read_metre("(2/4)"))
    '2/4'
    """
    # A search without metres starts faster without it.
    from shared.chart import Metre

    written = plain(text).strip()
    if written in _NAMED_METRES:
        return Metre(*_NAMED_METRES[written])
    found = _METRE.fullmatch(written)
    if found and 1 <= int(found.group(1)) <= _MOST_BEATS and int(found.group(2)) in _UNITS:
        return Metre(int(found.group(1)), int(found.group(2)))
    near = ""
    if found and 1 <= int(found.group(1)) <= _MOST_BEATS:
        near = f"{found.group(1)}/{min(_UNITS, key=lambda unit: abs(unit - int(found.group(2))))}"
    elif numbers := re.findall(r"\d+", written):
        near = f"{numbers[0]}/4" if 1 <= int(numbers[0]) <= _MOST_BEATS else "4/4"
    expected = f"beats (1 to {_MOST_BEATS}) and their unit ({', '.join(map(str, _UNITS))}), such as 3/4"
    fault = Fault(f"“{text}” is not a metre", column=1, length=max(1, len(text)), expected=expected, nearest=near)
    raise ReadingError([fault])

"""Reads and writes chord labels of Harte et al. 2005: ``root:shorthand(degrees)/bass``, ``N`` and ``X``.

Conventions:
    * Degrees are counted from the root, as intervals of its major scale; ``*`` before one leaves that tone out. A bass
      is a degree above the root.
    * A label without a shorthand is the major triad, or just the tones listed (``C:(1,5)``).
    * ``N`` is no chord, ``X`` (a later addition) a chord that nobody could name: both are None here.
    * The shorthands from ``sus2`` on came after the article; ``11`` and the 13ths are read as the chord names C11, C13,
      Cmaj13 and Cm13 are, and written out tone by tone, because programs differ about them.

Source: C. Harte, M. Sandler, S. Abdallah and E. Gomez, "Symbolic representation of musical chords", ISMIR 2005.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

from lark import Lark, Token, Transformer, v_args
from lark.exceptions import UnexpectedInput, UnexpectedToken

from grammar.bar_content import writable
from grammar.parsers import parser
from grammar.signs import plain
from grammar.symbols import filled, read_pitch, symbol_or_none
from shared.chord import Chord
from shared.errors import Fault, ReadingError, nearest
from shared.pitch import Pitch, readable
from shared.quality import Quality, tone
from shared.quality_names import BY_NAME

_PUBLISHED = {
    "maj": "",
    "min": "m",
    "dim": "dim",
    "aug": "aug",
    "maj7": "maj7",
    "min7": "m7",
    "7": "7",
    "dim7": "dim7",
    "hdim7": "m7b5",
    "minmaj7": "m(maj7)",
    "maj6": "6",
    "min6": "m6",
    "9": "9",
    "maj9": "maj9",
    "min9": "m9",
    "sus4": "sus4",
}
_LATER = {"sus2": "sus2", "5": "5", "11": "11", "min11": "m11", "13": "13", "maj13": "maj13", "min13": "m13"}
#: Every shorthand and the quality it stands for.
SHORTHANDS = {short: BY_NAME[name] for short, name in (_PUBLISHED | _LATER).items()} | {"1": Quality.spelled("1")}
_WRITTEN = {short: SHORTHANDS[short] for short in (*_PUBLISHED, "sus2", "5", "1")}
_LONGEST = 80
#: Letters that are meant as a root; H is what some countries call B.
_ROOTS = {letter: letter for letter in "ABCDEFG"} | {"H": "B"}


def read_harte(label: str) -> Chord | None:
    """The chord that a label stands for.

    Args:
        label: One label, such as ``Ab:min7/b3``.

    Returns:
        The chord; None for ``N`` (no chord) and ``X`` (unknown).

    Raises:
        ReadingError: If it is no label; the fault's column counts from 1 inside ``label``.

    >>> read_harte("A:min7/b3").name, read_harte("D:(1,4,5)").name, read_harte("N")
    ('Am7/C', 'Dsus4', None)
    """
    read = harte_or_fault(label)
    if isinstance(read, Fault):
        raise ReadingError([read])
    return read


@lru_cache(maxsize=65536)
def harte_or_fault(label: str) -> Chord | Fault | None:
    """The chord that a label stands for, None for none, or why it is no label (see ``read_harte``)."""
    if len(label) > _LONGEST:
        return Fault(f"“{label[:20]}…” is too long for a chord label", column=1, length=len(label))
    try:
        chord = _Labels().transform(_parser().parse(plain(label)))
    except UnexpectedInput as error:
        return _fault(label, error)
    if not isinstance(chord, Chord):
        return None
    return writable(chord) or Fault(f"the tones of “{label}” have no chord name", column=1, length=len(label))


@cache
def _parser() -> Lark:
    short = "SHORTHAND: /" + "|".join(sorted(SHORTHANDS, key=lambda name: (-len(name), name))) + "/\n"
    return parser("harte", "label", short, maybe_placeholders=True)


class _Labels(Transformer[Token, Any]):
    """Turns the parse of a label into its chord."""

    def degrees(self, items: list[Token]) -> tuple[Token, ...]:
        return tuple(items)

    @v_args(inline=True)
    def chord(self, root: Token, *rest: Any) -> Chord:
        bass = rest[-1]
        shorthand = next((each for each in rest[:-1] if isinstance(each, Token)), None)
        listed = next((each for each in rest[:-1] if isinstance(each, tuple)), ())
        base = "1" if shorthand is None and listed else shorthand or "maj"
        made = SHORTHANDS[base]
        for omitted in (each for each in listed if each.type == "OMITTED"):
            left_out = tone(omitted[1:])
            exactly = [t for t in made.tones if t != left_out or t.number == 1]
            made = Quality.of(exactly) if len(exactly) < len(made.tones) else made.without(left_out.number)
        made = Quality.of([*made.tones, *(tone(each) for each in listed if each.type == "DEGREE")])
        pitch = _pitch(root)
        return Chord(pitch, made, pitch.up(tone(bass)) if bass else None)


def _pitch(text: str) -> Pitch:
    pitch = read_pitch(text)
    return pitch if abs(pitch.alteration) <= 2 else readable(pitch)


def _fault(label: str, error: UnexpectedInput) -> Fault:
    """A label's fault in words, with the label that was most likely meant."""
    at_end = isinstance(error, UnexpectedToken) and error.token.type == "$END"
    place = len(label) if at_end else max(0, error.pos_in_stream or 0)
    near = _meant(label)
    if not label:
        return Fault("an empty chord label", column=1, expected="a label such as C:maj, or N")
    if place == 0 and label[0] not in "ABCDEFG":
        expected = "a root A to G, then “:” and a shorthand, such as C:maj, or N"
        return Fault(f"“{label}” is not a chord label", column=1, length=len(label), expected=expected, nearest=near)
    if place >= len(label):
        expected = "a shorthand such as maj or min7, degrees in brackets, or a bass degree"
        return Fault(f"“{label}” breaks off", column=len(label), expected=expected, nearest=near)
    message = f"“{label}” is not a chord label: “{label[place:]}” cannot stand there"
    expected = "“:” and a shorthand, degrees in brackets such as (9) or (*5,b9), a bass degree such as /b7, or the end"
    return Fault(message, column=place + 1, length=len(label) - place, expected=expected, nearest=near)


def _meant(label: str) -> str:
    """The label that is nearest to a faulty one, empty where none comes near."""
    signs = plain(label)
    wanted = symbol_or_none(signs)
    if wanted is not None and isinstance(wanted.root, Pitch):
        bass = wanted.bass if isinstance(wanted.bass, Pitch) else None
        return write_harte(Chord(wanted.root, filled(wanted), bass))
    root, colon, tail = signs.partition(":")
    if root[:1].upper() in _ROOTS:
        root = _ROOTS[root[:1].upper()] + root[1:]
        if _reads(root + colon + tail):
            return root + colon + tail
    if not colon or root[:1] not in _ROOTS:
        return ""
    short = tail.partition("/")[0].partition("(")[0]
    tries = [f"{root}:{tail}{')' * (tail.count('(') - tail.count(')'))}"]
    tries += [f"{root}:{near}{tail[len(short) :]}" for near in nearest(short, SHORTHANDS, 1)]
    tries += [f"{root}:{near}" for near in nearest(short, SHORTHANDS, 1)]
    tries += [f"{root}:{short}"] if short in SHORTHANDS else []
    return next((each for each in tries if each != label and _reads(each)), "")


def _reads(label: str) -> bool:
    try:
        _parser().parse(label)
    except UnexpectedInput:
        return False
    return True


def write_harte(chord: Chord | None) -> str:
    """The label of a chord; reading it gives the same chord again.

    >>> from grammar.symbols import read_chord
    >>> write_harte(read_chord("Ebm7b5/Db")), write_harte(read_chord("C11")), write_harte(None)
    ('Eb:hdim7/b7', 'C:9(*3,11)', 'N')
    """
    if chord is None:
        return "N"
    bass = f"/{chord.bass.degree_in(chord.root)}" if chord.bass else ""
    return f"{chord.root}:{_quality_label(chord.quality)}{bass}"


@lru_cache(maxsize=4096)
def _quality_label(quality: Quality) -> str:
    """The shorthand that needs the fewest degrees behind it, and those degrees."""
    wanted = set(quality.tones)
    best: tuple[int, int, str] | None = None
    for order, (short, base) in enumerate(_WRITTEN.items()):
        left_out = [f"*{t}" for t in base.tones if t not in wanted]
        extra = [str(t) for t in quality.tones if t not in base.tones]
        if _put_together(base, left_out, extra) != quality:
            continue
        marks = [*left_out, *extra]
        text = short + (f"({','.join(marks)})" if marks else "")
        best = min(best or (99, 0, ""), (len(marks) + len(left_out), order, text))
    assert best is not None, "every tone can be added to the root alone"
    return best[2]


def _put_together(base: Quality, left_out: list[str], extra: list[str]) -> Quality:
    gone = {tone(each[1:]) for each in left_out}
    return Quality.of([t for t in base.tones if t not in gone] + [tone(each) for each in extra])

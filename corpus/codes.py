r"""Tunes as strings: one code point for each chord, laid out so that every question is a few ranges of code points.

A code is made of, in this order, the degree of the root (0 to 11), the degree of the bass (0 to 11) and the slot of the
quality, all counted in semitones from the tonic. Slots are sorted by family, in the order of ``shared.quality.Family``,
the dominants without a third after those with one; so these are runs of neighbours: a degree, a degree over a bass, a
family, "no minor third", "no major third", "no third" and "suspended".

Qualities of the table lie between U+0800 and U+D7FF. Every other quality has a code from U+10000 on, in the same order,
so that any mixture of tones can be told from any other: a class of codes is two runs for each root and bass.

Marks stand between the codes:

====  =======================================================================
sign  meaning
====  =======================================================================
``<``  a section starts with the chord that follows
``>``  a section ends with the chord before
``!``  the key changes (only where chords are counted from the key in force)
``(``  a bar begins (bar by bar)
``)``  a bar ends (bar by bar)
``-``  there is silence in the bar (bar by bar; no chords are written then); alone
       before the first bar or behind the last, silence in a key of its own
====  =======================================================================
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from shared.chord import Chord
from shared.key import Key
from shared.quality import Family, Quality, Third
from shared.quality_names import QUALITIES

if TYPE_CHECKING:
    from shared.tune import Segment, Tune

SECTION_STARTS, SECTION_ENDS, KEY_CHANGES = "<", ">", "!"
BAR_BEGINS, BAR_ENDS, SILENCE = "(", ")", "-"

#: Semitones from the tonic of a natural minor key up to that of its relative major.
TO_RELATIVE = 3

_NAMED_FROM, _NAMED_END = 0x0800, 0xD800
_RARE_FROM = 0x10000
_ORDER = {family: 2 * position for position, family in enumerate(Family)}

#: Groups are families in the order of their slots; a dominant without a third has a group of its own.
DOMINANT_WITHOUT_THIRD = _ORDER[Family.DOMINANT] + 1


def group_of(family: Family) -> int:
    """The group of a family's slots (for the dominants, of those with a third)."""
    return _ORDER[family]


def _group(quality: Quality) -> int:
    without = quality.family is Family.DOMINANT and quality.third is Third.NONE
    return DOMINANT_WITHOUT_THIRD if without else _ORDER[quality.family]


_AUGMENTED, _MAJOR, _DOMINANT, _SUSPENDED, _OPEN_FIFTH, _MINOR, _HALF_DIMINISHED, _DIMINISHED = _ORDER.values()


def _groups_of_sound(mask: int) -> list[int]:
    """The groups that a sound may belong to, by how it can be spelled, the likeliest first."""
    fifth, sharp_fifth, seventh = mask & 1 << 7, mask & 1 << 8, mask & 1 << 10
    if mask & 1 << 4:
        if seventh:
            return [_DOMINANT]
        return [_AUGMENTED, _MAJOR] if sharp_fifth and not fifth else [_MAJOR]
    suspended = DOMINANT_WITHOUT_THIRD if seventh else _SUSPENDED
    if mask & 1 << 3:
        if mask & 1 << 6 and not fifth:
            return [_HALF_DIMINISHED if seventh else _DIMINISHED, _MINOR, suspended]
        return [_MINOR, suspended]
    if seventh or mask & (1 << 1 | 1 << 2 | 1 << 5):
        return [suspended]
    return [_OPEN_FIFTH, suspended] if mask & 1 << 6 else [_OPEN_FIFTH]


@dataclass(frozen=True, slots=True)
class _Slots:
    """Slots of one range of code points: sorted pairs of group and sound."""

    base: int
    pairs: tuple[tuple[int, int], ...]

    def code(self, root: int, bass: int, slot: int) -> int:
        return self.base + (root * 12 + bass) * len(self.pairs) + slot

    def slots(self, first: int, last: int) -> tuple[int, int]:
        """The slots of the groups ``first`` to ``last``, as a half-open range."""
        return bisect_left(self.pairs, (first, 0)), bisect_left(self.pairs, (last + 1, 0))


@cache
def _named() -> _Slots:
    pairs = sorted({(_group(row.quality), row.quality.mask) for row in QUALITIES})
    assert _NAMED_FROM + 144 * len(pairs) <= _NAMED_END
    return _Slots(_NAMED_FROM, tuple(pairs))


@cache
def _rare() -> _Slots:
    every = {(group, mask) for mask in range(1, 4096, 2) for group in _groups_of_sound(mask)}
    return _Slots(_RARE_FROM, tuple(sorted(every.difference(_named().pairs))))


@lru_cache(maxsize=8192)
def _slot(quality: Quality) -> tuple[_Slots, int]:
    pair = (_group(quality), quality.mask)
    for table in (_named, _rare):
        slots = table()
        place = bisect_left(slots.pairs, pair)
        if place < len(slots.pairs) and slots.pairs[place] == pair:
            return slots, place
    # A spelling so odd that its family cannot be heard (a diminished eleventh for a third, say) goes by its sound.
    pair = (_groups_of_sound(quality.mask)[0], quality.mask)
    slots = _named() if pair in _named().pairs else _rare()
    return slots, bisect_left(slots.pairs, pair)


def chord_code(chord: Chord, tonic: int) -> str:
    """The code of a chord counted from a tonic (a pitch class)."""
    known = chord.sound, chord.quality.third, tonic
    code = _CODES.get(known)
    if code is None:
        code = _CODES[known] = chr(codes_from_every_tonic(chord)[tonic])
    return code


def codes_from_every_tonic(chord: Chord) -> list[int]:
    """The code points of a chord, counted from each of the twelve tonics."""
    root, bass, *_ = chord.sound
    slots, slot = _slot(chord.quality)
    return [slots.code((root - tonic) % 12, (bass - tonic) % 12, slot) for tonic in range(12)]


#: Codes worked out already, by sound, third and tonic, which say the same and hash far faster than the chord.
_CODES: dict[tuple[tuple[int, int, int, str], Third, int], str] = {}


class _Turn(dict[int, int]):
    """Code points by what they are when they are counted from a tonic so many semitones higher; marks stay."""

    def __init__(self, semitones: int) -> None:
        super().__init__()
        self._semitones = semitones

    def __missing__(self, sign: int) -> int:
        made = sign
        if sign >= _NAMED_FROM:
            slots = _rare() if sign >= _RARE_FROM else _named()
            places, slot = divmod(sign - slots.base, len(slots.pairs))
            root, bass = ((place - self._semitones) % 12 for place in divmod(places, 12))
            made = slots.code(root, bass, slot)
        self[sign] = made
        return made


_turn = cache(_Turn)


def turned(text: str, semitones: int) -> str:
    """A string of codes and marks counted from a tonic that is so many semitones higher.

    >>> from grammar.symbols import read_chord
    >>> turned(f"<{chord_code(read_chord('Am7/G'), 0)}>", 9) == f"<{chord_code(read_chord('Am7/G'), 9)}>"
    True
    """
    return text.translate(_turn(semitones % 12)) if semitones % 12 else text


def group_of_quality(quality: Quality) -> int:
    """The group that chords of a quality are coded in."""
    slots, slot = _slot(quality)
    return slots.pairs[slot][0]


def quality_code_range(root: int, bass: int, quality: Quality) -> Iterable[tuple[int, int]]:
    """The code of one quality on one degree over one bass (in semitones), as an inclusive range."""
    slots, slot = _slot(quality)
    code = slots.code(root, bass, slot)
    return [(code, code)]


def group_code_ranges(root: int, bass: int | None, first: int, last: int) -> Iterable[tuple[int, int]]:
    """The codes of a run of groups on one degree, over one bass or any (None), as inclusive ranges."""
    basses = range(12) if bass is None else (bass,)
    for table in (_named(), _rare()):
        begin, end = table.slots(first, last)
        if begin == end:
            continue
        if (begin, end) == (0, len(table.pairs)) and bass is None:
            yield table.code(root, 0, 0), table.code(root, 11, end - 1)
            continue
        for each in basses:
            yield table.code(root, each, begin), table.code(root, each, end - 1)


def slot_rows() -> Iterable[tuple[int, int, int, str, int, str | None]]:
    """What the codes stand for: first code, slots of the range, slot, family, sound, and the name in the table."""
    names = {(_group(row.quality), row.quality.mask): row.name for row in reversed(QUALITIES)}
    families = list(Family)
    for table in (_named(), _rare()):
        for slot, pair in enumerate(table.pairs):
            yield table.base, len(table.pairs), slot, families[pair[0] // 2].value, pair[1], names.get(pair)


FIRST_GROUP, LAST_GROUP = 0, _ORDER[Family.DIMINISHED] + 1


def slot_groups() -> tuple[tuple[int, tuple[int, ...]], ...]:
    """Both ranges of code points: the first of each, and the group of every slot in it."""
    return tuple((table.base, tuple(group for group, _ in table.pairs)) for table in (_named(), _rare()))


@dataclass(frozen=True, slots=True)
class Strings:
    """A tune as one string of chords and one bar by bar."""

    chords: str
    bars: str


@dataclass(frozen=True, slots=True)
class Coded:
    """A tune in every count that is asked of it.

    Attributes:
        tonic: Counted from the tonic of the key in force, keys apart.
        relative: The segments whose key has a minor third, counted from its relative major; None where there are none.
        major: The segments whose key has a major third, counted from its tonic; None where that is all of ``tonic``.
        fixed: The whole tune counted from its home tonic; None where that is ``tonic``, since the key never changes.
    """

    tonic: Strings
    relative: Strings | None
    major: Strings | None
    fixed: Strings | None


def coded(tune: Tune) -> Coded:
    """The strings of a tune."""
    minor = [segment.key.minor_third for segment in tune.segments]
    tonic = _strings(tune, lambda key: key)
    relative = _strings(tune, lambda key: key.relative_major if key.minor_third else None) if any(minor) else None
    major = _strings(tune, lambda key: None if key.minor_third else key) if any(minor) else None
    fixed = _fixed(tune) if len(tune.segments) > 1 else None
    return Coded(tonic, relative, major, fixed)


def _strings(tune: Tune, counted_from: Callable[[Key], Key | None]) -> Strings:
    """The strings with every segment counted from a key of its own, or left out where that is None."""
    chords, bars = [], []
    for segment in tune.segments:
        key = counted_from(segment.key)
        made = ("", "") if key is None else _segment(tune, segment, key.tonic.pitch_class)
        chords.append(made[0])
        bars.append(made[1])
    return Strings(KEY_CHANGES.join(chords), KEY_CHANGES.join(bars))


def _fixed(tune: Tune) -> Strings:
    # A search starts faster without it.
    from shared.tune import Segment

    whole = Segment(tune.key, 0, len(tune.events) - 1, 0, len(tune.bars) - 1)
    return Strings(*_segment(tune, whole, tune.key.tonic.pitch_class))


def _segment(tune: Tune, segment: Segment, tonic: int) -> tuple[str, str]:
    """One segment as a string of chords and one of bars."""
    first = segment.first
    codes = [chord_code(event.chord, tonic) for event in tune.events[first : segment.last + 1]]
    signs = []
    for code, event in zip(codes, tune.events[first : segment.last + 1], strict=True):
        if event.starts:
            signs.append(SECTION_STARTS)
        signs.append(code)
        if event.ends:
            signs.append(SECTION_ENDS)
    # What is silent in a key of its own is in no segment, but the tune begins and ends with it.
    bars = [SILENCE] if segment == tune.segments[0] and segment.from_bar > 0 else []
    playings = [bar.playing for bar in tune.bars[max(0, segment.from_bar - 1) : segment.to_bar + 2]]
    before = playings.pop(0) if segment.from_bar else None
    for bar, playing, after in zip(
        tune.bars[segment.from_bar : segment.to_bar + 1], playings, [*playings[1:], None], strict=False
    ):
        if playing != before:
            bars.append(SECTION_STARTS)
        before = playing
        inner = SILENCE if bar.silent else "".join([codes[number - first] for number in bar.events])
        bars.append(f"{BAR_BEGINS}{inner}{BAR_ENDS}")
        if playing != after:
            bars.append(SECTION_ENDS)
    if segment == tune.segments[-1] and segment.to_bar < len(tune.bars) - 1:
        bars.append(SILENCE)
    return "".join(signs), "".join(bars)

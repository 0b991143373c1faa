"""The mode of a stretch whose tonic is known: rules over the tones that sound, each with its reason.

Tones are counted in semitones from the tonic and weighed by how long the chords that hold them last.

* **Third.** The mode has a minor third where the chords on the tonic are mostly minor. Where both thirds stand on it,
  the chance is the share of the longer; where none does, the sixth and third of the other chords speak (4 and 9 for
  major, 3 and 8 for minor).
* **Mixolydian**: a major third; the seventh of the scale sounds lowered in a chord off the tonic (bVII or v) and never
  plain. The seventh of a dominant chord on the tonic says nothing: every blues has it.
* **Lydian**: a major third; the raised fourth sounds, the plain one never, and II does not go to V (that would be an
  applied dominant).
* **Dorian**: a minor third; the sixth sounds plain in a chord off the tonic (IV or ii), never lowered, and there is no
  leading tone.
* **Phrygian**: a minor third; the second sounds lowered (bII or bvii), never plain, and there is no leading tone.
* Major and minor otherwise. A tone sounds where the chords that hold it last ``_TELLING`` of the time or more.

Many stretches are settled together, each for all twelve tonics.

The rules are common practice; nothing in the open data says a mode.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from corpus.key_layout import THIRDS, Laid
from corpus.key_phrases import KINDS, MAJOR, MINOR
from corpus.ragged import Floats, Ints, Truths
from shared.key import Mode

_TELLING = 0.04
#: The tones of each kind of chord, in semitones above its root (see ``corpus.key_phrases.KINDS``).
TONES = ((0, 4, 7), (0, 4, 7, 11), (0, 4, 7, 10), (0, 3, 7), (0, 3, 7, 10), (0, 5, 7), (0, 7), (0, 3, 6), (0, 4, 8))
_DOMINANT = 2
#: The tones that speak for each third where no chord on the tonic has one, in semitones above the tonic.
_SPEAKING = {MAJOR: (4, 9), MINOR: (3, 8)}
#: So much of one chord, as a share of the time, stands for what nobody played: no chance is ever 0 or 1.
_DOUBT = 0.004
#: The same where no chord on the tonic says it.
_MORE_DOUBT = 0.1
_CHORDS = 12 * len(KINDS)


class Times(NamedTuple):
    """What sounds in stretches.

    Attributes:
        chords: How long the chords of each kind on each root last: stretches by 12 * kind + root (a pitch class).
        applied: Whether the chord on II goes to that on V, by tonic: stretches by 12.
    """

    chords: Floats
    applied: Truths


def times_of(laid: Laid, phrases: Ints, stretch: Ints) -> Times:
    """What sounds in stretches.

    Args:
        laid: The charts.
        phrases: The phrases of all stretches, in playing order.
        stretch: For each of them its stretch, ascending from 0; none is left out.
    """
    at, owner = laid.sounds_of(phrases)
    inside, root = stretch[owner], laid.root[at]
    count = int(inside[-1]) + 1
    chords: Floats = np.bincount(
        inside * _CHORDS + 12 * laid.kind[at] + root, weights=laid.length[at], minlength=count * _CHORDS
    ).astype(np.float64)
    applied = np.zeros((count, 12), bool)
    rising = ((root[1:] - root[:-1]) % 12 == 5) & (inside[1:] == inside[:-1])
    applied[inside[1:][rising], (root[:-1][rising] - 2) % 12] = True
    return Times(chords.reshape(count, _CHORDS), applied)


def _by_third(times: Times) -> Floats:
    """How long chords on each root have a major and a minor third: stretches by 2 by 12."""
    kinds = times.chords.reshape(-1, len(KINDS), 12)
    return np.stack([kinds[:, np.equal(THIRDS, third)].sum(axis=1) for third in (MAJOR, MINOR)], axis=1)


def _sounding(times: Times) -> Floats:
    """How long each pitch class sounds: stretches by 12."""
    kinds = times.chords.reshape(-1, len(KINDS), 12)
    made = np.zeros((len(kinds), 12))
    for kind, tones in enumerate(TONES):
        for tone in tones:
            made += np.roll(kinds[:, kind], tone, axis=1)
    return made


def _above(sounding: Floats, tone: int) -> Floats:
    """How long the pitch class so far above each tonic sounds: stretches by 12."""
    return np.roll(sounding, -tone, axis=1)


def chances_of_minor_third(times: Times) -> Floats:
    """The chance that the mode on each tonic has a minor third: stretches by 12 (see the conventions above)."""
    sounding, on = _sounding(times), _by_third(times)
    said = on.any(axis=1)
    speaking = {
        third: np.where(said, on[:, place], sum(_above(sounding, tone) for tone in _SPEAKING[third]))
        for place, third in enumerate((MAJOR, MINOR))
    }
    doubt = np.where(said, _DOUBT, _MORE_DOUBT) * times.chords.sum(axis=1)[:, None]
    chances: Floats = (speaking[MINOR] + doubt) / (speaking[MAJOR] + speaking[MINOR] + 2 * doubt)
    return chances


def modes_of(times: Times) -> list[list[tuple[Mode, Mode]]]:
    """For each stretch and tonic the mode if its third is major, and if it is minor (see the conventions above).

    >>> from corpus.key_layout import laid_out, one_phrase
    >>> from corpus.key_phrases import sounds_of
    >>> from grammar.symbols import read_chord
    >>> laid = laid_out([one_phrase(sounds_of([(read_chord(name), 4.0) for name in ("Dm7", "G7", "Dm7", "G7")]))])
    >>> ((*_, (_, on_d), _, _, _, _, _, _, _, _, _),) = modes_of(times_of(laid, np.array([0]), np.array([0])))
    >>> on_d.label
    'dorian'
    """
    sounding, whole = _sounding(times), times.chords.sum(axis=1)[:, None]
    dominant = times.chords.reshape(-1, len(KINDS), 12)[:, _DOMINANT]

    def telling(tone: int, less: Floats | float = 0.0) -> Truths:
        long: Truths = _above(sounding, tone) - less >= _TELLING * whole
        return long

    def never(tone: int) -> Truths:
        silent: Truths = _above(sounding, tone) == 0
        return silent

    leading = telling(11)
    mixolydian = telling(10, dominant) & never(11)
    lydian = telling(6) & never(5) & ~times.applied
    dorian = telling(9) & never(8) & ~leading
    phrygian = telling(1) & never(2) & ~leading
    number = 3 * np.where(mixolydian, 2, lydian) + np.where(dorian, 1, 2 * phrygian)
    return [[_MODES[each] for each in row] for row in number.tolist()]


_MODES = [
    (major, minor)
    for major in (Mode.MAJOR, Mode.LYDIAN, Mode.MIXOLYDIAN)
    for minor in (Mode.MINOR, Mode.DORIAN, Mode.PHRYGIAN)
]

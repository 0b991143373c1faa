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

The rules are common practice; nothing in the open data says a mode.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Mapping

from corpus.key_phrases import MAJOR, MINOR, THIRD_OF_KIND, Sound
from shared.key import Mode

_TELLING = 0.04
#: The tones of each kind of chord, in semitones above its root (see ``corpus.key_phrases.KINDS``).
TONES = ((0, 4, 7), (0, 4, 7, 11), (0, 4, 7, 10), (0, 3, 7), (0, 3, 7, 10), (0, 5, 7), (0, 7), (0, 3, 6), (0, 4, 8))
_DOMINANT = 2
#: What a tone off the tonic says of the third, by semitones above the tonic.
_SPEAKS = (None, None, None, MINOR, MAJOR, None, None, None, MINOR, MAJOR, None, None)
#: So much of one chord, as a share of the time, stands for what nobody played: no chance is ever 0 or 1.
_DOUBT = 0.004
#: The same where no chord on the tonic says it.
_MORE_DOUBT = 0.1


#: How long the chords of each kind on each root last: by 12 * kind + root (a pitch class).
Times = Mapping[int, float]


def times_of(sounds: Iterable[Sound]) -> Times:
    """How long the chords of each kind on each root last."""
    times: dict[int, float] = {}
    for (root, kind, _, length), often in Counter(sounds).items():
        at = 12 * kind + root
        times[at] = times.get(at, 0.0) + often * length
    return times


def chance_of_minor_third(times: Times, tonic: int) -> float:
    """The chance that the mode on a tonic has a minor third (see the conventions above)."""
    on_tonic, off = [0.0, 0.0], [0.0, 0.0]
    whole = 0.0
    for at, length in times.items():
        kind, degree = at // 12, (at - tonic) % 12
        whole += length
        third = THIRD_OF_KIND[kind]
        if degree == 0 and third in (MAJOR, MINOR):
            on_tonic[third] += length
            continue
        for tone in TONES[kind]:
            speaks = _SPEAKS[(degree + tone) % 12]
            if speaks is not None:
                off[speaks] += length
    speaking = on_tonic if any(on_tonic) else off
    doubt = (_DOUBT if any(on_tonic) else _MORE_DOUBT) * whole
    return (speaking[MINOR] + doubt) / (sum(speaking) + 2 * doubt)


def mode_of(times: Times, pairs: Container[tuple[int, int]], tonic: int, minor_third: bool) -> Mode:
    """The mode of a stretch, its tonic and third known (see the conventions above).

    Args:
        times: How long its chords last.
        pairs: The roots (pitch classes) that follow each other.
        tonic: The tonic as a pitch class.
        minor_third: Whether its mode has a minor third.

    >>> from corpus.key_phrases import sounds_of
    >>> from grammar.symbols import read_chord
    >>> vamp = sounds_of([(read_chord(name), 4.0) for name in ("Dm7", "G7", "Dm7", "G7")])
    >>> mode_of(times_of(vamp), {(2, 7), (7, 2)}, 2, True).label
    'dorian'
    """
    whole = sum(times.values())
    sounding = [0.0] * 12
    for at, length in times.items():
        kind, degree = at // 12, (at - tonic) % 12
        if degree == 0 and kind == _DOMINANT:
            kind = 0
        for tone in TONES[kind]:
            sounding[(degree + tone) % 12] += length

    def telling(tone: int) -> bool:
        return sounding[tone] >= _TELLING * whole

    leading = telling(11)
    if minor_third:
        if telling(9) and not sounding[8] and not leading:
            return Mode.DORIAN
        if telling(1) and not sounding[2] and not leading:
            return Mode.PHRYGIAN
        return Mode.MINOR
    if telling(10) and not sounding[11]:
        return Mode.MIXOLYDIAN
    if telling(6) and not sounding[5] and ((tonic + 2) % 12, (tonic + 7) % 12) not in pairs:
        return Mode.LYDIAN
    return Mode.MAJOR

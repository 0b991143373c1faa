"""What the key finder works out with arrays, many charts at a time, worked out chord by chord as its conventions say.

Plain and slow; the referee of ``corpus.key_hearing``, ``corpus.key_features`` and ``corpus.key_modes``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from itertools import chain, groupby, pairwise
from math import sqrt
from typing import NamedTuple

from corpus.key_features import BASES
from corpus.key_modes import TONES
from corpus.key_phrases import MAJOR, MINOR, THIRD_OF_KIND, Heard, Phrase, Sound, sounds_of
from corpus.unfolding import cell_lengths, played_bars
from shared.chart import Bar, Chart
from shared.key import Mode

_TELLING = 0.04
_DOMINANT = 2
_SPEAKS = (None, None, None, MINOR, MAJOR, None, None, None, MINOR, MAJOR, None, None)
_DOUBT = 0.004
_MORE_DOUBT = 0.1


def plain_heard(chart: Chart) -> Heard:
    """A chart as the key finder hears it: bars under a written key only where nothing else sounds."""
    lines = Counter(bar.line for _, bar in chart.bars())
    lined = any(lines) and (lines.total() <= 16 or max(lines.values()) <= 16)
    sectioned = any(section.label for section in chart.sections)
    for keyed in (False, True):
        phrases: list[Phrase] = []
        position = 0
        for _, playing in groupby(played_bars(chart), lambda each: each[0] if sectioned else 0):
            bars = [bar for _, _, bar in playing]
            runs = list(_runs(bars, lined, keyed))
            for index, (first, sounds, size) in enumerate(runs):
                ends = position + first, position + first + size - 1
                phrases.append(Phrase(sounds, *ends, index == 0, index + 1 == len(runs)))
            position += len(bars)
        if phrases:
            break
    return Heard(tuple(phrases), lined, sectioned)


def _runs(bars: Sequence[Bar], lined: bool, keyed: bool) -> Iterator[tuple[int, tuple[Sound, ...], int]]:
    """The phrases that sound in one playing of a section: first bar, sounds, number of bars."""
    runs: list[tuple[int, list[Bar]]] = []
    before: Bar | None = None
    for position, bar in enumerate(bars):
        if bar.key is not None and not keyed:
            before = None
            continue
        broken = before is None or bar.number <= before.number
        if broken or (bar.line != runs[-1][1][-1].line if lined else len(runs[-1][1]) == 4):
            runs.append((position, []))
        runs[-1][1].append(bar)
        before = bar
    for first, run in runs:
        lengths = [(bar, cell_lengths(len(bar.cells), bar.metre, bar.measured)) for bar in run]
        cells = [each for bar, shares in lengths for each in zip(bar.cells, shares, strict=True)]
        sounds = sounds_of((cell.chord, float(length)) for cell, length in cells if cell.chord is not None)
        if sounds:
            yield first, sounds, len(run)


def plain_shares(heard: Heard, shifts: Sequence[int]) -> list[tuple[int, float]]:
    """The features of a view of one chart, as pairs of a place and a value, in no order."""
    phrases = heard.phrases
    breaks = [index for index in range(1, len(shifts)) if shifts[index] != shifts[index - 1]]
    made = _inner(
        (list(chain.from_iterable(phrase.sounds for phrase in phrases[first:end])), shifts[first])
        for first, end in pairwise((0, *breaks, len(phrases)))
    )
    edges: dict[tuple[int, int], _Edges] = {}
    lines = []
    for phrase, shift in zip(phrases, shifts, strict=True):
        known = id(phrase.sounds), shift
        if known not in edges:
            edges[known] = _edges(phrase.sounds, shift)
        lines.append(edges[known])
    into = [
        _PAIR[before.end % 12][line.start % 12] if before.end % 12 != line.start % 12 else None
        for before, line in pairwise(lines)
    ]
    for index in breaks:
        into[index - 1] = None
    unit = "line" if heard.lined else "group"
    _block(made, f"{unit} starts", Counter(line.start for line in lines))
    _block(made, f"{unit} ends", Counter(line.end for line in lines))
    _block(made, f"into {unit}s", Counter(pair for pair in into if pair is not None))
    _block(made, f"{unit} closes", Counter(line.close for line in lines if line.close is not None))
    if not heard.lined:
        opening: dict[int, float] = {}
        for root, kind, _, length in phrases[0].sounds:
            opening[12 * kind + root] = opening.get(12 * kind + root, 0.0) + length
        _block(made, "opening", opening)
    if heard.sectioned:
        firsts = [index for index, phrase in enumerate(phrases) if phrase.starts]
        _block(made, "section starts", Counter(lines[index].start for index in firsts))
        closing = (line.end for line, phrase in zip(lines, phrases, strict=True) if phrase.ends)
        _block(made, "section ends", Counter(closing))
        across = (into[index - 1] for index in firsts if index)
        _block(made, "into sections", Counter(pair for pair in across if pair is not None))
    return made


class _Edges(NamedTuple):
    """Places of a phrase's first and last chord, by third, and of the pair of its last two roots, if it has two."""

    start: int
    end: int
    close: int | None


def _edges(sounds: Sequence[Sound], shift: int) -> _Edges:
    first, last = ((sound.root - shift) % 12 for sound in (sounds[0], sounds[-1]))
    before = next((sound.root for sound in reversed(sounds) if sound.root != sounds[-1].root), None)
    close = None if before is None else _PAIR[(before - shift) % 12][last]
    start, end = (12 * THIRD_OF_KIND[sounds[at].kind] for at in (0, -1))
    return _Edges(start + first, end + last, close)


#: The place of a pair of roots: 12 * the interval from the first to the second, plus the first.
_PAIR = tuple(tuple(12 * ((two - one) % 12) + one for two in range(12)) for one in range(12))


def _block(made: list[tuple[int, float]], name: str, counts: Mapping[int, float]) -> None:
    """Adds the shares of one block, by their places in it."""
    if counts:
        base, whole = BASES[name], 1 / sum(counts.values())
        made += [(base + place, sqrt(count * whole)) for place, count in counts.items()]


def _add(counts: dict[int, float], place: int, count: float) -> None:
    counts[place] = counts.get(place, 0.0) + count


def _inner(stretches: Iterable[tuple[Sequence[Sound], int]]) -> list[tuple[int, float]]:
    """The blocks that know nothing of lines and sections.

    Args:
        stretches: Runs of sounds, each with its shift. Music repeats itself, so what is equal is counted first and
            worked out once.
    """
    time: dict[int, float] = {}
    bass: dict[int, float] = {}
    chords: dict[int, float] = {}
    pairs: dict[int, float] = {}
    thirds: dict[int, float] = {}
    triples: dict[int, float] = {}
    first = last = -1
    for sounds, shift in stretches:
        for (heard_root, kind, above, length), times in Counter(sounds).items():
            root = (heard_root - shift) % 12
            _add(chords, 12 * kind + root, times)
            _add(time, 12 * kind + root, times * length)
            _add(bass, (root + above) % 12, times * length)
        run = [each for each, _ in groupby(12 * THIRD_OF_KIND[kind] + root for root, kind, _, _ in sounds)]
        for (one, two), times in Counter(pairwise(run)).items():
            interval = (two - one) % 12
            if interval:
                _add(thirds, 12 * (36 * (one // 12) + 12 * (two // 12) + interval) + (one - shift) % 12, times)
        roots = [root for root, _ in groupby(place % 12 for place in run)]
        for (one, two), times in Counter(pairwise(roots)).items():
            _add(pairs, _PAIR[(one - shift) % 12][(two - shift) % 12], times)
        for (one, two, three), times in Counter(zip(roots, roots[1:], roots[2:], strict=False)).items():
            _add(triples, 12 * (12 * ((two - one) % 12) + (three - one) % 12) + (one - shift) % 12, times)
        if first < 0:
            first = 12 * (run[0] // 12) + (run[0] - shift) % 12
        last = 12 * (run[-1] // 12) + (run[-1] - shift) % 12
    made: list[tuple[int, float]] = [(BASES["first"] + first, 1.0), (BASES["last"] + last, 1.0)]
    _block(made, "time", time)
    _block(made, "chords", chords)
    _block(made, "bass", bass)
    _block(made, "pairs", pairs)
    _block(made, "thirds", thirds)
    _block(made, "triples", triples)
    return made


def plain_times(sounds: Iterable[Sound]) -> dict[int, float]:
    """How long the chords of each kind on each root last, by 12 * kind + root."""
    times: dict[int, float] = {}
    for (root, kind, _, length), often in Counter(sounds).items():
        at = 12 * kind + root
        times[at] = times.get(at, 0.0) + often * length
    return times


def plain_minor_third(times: Mapping[int, float], tonic: int) -> float:
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


def plain_mode(times: Mapping[int, float], pairs: Container[tuple[int, int]], tonic: int, minor_third: bool) -> Mode:
    """The mode of a run of chords, its tonic and third known."""
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

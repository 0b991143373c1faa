"""Counts a survey slowly and plainly, chart by chart, from the tunes as played: the referee of the counts in SQL."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from itertools import groupby

from corpus.tunes import played
from grammar.charts import read_chart
from shared.chart import Chart
from shared.chord import Chord
from shared.pitch import CHROMATIC, Pitch
from shared.tune import Tune

Name = Callable[[Chord, Pitch], str]


def root(chord: Chord, tonic: Pitch) -> str:
    """The root, counted by sound."""
    return str(CHROMATIC[(chord.root.pitch_class - tonic.pitch_class) % 12])


def root_and_family(chord: Chord, tonic: Pitch) -> str:
    """The root and the family."""
    return f"{root(chord, tonic)}{chord.quality.family.value}"


def family(chord: Chord, tonic: Pitch) -> str:
    """The root and the family's title, so that chords of one family on two roots are two."""
    return f"{root(chord, tonic)} {chord.quality.family.title}"


def tunes_of(texts: Iterable[str]) -> list[Tune]:
    """The tunes of charts without fault."""
    charts = (read_chart(text).chart for text in texts)
    return [played(chart).tune for chart in charts if isinstance(chart, Chart)]


def stretches(tune: Tune, name: Name, label: str | None = None) -> Iterator[list[str]]:
    """The names of each run of chords in one key (and in sections of one label), equal ones in a row once."""
    for segment in tune.segments:
        events = tune.events[segment.first : segment.last + 1]
        for inside, run in groupby(events, key=lambda event: label is None or event.section == label):
            if inside:
                names = [name(event.chord, segment.key.tonic) for event in run]
                yield [each for each, _ in groupby(names)]


def sequences(tunes: Iterable[Tune], name: Name, length: int, label: str | None = None) -> dict[str, tuple[int, int]]:
    """Every sequence of so many chords: how often, and in how many tunes."""
    times: Counter[str] = Counter()
    charts: Counter[str] = Counter()
    for tune in tunes:
        own = Counter(
            " ".join(each[first : first + length])
            for each in stretches(tune, name, label)
            for first in range(len(each) - length + 1)
        )
        times.update(own)
        charts.update(own.keys())
    return {each: (times[each], charts[each]) for each in times}


def cadences(tunes: Iterable[Tune], name: Name) -> Counter[str]:
    """The last two different chords of every playing of a section, in the key in which it ends."""
    found: Counter[str] = Counter()
    for tune in tunes:
        for number in {bar.playing for bar in tune.bars}:
            sounding = [
                (event, place) for place, bar in enumerate(tune.bars) if bar.playing == number for event in bar.events
            ]
            if not sounding:
                continue
            # A section that changes key ends in the last key in which it sounds.
            ending = [each for each in tune.segments if each.from_bar <= sounding[-1][1] <= each.to_bar][-1]
            names = [
                name(tune.events[event].chord, ending.key.tonic)
                for event, place in sounding
                if ending.from_bar <= place <= ending.to_bar
            ]
            heard = [each for each, _ in groupby(names)]
            if len(heard) > 1:
                found[" ".join(heard[-2:])] += 1
    return found

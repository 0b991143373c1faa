"""Tunes alike: those that share the most progression material with a tune, in whatever key, and the passages shared.

How alike two tunes are:
    * Their passages (``search.alignment``) are found bar by bar, and again chord by chord.
    * The share of both tunes that stands in passages is twice what these are worth by what both tunes are (L. R. Dice,
      "Measures of the amount of ecologic association between species", Ecology 26, 1945): 1 for tunes alike throughout.
    * A short tune may be gone through as often as it fits into the longer one, if the share is more then: a loop is
      like a tune that goes round it all through, however often. Passages are told within one time through.
    * The score is the share bar by bar, or half the share chord by chord where that is more: there only the order of
      the chords agrees, as where one chart writes twice as many bars, or none at all above its words.

Of a large library not every tune is aligned. Candidates are ranked by the sequences of two to four roots that they have
in common with the tune, moved alike (``corpus.grams``): the longest and rarest are looked up first, each weighs as much
as it is rare, and what comes together is set against the lengths. The best ``CANDIDATES`` are aligned.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from corpus.grams import CENTRE, LONGEST, SLOTS, roots_gram
from corpus.library import chosen_chart
from corpus.reading import OpenIndex, Snapshot
from grammar.symbols import read_chord
from search.alignment import FAMILIES, UNIT, Passage, passages
from search.alike_lines import COLUMNS, Line, LinedTune, lined
from search.filters import Filters
from search.looking_up import ONE_OF
from shared.errors import ChoiceError, SamechangesError
from shared.key import Key
from shared.pitch import Pitch, readable

#: At most so many tunes are aligned, and while there are cells left to fill; but never fewer than the few.
CANDIDATES, _FEW, _CELLS = 600, 40, 8_000_000
#: At most so many sequences are looked up, while there are so many entries left to read.
_SEQUENCES, _ENTRIES = 96, 1_500_000
#: A multiple of twelve above all grams: keeps what is taken from it positive.
_PERIOD = SLOTS * 12**5
#: What the share chord by chord counts beside the share bar by bar.
BY_CHORDS = 0.5
#: A tune of at most so many units may be gone through several times, and so often at most.
SHORT, ROUNDS = 16, 16


@dataclass(frozen=True, slots=True)
class Cell:
    """Two units side by side, each as its chords and numbers; empty where the other tune has one more.

    Attributes:
        here: The chords of this tune.
        here_numbers: The same, counted.
        there: The chords of the other tune.
        there_numbers: The same, counted from what stands for the tonic of this tune.
    """

    here: tuple[str, ...]
    here_numbers: tuple[str, ...]
    there: tuple[str, ...]
    there_numbers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shared:
    """A passage that two tunes share.

    Attributes:
        numbers: The chords of this tune in it, counted from the key in force.
        here: The bars in which it begins and ends, as written; the second is smaller where it runs over a repeat.
        there: The same in the other tune.
        about: What stands for the tonic in the other tune; None where that is its own.
        cells: The passage side by side: bars, or chords where it was found chord by chord.
    """

    numbers: tuple[str, ...]
    here: tuple[int, int]
    there: tuple[int, int]
    about: Pitch | None
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Alike:
    """A tune that is like the one asked for.

    Attributes:
        title: Its title.
        path: Its path.
        key: Its home key.
        score: From 0 to 1, see above.
        shared: The passages, those worth most first, each place once.
    """

    title: str
    path: str
    key: Key
    score: float
    shared: tuple[Shared, ...]


@dataclass(frozen=True, slots=True)
class Likes:
    """The answer: the tune asked for, and those alike, best first."""

    title: str
    path: str
    key: Key
    results: tuple[Alike, ...]


def chart_meant(index: OpenIndex, name: str) -> str:
    """The path of the chart that a name stands for: a path, a stem or a title, case ignored.

    Raises:
        ChoiceError: If it stands for none, or for several; the nearest, or all of them, are offered.
        SamechangesError: If the chart has faults, and so is not in the index.
    """
    wanted = name.strip().replace("\\", "/").removeprefix("./")
    sql = (
        "SELECT path, title FROM charts WHERE contains(lower(path), lower(?)) OR lower(title) = lower(?) ORDER BY path"
    )
    try:
        return chosen_chart(name, index.rows(sql, [wanted, wanted]))
    except ChoiceError:
        # The names that come nearest, and spellings that only Python folds, are told from all there are.
        faulty = [(path, path.rsplit("/")[-1].removesuffix(".txt")) for path in index.faulty_charts()]
        path = chosen_chart(name, [*index.known_charts(), *faulty])
    if path in dict(faulty):
        raise SamechangesError(f"{path} has faults, so nothing can be set beside it: see samechanges index")
    return path


def like(index: OpenIndex, path: str, filters: Filters | None = None, limit: int = 20) -> Likes:
    """The tunes that share the most with a chart.

    Args:
        index: The index.
        path: The chart's path (see ``chart_meant``).
        filters: Which tunes are set beside it; of a section, only passages that begin there count.
        limit: How many tunes are answered; 0 for all that were aligned and share a passage.

    Raises:
        ChoiceError: If there is no such chart.
        ReadingError: If a filter cannot be read.
    """
    asked = index.snapshot()
    found = asked.rows(f"SELECT {COLUMNS} FROM charts WHERE path = ?", [path])
    if not found:
        raise ChoiceError(f"there is no chart “{path}” in the library")
    here = lined(found[0])
    filters = filters or Filters()
    others = _candidates(asked, here, filters)
    results: list[Alike] = []
    for score, number, by_chords, taken in ranked(here, others):
        there = others[number]
        shared = _told(here, there, by_chords, taken)
        if filters.section is not None:
            shared = _within(asked, there, filters.section, shared)
        if shared:
            results.append(Alike(there.title, there.path, there.home, score, shared))
        if limit and len(results) == limit:
            break
    return Likes(here.title, here.path, here.home, tuple(results))


def ranked(here: LinedTune, others: Sequence[LinedTune]) -> list[tuple[float, int, bool, list[Passage]]]:
    """The tunes that share a passage, best first: score, number, whether chord by chord, and the passages."""
    by_bars = scored(here.by_bars, [each.by_bars for each in others])
    by_chords = scored(here.by_chords, [each.by_chords for each in others])
    ranked = []
    for number, ((bars, bar_passages), (chords, chord_passages)) in enumerate(zip(by_bars, by_chords, strict=True)):
        half = BY_CHORDS * chords
        score, taken = (half, chord_passages) if half > bars else (bars, bar_passages)
        if taken:
            ranked.append((score, number, half > bars, taken))
    return sorted(ranked, key=lambda each: (-each[0], others[each[1]].title.casefold(), others[each[1]].path))


def scored(here: Line, others: Sequence[Line]) -> list[tuple[float, list[Passage]]]:
    """For each of some lines the share of both that stands in passages, and the passages."""
    groups: dict[tuple[int, int], list[int]] = {(1, 1): list(range(len(others)))}
    for number, other in enumerate(others):
        if (rounds := _rounds(len(here.units), len(other.units))) != (1, 1):
            groups.setdefault(rounds, []).append(number)
    best: list[tuple[float, list[Passage]]] = [(0.0, [])] * len(others)
    for (times, times_there), numbers in groups.items():
        mine, lines = here.units * times, [others[number].units * times_there for number in numbers]
        for number, line, taken in zip(numbers, lines, passages(mine, lines), strict=True):
            share = 2 * sum(each.worth for each in taken) / max(1, UNIT * (len(mine) + len(line)))
            if share > best[number][0]:
                best[number] = share, _within_rounds(taken, len(here.units), len(others[number].units))
    return best


def _rounds(here: int, there: int) -> tuple[int, int]:
    """How often each of two tunes of so many units is gone through for the shorter to be as long as the longer."""
    shorter, longer = sorted((here, there))
    times = max(1, min(ROUNDS, longer // shorter)) if 0 < shorter <= SHORT else 1
    return (times, 1) if here < there else (1, times)


def _within_rounds(taken: Sequence[Passage], here: int, there: int) -> list[Passage]:
    """Passages cut where a tune begins anew, their units counted from its beginning.

    Args:
        taken: Passages of tunes that may be gone through several times; the parts of one that is cut are worth as much
            as if all their units were alike.
        here: How many units the first has.
        there: How many the second has.
    """
    cut = []
    for passage in taken:
        rounds: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for row, column in passage.pairs:
            rounds.setdefault((row // here, column // there), []).append((row % here, column % there))
        if len(rounds) == 1:
            cut += [replace(passage, pairs=tuple(pairs)) for pairs in rounds.values()]
        else:
            cut += [Passage(UNIT * len(pairs), passage.move, tuple(pairs)) for pairs in rounds.values()]
    return cut


def _sequences(here: LinedTune) -> Counter[tuple[int, int]]:
    """The sequences of two to ``LONGEST`` roots of a tune, as lengths and grams, with how often it has each."""
    roots: list[int] = []
    for kind, _ in here.by_chords.units:
        root = kind // len(FAMILIES)
        if not roots or roots[-1] != root:
            roots.append(root)
    return Counter(
        (length, roots_gram(roots[start : start + length], 0))
        for length in range(2, LONGEST + 1)
        for start in range(len(roots) - length + 1)
    )


def _candidates(asked: Snapshot, here: LinedTune, filters: Filters) -> list[LinedTune]:
    """The tunes that are worth aligning, the likeliest first."""
    ((charts,),) = asked.rows("SELECT count(*) FROM charts")
    slots = ", ".join(str(slot // 12) for slot in CENTRE)
    parts = [
        f"SELECT chart, chart * 12 + (gram - {gram} + {_PERIOD}) % 12 AS moved, "
        f"{weight:.6f}::FLOAT AS weight, times, {times} AS own "
        f"FROM grams WHERE gram >= {gram // SLOTS * SLOTS} AND gram < {(gram // SLOTS + 1) * SLOTS} "
        f"AND gram % {SLOTS} // 12 IN ({slots})"
        for gram, times, weight in _lookups(asked, here, charts)
    ]
    conditions = list(filters.conditions())
    where = "".join(f" AND {condition.sql}" for condition in conditions)
    events, bars = len(here.chords), len(here.by_bars.units)
    nothing = "SELECT 0 AS chart, 0 AS moved, 0 AS weight, 0 AS times, 0 AS own WHERE false"
    rounds = "least(greatest({} // greatest({}, 1), 1), most)"
    # As they are scored: as they stand, and the shorter gone through as often as it fits into the longer.
    sql = f"""
        WITH lengths AS (
            SELECT *, {rounds.format("played", bars)} AS here, {rounds.format(bars, "played")} AS there
            FROM (SELECT *, CASE WHEN least(played, {bars}) > {SHORT} THEN 1 ELSE {ROUNDS} END AS most FROM charts)
        ),
        moved AS (
            SELECT moved // 12 AS chart, sum(weight * least(times, own)) AS once,
                sum(weight * least(times * there, own * here)) AS again
            FROM ({" UNION ALL ".join(parts) or nothing}) JOIN lengths ON chart = id GROUP BY moved
        ),
        likely AS (SELECT chart, max(once) AS once, max(again) AS again FROM moved GROUP BY chart)
        SELECT id FROM lengths LEFT JOIN likely ON chart = id WHERE id <> ?{where}
        ORDER BY greatest(
            coalesce(once, 0) / (events + {events} + 2 * abs(played - {bars})),
            coalesce(again, 0) / (events * there + {events} * here + 2 * abs(played * there - {bars} * here))
        ) DESC, abs(events - {events}), id
        LIMIT {CANDIDATES}
    """
    values = [value for condition in conditions for value in condition.parameters]
    ids = [chart for (chart,) in asked.rows(sql, [here.chart, *values])]
    rows = asked.rows(f"SELECT {COLUMNS} FROM charts WHERE {ONE_OF}", [ids])
    by_id = {row[0]: row for row in rows}
    kept: list[LinedTune] = []
    cells = 0
    for chart in ids:
        tune = lined(by_id[chart])
        cells += len(here.by_bars.units) * len(tune.by_bars.units)
        cells += len(here.by_chords.units) * len(tune.by_chords.units)
        if cells > _CELLS and len(kept) >= _FEW:
            break
        kept.append(tune)
    return kept


def _lookups(asked: Snapshot, here: LinedTune, charts: int) -> list[tuple[int, int, float]]:
    """The sequences to look up: each as a gram, with how often the tune has it, and its weight.

    The longest come first, of equal length the rarest; the shortest tell little where there are very many tunes.
    """
    sequences = _sequences(here)
    sql = (
        "SELECT gram // ? AS steps, sum(charts)::BIGINT FROM gram_counts "
        "WHERE steps IN (SELECT unnest(?::INTEGER[])) GROUP BY steps"
    )
    often = dict(asked.rows(sql, [SLOTS, [gram // SLOTS for _, gram in sequences]]))
    lookups: list[tuple[int, int, float]] = []
    entries = 0
    for length, gram in sorted(sequences, key=lambda each: (-each[0], often[each[1] // SLOTS], each[1])):
        entries += often[gram // SLOTS]
        if len(lookups) == _SEQUENCES or (lookups and entries > _ENTRIES):
            break
        lookups.append((gram, sequences[length, gram], 1 + math.log(max(1.0, charts / often[gram // SLOTS]))))
    return lookups


def _told(here: LinedTune, there: LinedTune, by_chords: bool, taken: Sequence[Passage]) -> tuple[Shared, ...]:
    """The passages as a user sees them, those worth most first, each place once."""
    places: dict[tuple[tuple[int, int], tuple[int, int]], Shared] = {}
    for passage in sorted(taken, key=lambda passage: -passage.worth):
        one = _Telling(here, there, by_chords, passage).shared()
        places.setdefault((one.here, one.there), one)
    return tuple(places.values())


class _Telling:
    """Tells one passage."""

    def __init__(self, here: LinedTune, there: LinedTune, by_chords: bool, passage: Passage) -> None:
        self.here, self.there = here, there
        self.lines = (here.by_chords, there.by_chords) if by_chords else (here.by_bars, there.by_bars)
        self.passage = passage
        first = self.lines[0].events[passage.pairs[0][0]][0]
        # What stands there for the tonic that is in force here.
        up = here.keys[first].tonic.pitch_class - here.home.tonic.pitch_class - passage.move
        self.tonic = here.keys[first].tonic
        self.about = _moved(there.home.tonic, up)

    def shared(self) -> Shared:
        """The passage."""
        (first, first_there), (last, last_there) = self.passage.pairs[0], self.passage.pairs[-1]
        events = sorted({event for unit in range(first, last + 1) for event in self.lines[0].events[unit]})
        numbers = tuple(read_chord(self.here.chords[e]).counted(self.here.keys[e].tonic).number for e in events)
        here = _written(self.here, self.lines[0], first, last)
        there = _written(self.there, self.lines[1], first_there, last_there)
        about = None if self.about == self.there.home.tonic else self.about
        return Shared(numbers, here, there, about, tuple(self._cells()))

    def _cells(self) -> list[Cell]:
        """The units side by side, those left out standing alone."""
        cells = []
        row, column = self.passage.pairs[0]
        for here, there in self.passage.pairs:
            cells += [self._cell(unit, None) for unit in range(row, here)]
            cells += [self._cell(None, unit) for unit in range(column, there)]
            cells.append(self._cell(here, there))
            row, column = here + 1, there + 1
        return cells

    def _cell(self, here: int | None, there: int | None) -> Cell:
        chords = () if here is None else _names(self.here, self.lines[0], here)
        others = () if there is None else _names(self.there, self.lines[1], there)
        return Cell(chords, _counted(chords, self.tonic), others, _counted(others, self.about))


def _moved(tonic: Pitch, semitones: int) -> Pitch:
    """A tonic moved up by semitones, in the spelling that is nearest by fifths."""
    fifths = (semitones * 7 + 6) % 12 - 6
    return readable(Pitch.at(tonic.fifths + fifths))


def _names(tune: LinedTune, line: Line, unit: int) -> tuple[str, ...]:
    return tuple(tune.chords[event] for event in line.events[unit])


def _counted(chords: Sequence[str], tonic: Pitch) -> tuple[str, ...]:
    return tuple(read_chord(name).counted(tonic).number for name in chords)


def _written(tune: LinedTune, line: Line, first: int, last: int) -> tuple[int, int]:
    """The written bars in which a run of units begins and ends."""
    return tune.played_bars[line.bars[first][0]], tune.played_bars[line.bars[last][1]]


def _within(asked: Snapshot, there: LinedTune, section: str, shared: Sequence[Shared]) -> tuple[Shared, ...]:
    """The passages that begin in a section so labelled in the other tune: its label, or how it begins."""
    sql = (
        "SELECT first_bar, last_bar FROM sections WHERE chart = ? "
        r"AND regexp_matches(lower(label), '^' || regexp_escape(lower(trim(?))) || '($|[^\pL])')"
    )
    runs = asked.rows(sql, [there.chart, section])
    return tuple(each for each in shared if any(first <= each.there[0] <= last for first, last in runs))

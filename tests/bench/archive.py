"""A seeded library of any size for the benchmarks, as chart text or straight as the tables of an index.

    python tests/bench/archive.py FOLDER --charts 10000            chart files
    python tests/bench/archive.py FOLDER --charts 1000000 --index  only the index of such a library

Chords follow each other as in real songs (``chain.json``, a Markov chain over degrees; see ``learn_chain.py``), so that
a few progressions are in very many tunes and very many in a few. A tune has three phrases of four bars, which make up
its sections A and B, and a form; it uses them again and again, as music does. No chord stands twice in a row and no
phrase ends as one begins, so a tune as played is its phrases in a row: the tables are put together phrase by phrase,
and are those that the text would give.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import accumulate
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import duckdb
import numpy as np
import pyarrow as pa

from corpus.codes import chord_code
from corpus.gathering import hash_of
from corpus.gram_counting import Tallies, add_grams, gram_rows, tallied, tallies_from
from corpus.index import lay_out, new_index
from corpus.library import Library
from corpus.ragged import Ragged, of_texts
from corpus.unpacking import (
    NONE_BEGIN,
    PIECES,
    TOLD_HEADERS,
    first_headers,
    headers_in_short,
    names_in_short,
    runs_in_short,
    sections_in_short,
    strings_in_pieces,
)
from grammar.keys import read_key
from grammar.symbols import read_chord, read_numeral
from shared.key import Mode

_KEYS = {
    "major": ("C", "G", "D", "A", "E", "F", "Bb", "Eb", "Ab", "Db", "B", "F#"),
    "minor": ("Am", "Em", "Bm", "F#m", "C#m", "Dm", "Gm", "Cm", "Fm", "Bbm", "G#m", "Ebm"),
}
_STYLES = ("pop", "gospel", "jazz", "blues", "folk")
_FORMS = ("A A B A", "A B A B", "A A B A B")
#: How many chords each of the four bars of a phrase has.
_LAYOUTS = ((1, 2, 1, 2), (1, 1, 1, 1), (2, 2, 1, 1), (2, 2, 2, 2))
#: One tune in so many is in a minor key.
_MINOR = 4
_BATCH = 20_000


@dataclass(frozen=True, slots=True)
class _Chain:
    """What may begin, and what may follow each chord, each with cumulative weights."""

    begins: tuple[list[str], list[int]]
    follows: dict[str, tuple[list[str], list[int]]]


@cache
def _chains() -> dict[str, _Chain]:
    learnt = json.loads(Path(__file__).with_name("chain.json").read_text(encoding="utf-8"))

    def weighted(counts: dict[str, int]) -> tuple[list[str], list[int]]:
        return list(counts), list(accumulate(counts.values()))

    return {
        mode: _Chain(
            weighted(learnt[mode]["begins"]),
            {
                number: weighted({other: often for other, often in others.items() if not _alike(number, other)})
                for number, others in learnt[mode]["follows"].items()
            },
        )
        for mode in learnt
    }


@dataclass(frozen=True, slots=True)
class _Tune:
    """One tune: each section is a row of phrases, each phrase a row of bars of numbers."""

    number: int
    mode: str
    key: str
    style: str
    level: int
    tempo: int
    form: str
    sections: dict[str, Sequence[Sequence[tuple[str, ...]]]]

    @property
    def headers(self) -> list[tuple[str, str]]:
        return [
            ("title", f"Tune {self.number}"),
            ("key", self.key),
            ("time", "4/4"),
            ("tempo", str(self.tempo)),
            ("style", self.style),
            ("level", str(self.level)),
            ("form", self.form),
        ]


def _tunes(number: int, seed: int) -> Iterator[_Tune]:
    for each in range(number):
        chance = random.Random(seed << 32 | each)
        mode = "minor" if chance.randrange(_MINOR) == 0 else "major"
        chain = _chains()[mode]
        begins = [chance.choices(chain.begins[0], cum_weights=chain.begins[1])[0] for _ in range(3)]
        phrases = [_phrase(chance, chain, first, begins) for first in begins]
        a = [phrases[0], phrases[1]] * (2 if chance.random() < 0.5 else 1)
        b = [phrases[2], chance.choice(phrases[1:])]
        key = chance.choice(_KEYS[mode])
        style, level, tempo = chance.choice(_STYLES), chance.randint(1, 5), chance.randint(60, 180)
        yield _Tune(each, mode, key, style, level, tempo, chance.choice(_FORMS), {"A": a, "B": b})


def _phrase(chance: random.Random, chain: _Chain, first: str, begins: Sequence[str]) -> list[tuple[str, ...]]:
    layout = chance.choice(_LAYOUTS)
    numbers = [first]
    while len(numbers) < sum(layout):
        others, weights = chain.follows[numbers[-1]]
        numbers.append(chance.choices(others, cum_weights=weights)[0])
    while any(_alike(numbers[-1], other) for other in (*begins, *numbers[-2:-1])):
        numbers[-1] = chance.choice(list(chain.follows))
    each = iter(numbers)
    return [tuple(next(each) for _ in range(chords)) for chords in layout]


@cache
def _name(number: str, key: str) -> str:
    return read_numeral(number).on(read_key(key).tonic).name


@cache
def _bar_text(bar: tuple[str, ...], key: str) -> str:
    return " ".join(_name(number, key) for number in bar)


def _text(tune: _Tune) -> str:
    lines = [f"{name}: {value}" for name, value in tune.headers]
    for label, phrases in tune.sections.items():
        lines.append(f"\n[{label}]")
        lines += [f"| {' | '.join([_bar_text(bar, tune.key) for bar in phrase])} |" for phrase in phrases]
    return "\n".join(lines) + "\n"


def chart_texts(number: int, seed: int = 1) -> Iterator[str]:
    """Charts as text, the same for the same seed; chords are written as names."""
    return map(_text, _tunes(number, seed))


def path_of(number: int) -> str:
    """Where the chart of a number stands in the library."""
    return f"{number // 1000:04}/{number}.txt"


def write_index(place: Path, number: int, seed: int = 1) -> None:
    """Writes the index of the library that ``chart_texts`` gives, its files never having been there."""
    with new_index(place) as connection:
        lay_out(connection)
        rows, tallies = _Rows(), []
        for tune in _tunes(number, seed):
            rows.add(tune)
            if len(rows.charts) == _BATCH:
                tallies.append(rows.write(connection))
        if rows.charts:
            tallies.append(rows.write(connection))
        add_grams(connection, gram_rows(tallies))


def _alike(number: str, other: str) -> bool:
    """Whether two numbers are one chord, however spelled."""
    return _codes((number,)) == _codes((other,))


@cache
def _codes(bar: tuple[str, ...]) -> str:
    """A bar counted from its tonic; the code of a number is that of the chord on C, whose tonic is C."""
    return "".join(chord_code(read_chord(_name(number, "C")), 0) for number in bar)


def _runs(sections: Sequence[range]) -> list[tuple[int, int]]:
    """The written bars of sections as they are played, those that follow each other as one run."""
    runs: list[tuple[int, int]] = []
    for section in sections:
        if runs and runs[-1][1] + 1 == section[0]:
            runs[-1] = runs[-1][0], section[-1]
        else:
            runs.append((section[0], section[-1]))
    return runs


class _Rows:
    """Rows that wait to be written."""

    def __init__(self) -> None:
        self.charts: list[dict[str, object]] = []
        self.headers: list[tuple[int, str, str]] = []
        self.hashes: list[int] = []
        self.strings: list[str] = []

    def add(self, tune: _Tune) -> None:
        chords: dict[str, str] = {}
        codes: dict[str, str] = {}
        bar_codes: dict[str, str] = {}
        begun: dict[str, list[int]] = {}
        numbers: dict[str, range] = {}
        first = 1
        sections = []
        for label, phrases in tune.sections.items():
            bars = [bar for phrase in phrases for bar in phrase]
            coded = [_codes(bar) for bar in bars]
            chords[label] = " ".join([_bar_text(bar, tune.key) for bar in bars])
            codes[label] = f"<{''.join(coded)}>"
            bar_codes[label] = f"<({')('.join(coded)})>"
            begun[label] = [len(bar) for bar in bars]
            numbers[label] = range(first, first + len(bars))
            sections.append((label, first, first + len(bars) - 1))
            first += len(bars)
        form = tune.form.split()
        chord_string, bar_string = ("".join(made[label] for label in form) for made in (codes, bar_codes))
        each_bar = [count for label in form for count in begun[label]]
        events = sum(each_bar)
        written = first_headers(tune.headers)
        (told,), (rest,) = headers_in_short([tune.headers], [written], [[written.get(name)] for name in TOLD_HEADERS])
        self.charts.append(
            {
                "id": tune.number,
                "path": path_of(tune.number),
                "title": f"Tune {tune.number}",
                "key": tune.key,
                "key_found": False,
                "mode": read_key(tune.key).mode.label,
                "minor": read_key(tune.key).mode is Mode.MINOR,
                "metre": "4/4",
                "tempo": float(tune.tempo),
                "style": tune.style,
                "level": float(tune.level),
                "tags": [],
                "told": told,
                "bars": first - 1,
                "played": len(each_bar),
                "events": events,
                **dict(zip(PIECES, strings_in_pieces(chord_string, bar_string), strict=True)),
                "names": names_in_short(" ".join([chords[label] for label in form]), chord_string),
                "begun": "".join([chr(NONE_BEGIN + count) for count in each_bar]),
                "written": runs_in_short(_runs([numbers[label] for label in form])),
                "sections": sections_in_short(sections),
            }
        )
        self.headers += [(tune.number, name, value) for name, value in rest]
        self.strings.append(chord_string)
        self.hashes.append(int(hash_of(_text(tune).encode()), 16))

    def write(self, connection: duckdb.DuckDBPyConnection) -> Tallies:
        """Writes the rows that wait; their short sequences are returned."""
        first, *_ = self.headers[0]
        minor = np.array([row["minor"] for row in self.charts], bool)
        made = tallies_from(tallied(np.ones(len(minor), np.int64), minor, self._strings()), first)
        tables = {
            "charts": pa.Table.from_pylist(self.charts).append_column("hash", pa.array(self.hashes, pa.uint64())),
            "other_headers": pa.table(
                dict(zip(("chart", "name", "value"), zip(*self.headers, strict=True), strict=True))
            ),
        }
        for name, table in tables.items():
            connection.register("rows", table)
            connection.execute(f"INSERT INTO {name} BY NAME SELECT * FROM rows")
            connection.unregister("rows")
        self.charts, self.headers, self.hashes, self.strings = [], [], [], []
        return made

    def _strings(self) -> dict[str, Ragged]:
        missing = of_texts([None] * len(self.charts))
        return {"tonic": of_texts(self.strings), "relative": missing, "major": missing, "fixed": missing}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="the library's folder")
    parser.add_argument("--charts", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--index", action="store_true", help="write only the index")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    if options.index:
        place = Library(options.folder).index_path
        place.parent.mkdir(exist_ok=True)
        write_index(place, options.charts, options.seed)
        return
    for number, text in enumerate(chart_texts(options.charts, options.seed)):
        file = options.folder / path_of(number)
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()

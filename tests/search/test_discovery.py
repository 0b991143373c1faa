"""Discovery on made libraries: loops and runs that stand out, counted in tunes, folded, left out where named."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from corpus.catalogue import Catalogue, catalogue, installed, read_entries
from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search.discovery import Discovered, discover
from search.filters import Filters

DEGREES = ("1", "2m", "3m", "4", "5", "6m", "b7")
LOOP = "1 3m b7 2m"
RUN = "4 2m 6m 3m 5 b7 6m"


def noise(chance: random.Random, length: int) -> list[str]:
    chords = ["1"]
    while len(chords) < length:
        chords.append(chance.choice([each for each in DEGREES if each != chords[-1]]))
    return chords


def written(folder: Path, tunes: Sequence[Sequence[str]], key: str = "C") -> Library:
    for number, chords in enumerate(tunes):
        style = "odd" if number % 2 else "even"
        text = f"title: Tune {number:02}\nkey: {key}\nstyle: {style}\n\n| {' | '.join(chords)} |\n"
        (folder / f"{number:02}.txt").write_text(text, encoding="utf-8")
    library = Library(folder)
    make_index(library)
    return library


def found(library: Library, known: Catalogue | None = None, filters: Filters | None = None) -> list[Discovered]:
    with OpenIndex(library) as index:
        return discover(index, known, filters)


def turns(numbers: str) -> set[str]:
    chords = numbers.split()
    return {" ".join(chords[at:] + chords[:at]) for at in range(len(chords))}


@pytest.fixture
def made(tmp_path: Path) -> Library:
    """Thirty tunes of noise; six go round a loop, begun at different chords, and seven have a run."""
    chance = random.Random(7)
    tunes = [noise(chance, 30) for _ in range(30)]
    for number in range(6):
        turn = sorted(turns(LOOP))[number % 4].split()
        tunes[number] += [*turn * 3, "1"]
    for number in range(10, 17):
        tunes[number] += [*RUN.split(), *noise(chance, 6)[number % 3 :], *RUN.split()]
    return written(tmp_path, tunes)


def test_what_was_put_in_stands_first(made: Library) -> None:
    first = {each.pattern: each for each in found(made)[:6]}
    (loop,) = [each for each in first.values() if each.loop and each.pattern in turns(LOOP)]
    assert (loop.charts, loop.titles) == (6, tuple(f"Tune {number:02}" for number in range(6)))
    (run,) = [each for each in first.values() if RUN in each.pattern]
    assert run.charts == 7
    assert run.matches >= 7


def test_parts_of_what_is_told_are_not_told_again(made: Library) -> None:
    told = [each.pattern for each in found(made)]
    for piece in ("6m 3m 5 b7", "3m 5 b7 6m", "4 2m 6m 3m"):
        assert len([pattern for pattern in told if piece in pattern]) == 1
    assert len([pattern for pattern in told if turns(LOOP) & {pattern, pattern.rpartition(" ")[0]}]) == 1


def test_only_what_the_catalogue_does_not_explain_is_told(made: Library) -> None:
    text = f'[[progression]]\nname = "ours"\npattern = "{sorted(turns(LOOP))[1]}"\nrotate = true\n'
    own, faults = read_entries(text, installed())
    assert not faults
    patterns = {each.pattern for each in found(made, Catalogue(own))}
    assert not patterns & turns(LOOP)
    assert any(RUN in pattern for pattern in patterns)


def test_a_named_loop_in_minor_explains_it_counted_from_the_relative_major(tmp_path: Path) -> None:
    chance = random.Random(3)
    tunes = [[*noise(chance, 24), *["1m", "b6", "b3", "b7"] * 4] for _ in range(6)]
    library = written(tmp_path, tunes, "Cm")
    loop = turns("1m b6 b3 b7")
    assert loop & {each.pattern for each in found(library)}
    assert not loop & {each.pattern for each in found(library, catalogue())}


def test_filters_choose_the_tunes(made: Library) -> None:
    assert all(each.charts <= 15 for each in found(made, filters=Filters(style="odd")))
    assert found(made, filters=Filters(style="none such")) == []


def test_a_library_of_two_tunes_has_nothing_to_tell(tmp_path: Path) -> None:
    assert found(written(tmp_path, [LOOP.split() * 4] * 2)) == []


def test_tunes_are_counted_and_not_times(tmp_path: Path) -> None:
    chance = random.Random(5)
    tunes = [noise(chance, 40) for _ in range(12)]
    tunes[0] += LOOP.split() * 20
    assert not {each.pattern for each in found(written(tmp_path, tunes))} & turns(LOOP)


def test_the_same_library_answers_the_same(made: Library) -> None:
    assert found(made) == found(made)

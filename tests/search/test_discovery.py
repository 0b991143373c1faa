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
from search.explaining import Explaining
from search.filters import Filters
from search.relations import KINDS

DEGREES = ("1", "2m", "3m", "4", "5", "6m", "b7")
LOOP = "1 3m b7 2m"
CHROMATIC_NAMES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
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


def found(library: Library, known: Catalogue | None = None, filters: Filters | None = None) -> Sequence[Discovered]:
    with OpenIndex(library) as index:
        return discover(index, known, filters).found


def token(number: str) -> int:
    """A chord as discovery compares it."""
    kind = next(each for each in ("dim", "m", "") if number.endswith(each))
    return CHROMATIC_NAMES.index(number.removesuffix(kind)) * len(KINDS) + KINDS.index(kind)


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


@pytest.mark.parametrize(
    ("sequence", "explained"),
    [
        ("1 4 #4dim 1 6 2m 5", True),
        ("5 1 4 #4dim 1 6", True),
        ("1 4 #4dim 1 6 4m", True),
        ("5 5m 1 4 #4dim 1", False),
        ("4 #4dim b7", False),
    ],
)
def test_all_but_one_chord_of_what_has_a_name_is_explained(sequence: str, explained: bool) -> None:
    """By the gospel turnaround, 17 4 #4dim 1/5 6 2 5."""
    known = [entry for entry in installed() if entry.name == "gospel turnaround"]
    tokens = tuple(map(token, sequence.split()))
    assert Explaining(known).explains(tokens, goes_round=False) is explained


def test_filters_choose_the_tunes(made: Library) -> None:
    assert all(each.charts <= 15 for each in found(made, filters=Filters(style="odd")))
    assert not found(made, filters=Filters(style="none such"))


def test_a_library_of_two_tunes_has_nothing_to_tell(tmp_path: Path) -> None:
    assert not found(written(tmp_path, [LOOP.split() * 4] * 2))


def test_tunes_are_counted_and_not_times(tmp_path: Path) -> None:
    chance = random.Random(5)
    tunes = [noise(chance, 40) for _ in range(12)]
    tunes[0] += LOOP.split() * 20
    assert not {each.pattern for each in found(written(tmp_path, tunes))} & turns(LOOP)


def test_the_same_library_answers_the_same(made: Library) -> None:
    assert found(made) == found(made)


def test_of_many_tunes_some_are_drawn_and_it_is_said(made: Library) -> None:
    with OpenIndex(made) as index:
        every, all_asked, drawn = (discover(index, None, None, most) for most in (20_000, 0, 12))
        again = discover(index, None, None, 12)
        of_filter = discover(index, None, Filters(style="odd"), 12)
    assert (every.charts, every.drawn, every.note) == (30, 30, "")
    assert all_asked == every
    assert (drawn.charts, drawn.drawn) == (30, 12)
    assert drawn.note == "12 of 30 tunes were drawn, always the same ones; the counts are of these."
    assert drawn == again
    assert all(each.charts <= 12 for each in drawn.found)
    assert (of_filter.charts, of_filter.drawn) == (15, 12)

"""How often the key finder is right on the open data, by weights that never saw the songs.

Sources: the tonics of the McGill Billboard annotations (J. A. Burgoyne, J. Wild and I. Fujinaga, ISMIR 2011) and of the
rock corpus (T. de Clercq and D. Temperley, Popular Music 30/1 (2011), 47-70). Published figures for chords alone: 86%
of tonics by roots weighed by duration, 91% with metrical strength (Temperley and de Clercq, J. New Music Research 42(3)
(2013), 187-204); 91% of 110 songs by a hidden Markov model (Noland and Sandler, ISMIR 2006). The figures asked for here
are those that were reached, less what another release of the optimiser may change.
"""

from __future__ import annotations

import pytest

from corpus.key_model import stored_model
from corpus.key_report import Judged, cross_validated, folds, judged, mean, reliability, report
from corpus.key_training import Song, billboard_songs, rock_songs, stripped
from tests.helpers.datasets import dataset

pytest.importorskip("scipy", reason="training needs scipy, which the extra “test” brings")


@pytest.fixture(scope="module")
def songs() -> tuple[list[Song], list[Song]]:
    return billboard_songs(dataset("billboard")), rock_songs(dataset("rock"))


@pytest.fixture(scope="module")
def found(songs: tuple[list[Song], list[Song]]) -> tuple[list[Judged], list[Judged]]:
    return cross_validated(*songs)


def right(some: list[Judged]) -> float:
    return mean([float(each.right) for each in some if each.song.stays])


def agreed(some: list[Judged]) -> float:
    return mean([each.agreed for each in some if not each.song.stays])


def test_songs_are_all_there(found: tuple[list[Judged], list[Judged]]) -> None:
    """402 and 42 of the Billboard files keep and change their tonic, 163 and 35 of the rock files."""
    counts = [sum(each.song.stays is stays for each in some) for some in found for stays in (True, False)]
    assert counts == [402, 42, 163, 35]


def test_songs_of_one_tonic(found: tuple[list[Judged], list[Judged]]) -> None:
    billboard, rock = found
    assert right(billboard) >= 0.93
    assert right(rock) >= 0.945


def test_songs_that_change_key(found: tuple[list[Judged], list[Judged]]) -> None:
    billboard, rock = found
    assert agreed(billboard) >= 0.79
    assert agreed(rock) >= 0.68


def test_every_simpler_way_is_beaten(found: tuple[list[Judged], list[Judged]]) -> None:
    for some in found:
        for way in range(4):
            simple = [float(each.simpler[way] == each.song.tonics[0]) for each in some if each.song.stays]
            assert right(some) > mean(simple) + 0.03


def test_the_simpler_ways_do_what_was_published_of_them(found: tuple[list[Judged], list[Judged]]) -> None:
    """Recomputed by another program: on rock songs first chord 85%, longest root 81%; on Billboard songs the first root
    74%, a scale-profile correlation 81%."""
    billboard, rock = (
        [
            mean([float(each.simpler[way] == each.song.tonics[0]) for each in some if each.song.stays])
            for way in range(4)
        ]
        for some in found
    )
    assert (rock[0], rock[2]) == pytest.approx((0.85, 0.81), abs=0.02)
    assert (billboard[0], billboard[3]) == pytest.approx((0.74, 0.81), abs=0.02)


def test_a_high_chance_can_be_trusted(found: tuple[list[Judged], list[Judged]]) -> None:
    """Of the homes given 90 to 100%, at least nine in ten are right; below half, fewer than in the bins above."""
    for some in found:
        bins = list(reliability(some))
        assert bins[-1][2] > len(some) / 2
        assert bins[-1][3] >= 0.9
        assert bins[0][3] < bins[-1][3]


def test_few_changes_are_told_where_none_is_annotated(found: tuple[list[Judged], list[Judged]]) -> None:
    """Some of these are there all the same: annotators leave out a rise of the last chorus now and then."""
    for some in found:
        one = [each for each in some if each.song.stays]
        assert sum(1 for each in one if each.changes) <= 0.05 * len(one)


def test_the_mode_has_the_third_of_the_tonic_chords(found: tuple[list[Judged], list[Judged]]) -> None:
    for some in found:
        assert mean([float(each.mode_agrees) for each in some if each.song.stays and each.right]) >= 0.98


def test_a_song_transcribed_twice_stays_on_one_side(songs: tuple[list[Song], list[Song]]) -> None:
    billboard, _ = songs
    sides: dict[str, set[int]] = {}
    for song, fold in zip(billboard, folds(billboard), strict=True):
        sides.setdefault(song.same, set()).add(fold)
    assert any(sum(song.same == name for song in billboard) > 1 for name in sides)
    assert all(len(each) == 1 for each in sides.values())


def test_the_report_prints_every_table(found: tuple[list[Judged], list[Judged]]) -> None:
    text = report(*found)
    assert len([line for line in text.splitlines() if line.startswith(("Billboard ", "Rock "))]) == 4
    assert "90% to 100%" in text


def test_the_stored_weights_serve_songs_without_lines_and_sections(songs: tuple[list[Song], list[Song]]) -> None:
    """The package's own weights have seen these songs; they must at least know them again, stripped or not."""
    billboard, _ = songs
    for view in (billboard[:60], [stripped(song) for song in billboard[:60]]):
        assert right([judged(song, stored_model()) for song in view]) >= 0.95

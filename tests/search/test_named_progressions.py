"""The catalogue on the demo library, against a table read by hand; counts, relatives, names, places in one tune."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath

import pytest

from corpus.catalogue import Catalogue, catalogue
from corpus.index import make_index
from corpus.library import demo_library
from corpus.reading import OpenIndex
from search.filters import Filters
from search.progressions import answer_named, entry_meant, found_in, named, places_by_chart, question_of, uses
from search.proposing import proposed_tags
from search.relations import begun_elsewhere, holds, may_hold, relatives
from shared.errors import ChoiceError, SamechangesError
from shared.match import Answer
from tests.helpers.named_places import Expected, expected

KNOWN = catalogue()
ROWS = expected()


@pytest.fixture(scope="module")
def demo() -> Iterator[OpenIndex]:
    make_index(demo_library())
    with OpenIndex(demo_library()) as index:
        yield index


def asked(index: OpenIndex, name: str, filters: Filters | None = None) -> Answer:
    entry = entry_meant(name, KNOWN)
    return answer_named(index, entry, question_of(entry, filters, 0))


def stem(path: str) -> str:
    return PurePosixPath(path).stem


def test_the_table_has_a_row_for_every_entry() -> None:
    assert [row.name for row in ROWS] == [entry.name for entry in KNOWN.entries]
    assert len(ROWS) >= 60


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_a_progression_stands_where_it_was_read_by_hand(demo: OpenIndex, row: Expected) -> None:
    answer = asked(demo, row.name)
    found = {
        (stem(hit.path), place.section, place.from_bar, place.to_bar) for hit in answer.hits for place in hit.places
    }
    tunes = {stem(hit.path) for hit in answer.hits}
    assert row.holders <= tunes
    assert set(row.places) <= found, sorted(place for place in found if place[0] in row.holders)
    assert not row.misses & tunes
    if row.complete:
        assert tunes == row.holders


def test_near_misses_are_tunes_of_the_library(demo: OpenIndex) -> None:
    stems = {stem(path) for path, _ in demo.known_charts()}
    assert {each for row in ROWS for each in (*row.misses, *row.holders)} <= stems


def test_every_progression_stands_in_two_demo_tunes_and_is_nearly_in_another(demo: OpenIndex) -> None:
    used = {use.entry.name: use.charts for use in uses(demo, KNOWN.entries)}
    assert not [name for name in used if used[name] < 2]
    assert not [row.name for row in ROWS if len(row.holders) < 2 or not row.misses]


def test_counts_are_those_of_a_search_for_the_name(demo: OpenIndex) -> None:
    for use in uses(demo, KNOWN.entries):
        answer = asked(demo, use.entry.name)
        assert (use.charts, use.matches) == (answer.charts, answer.matches), use.entry.name
        assert sum(times for _, times in use.keys) == use.charts, use.entry.name


def test_counts_keep_to_the_filters(demo: OpenIndex) -> None:
    filters = Filters(style="blues")
    counted = {use.entry.name: use.charts for use in uses(demo, KNOWN.entries, filters)}
    assert counted["twelve-bar blues"] == 6
    assert counted["canon sequence"] == counted["key rise"] == 0
    assert counted["part of the circle of fifths"] == asked(demo, "falling fifths", filters).charts > 0


def test_sections_narrow_rules_too(demo: OpenIndex) -> None:
    assert asked(demo, "pedal on 1", Filters(section="verse")).charts == 1
    counted = {use.entry.name: use.charts for use in uses(demo, KNOWN.entries, Filters(section="last chorus"))}
    assert counted["key rise"] == 2
    assert counted["pedal on 5"] == 0


def test_another_mode_than_that_of_the_entry_is_refused(demo: OpenIndex) -> None:
    with pytest.raises(SamechangesError, match="leave out the mode major"):
        asked(demo, "Picardy ending", Filters(mode="major"))
    counted = {use.entry.name: use.charts for use in uses(demo, KNOWN.entries, Filters(mode="major"))}
    assert counted["Picardy ending"] == 0


NAMES = [
    ("backdoor", "backdoor cadence"),
    ("BACKDOOR  Cadence", "backdoor cadence"),
    ("line cliche", "major line cliché"),
    ("ii-V-I", "ii–V–I"),
    ("doo wop", "doo-wop"),
    ("4 5 3 6", "royal road"),
    ("amen", "plagal cadence"),
    ("12 bar blues", "twelve-bar blues"),
    ("truck driver modulation", "key rise"),
]


@pytest.mark.parametrize(("typed", "name"), NAMES)
def test_names_are_known_by_any_of_theirs(typed: str, name: str) -> None:
    entry = named(typed)
    assert entry is not None
    assert entry.name == name


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    assert named("bakdoor") is None
    with pytest.raises(ChoiceError, match="nearest: backdoor"):
        entry_meant("bakdoor", KNOWN)


def test_loops_know_their_rotations() -> None:
    loop = entry_meant("four-chord loop", KNOWN)
    assert relatives(loop, KNOWN).rotations == tuple(f"four-chord loop begun on {each}" for each in ("6m", "4", "5"))
    assert (
        "The same loop begun elsewhere: four-chord loop"
        in relatives(entry_meant("four-chord loop begun on 6m", KNOWN), KNOWN).sentences()[0]
    )


HELD = [
    ("circle of fifths", "3 6 2 5 turnaround"),
    ("gospel turnaround", "gospel lift"),
    ("sixteen-bar blues", "twelve-bar blues"),
    ("plagal chain", "double plagal cadence"),
    ("diminished turnaround", "rising passing diminished"),
    ("minor ii–V–i on 6", "five of six"),
]
NOT_HELD = [
    ("3 6 2 5 turnaround", "circle of fifths"),
    ("twelve-bar blues", "sixteen-bar blues"),
    ("doo-wop", "four-chord loop"),
    ("plagal chain", "four over five cadence"),
    ("twelve-bar blues", "twelve-bar blues"),
]


@pytest.mark.parametrize(("outer", "inner"), HELD)
def test_a_progression_holds_another(outer: str, inner: str) -> None:
    assert holds(entry_meant(outer, KNOWN), entry_meant(inner, KNOWN))
    assert inner in relatives(entry_meant(outer, KNOWN), KNOWN).parts


@pytest.mark.parametrize(("outer", "inner"), NOT_HELD)
def test_a_progression_does_not_hold_another(outer: str, inner: str) -> None:
    assert not holds(entry_meant(outer, KNOWN), entry_meant(inner, KNOWN))


def test_what_may_stand_in_another_is_told_by_the_chords_of_the_tune() -> None:
    circle, two_five = entry_meant("circle of fifths", KNOWN), entry_meant("ii–V–I", KNOWN)
    assert may_hold(circle, two_five)
    assert not holds(circle, two_five)
    assert not begun_elsewhere(circle, two_five)


def test_a_two_five_inside_a_circle_is_told_as_such(demo: OpenIndex) -> None:
    places = found_in(demo, KNOWN, "jazz/bossa-for-a-rainy-awning.txt")
    told = [each for each in places if each.entry.name == "ii–V–I" and each.place.from_bar == 2]
    assert told
    assert all("part of the circle of fifths" in each.within for each in told)


def test_one_tune_is_told_in_the_order_of_the_chart(demo: OpenIndex) -> None:
    places = found_in(demo, KNOWN, "hymn/pump-court.txt")
    bars = [each.place.from_bar for each in places]
    assert bars == sorted(bars)
    alone = {each.entry.name for each in places if not each.within}
    assert {"circle of fifths", "deceptive cadence"} <= alone
    assert "3 6 2 5 turnaround" not in alone


def test_one_tune_has_what_the_library_says_it_has(demo: OpenIndex) -> None:
    every = places_by_chart(demo, KNOWN, Filters())
    for path in ("gospel/twelve-chairs-one-table.txt", "pop/last-bus-from-aldery-cross.txt"):
        alone = found_in(demo, KNOWN, path)
        assert sorted(map(repr, alone)) == sorted(map(repr, every[path]))


def test_tags_are_proposed_for_what_tells_tunes_apart(demo: OpenIndex) -> None:
    proposals = {stem(each.path): each.tags for each in proposed_tags(demo, KNOWN)}
    assert "canon sequence" in proposals["canon-in-d"]
    assert "deceptive cadence" in proposals["pump-court"]
    assert "3 6 2 5 turnaround" not in proposals["pump-court"]
    assert not any("authentic cadence" in tags for tags in proposals.values())
    only = [entry_meant("authentic cadence", KNOWN)]
    assert {each.tags for each in proposed_tags(demo, KNOWN, only=only)} == {("authentic cadence",)}


def test_a_tag_that_a_tune_has_is_not_proposed(demo: OpenIndex) -> None:
    ((tags,),) = demo.rows("SELECT tags FROM charts WHERE path = 'hymn/pump-court.txt'")
    assert "circle of fifths" in tags
    proposals = {stem(each.path): each.tags for each in proposed_tags(demo, KNOWN)}
    assert "circle of fifths" not in proposals["pump-court"]


def test_a_catalogue_without_entries_finds_nothing(demo: OpenIndex) -> None:
    assert found_in(demo, Catalogue(()), "hymn/pump-court.txt") == []

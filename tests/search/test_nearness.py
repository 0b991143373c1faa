"""What differs in a near match, in words; which substitutions have a name; which patterns have no near versions.

The substitutions are common practice.
"""

from __future__ import annotations

import pytest

from corpus.codes import chord_code
from grammar.patterns import read_pattern
from grammar.symbols import read_numeral
from search.differences import Explainer
from search.nearness import marked, near_expression, pieces, without_rare
from search.substitutions import LEFT_OUT, OTHER_QUALITY, PUT_IN, STRANGER, SUBSTITUTION, Swap, swap
from shared.errors import ReadingError
from shared.pattern import Strength
from shared.pitch import Pitch


def said(pattern: str, chords: str, strength: str = "family", raised: int = 0) -> tuple[int, tuple[str, ...]]:
    """The differences of chords from a pattern; ``|`` stands between bars."""
    bars = [[read_numeral(chord) for chord in bar.split()] for bar in chords.split("|")]
    chords_in = [[numeral.on(Pitch("C")) for numeral in bar] for bar in bars]
    coded = ["".join(chord_code(chord, 0) for chord in bar) for bar in chords_in]
    read = read_pattern(pattern).pattern
    text = "".join(f"({bar})" for bar in coded) if read.bars else "".join(coded)
    written = [number for number, bar in enumerate(bars, 1) for _ in bar]
    names = tuple(chord.name for bar in chords_in for chord in bar)
    explainer = Explainer(read, Strength(strength), raised, raised)
    found = explainer.differences(text, names, (Pitch("C"),) * len(names), written)
    return found.cost, found.words


WORDS = [
    ("1 4 5", "1 | 4 | 5", 0, ()),
    ("1 4maj 5 1", "1 | 4m | 5 | 1", OTHER_QUALITY, ("bar 2: 4m instead of 4maj (borrowed iv)",)),
    ("2m7 57 1maj7", "2m7 | b27 | 1maj7", SUBSTITUTION, ("bar 2: b27 instead of 57 (tritone substitution)",)),
    ("1 4 5 1", "1 | 4 2m7 | 5 | 1", PUT_IN, ("2m7 between 4 and 5",)),
    ("1 6m 4 5", "1 | 4 | 5", LEFT_OUT, ("6m left out",)),
    ("1 5 6m 4", "1 | 5 | 6m | b3", STRANGER, ("bar 4: b3 instead of 4",)),
    ("1 5 6m 4", "5 | 6m | 4", LEFT_OUT, ("1 left out",)),
    ("1 4 5", "1 17 1maj7 | 4 4m | b7 | 5 57", PUT_IN, ("b7 between 4 and 5",)),
    ("1 6m? 4 5", "1 | 6m | 2m | 5", SUBSTITUTION, ("bar 3: 2m instead of 4 (ii for IV)",)),
    ("1 6m? 4 5", "1 | 3m | 4 | 5", PUT_IN, ("3m between 1 and 4",)),
    ("57,b27 1,6m 4", "57 | b3 | 4", STRANGER, ("bar 2: b3 instead of 1,6m",)),
    ("/1 /7 /6", "1 | 5 | 6m", STRANGER, ("bar 2: 5 instead of /7",)),
    ("ii V I IV", "2m7 | 57 | 3m | 4", STRANGER, ("bar 3: 3m instead of 1",)),
    ("1 4 5 1", "1 | 4 | 3m 2m | 5 | 1", 2 * PUT_IN, ("3m between 4 and 5", "2m between 4 and 5")),
    (
        "1 6m 2m7 57",
        "1 | 67 | 4 | 57",
        OTHER_QUALITY + SUBSTITUTION,
        ("bar 2: 67 instead of 6m (secondary dominant)", "bar 3: 4 instead of 2m7 (IV for ii)"),
    ),
    ("| 1 | 4 | 5 |", "1 | 4m | 5", 0, ()),
    ("| 1 | 4maj | 5 |", "1 | 4m | 5", OTHER_QUALITY, ("bar 2: 4m instead of 4maj (borrowed iv)",)),
    ("| 1 | 57 | 1 |", "1 | 2m7 57 | 1", PUT_IN, ("bar 2: 2m7 before 57",)),
    ("| 1 | 57 | 1 |", "1 | 57 3m | 1", PUT_IN, ("bar 2: 3m after 57",)),
    ("| 1 4 | 5 1 |", "1 4 | 5", LEFT_OUT, ("bar 2: 1 left out",)),
    ("| 1 4 | 5 1 |", "1 6m 4 | 5 1", PUT_IN, ("bar 1: 6m between 1 and 4",)),
]


@pytest.mark.parametrize(("pattern", "chords", "cost", "words"), WORDS)
def test_differences_in_words(pattern: str, chords: str, cost: int, words: tuple[str, ...]) -> None:
    assert said(pattern, chords) == (cost, words)


def test_at_exact_strength_another_quality_is_a_difference() -> None:
    assert said("1 4 5", "1 | 4m | 5", "exact") == (OTHER_QUALITY, ("bar 2: 4m instead of 4 (borrowed iv)",))


def test_a_pattern_recounted_from_the_relative_major_is_told_so() -> None:
    assert said("1m b6 b7", "6m | 2m | 5", raised=9) == (SUBSTITUTION, ("bar 2: 2m instead of 4 (ii for IV)",))


def test_chords_that_two_edits_do_not_explain_are_refused() -> None:
    with pytest.raises(ValueError, match="no near version"):
        said("1 4 5", "b2 | b3 | b6")


SUBSTITUTIONS = [
    ("4maj 1", "4m", OTHER_QUALITY, "borrowed iv"),
    ("IV I", "4m6", OTHER_QUALITY, "borrowed iv"),
    ("57 1", "5sus4", OTHER_QUALITY, "sus for dominant"),
    ("2m7 5", "27", OTHER_QUALITY, "secondary dominant"),
    ("1maj7 4", "17", OTHER_QUALITY, "secondary dominant"),
    ("1maj7 5", "17", OTHER_QUALITY, ""),
    ("5m 1", "57", OTHER_QUALITY, ""),
    ("1 4", "6m7", SUBSTITUTION, "relative minor"),
    ("6m 4", "1", SUBSTITUTION, "relative major"),
    ("4 5", "2m7", SUBSTITUTION, "ii for IV"),
    ("2m7 57", "4maj7", SUBSTITUTION, "IV for ii"),
    ("57 1", "b27", SUBSTITUTION, "tritone substitution"),
    ("5 1", "b29", SUBSTITUTION, "tritone substitution"),
    ("57 1", "b79", SUBSTITUTION, "backdoor dominant"),
    ("57 1", "b7maj7", STRANGER, ""),
    ("57 1", "7dim7", SUBSTITUTION, "diminished seventh for dominant"),
    ("57 1", "b6dim7", SUBSTITUTION, "diminished seventh for dominant"),
    ("57 1", "7dim", STRANGER, ""),
    ("57 1", "6dim7", STRANGER, ""),
    ("#4dim7 5", "1dim7", SUBSTITUTION, "the same diminished seventh"),
    ("#4dim7 5", "6dim7", SUBSTITUTION, "the same diminished seventh"),
    ("7dim7 1", "57", SUBSTITUTION, "dominant for diminished seventh"),
    ("59sus4 1", "4/5", SUBSTITUTION, "slash chord for 9sus4"),
    ("59sus4 1", "2m7/5", SUBSTITUTION, "slash chord for 9sus4"),
    ("57 1", "4/5", SUBSTITUTION, "slash chord for 9sus4"),
    ("59sus4 1", "4/1", STRANGER, ""),
    ("4/5 1", "59sus4", SUBSTITUTION, "9sus4 for slash chord"),
    ("2m7/5 1", "59sus4", SUBSTITUTION, "9sus4 for slash chord"),
    ("3m 2m", "67", SUBSTITUTION, "secondary dominant"),
    ("3m 1", "57", STRANGER, ""),
    ("1 4", "b3", STRANGER, ""),
    ("/7 1", "5", STRANGER, ""),
    ("_7 1", "5m", OTHER_QUALITY, ""),
    ("4,1 5", "6m", SUBSTITUTION, "relative minor"),
]


@pytest.mark.parametrize(("pattern", "found", "cost", "name"), SUBSTITUTIONS)
def test_substitutions(pattern: str, found: str, cost: int, name: str) -> None:
    asked, following = read_pattern(pattern).pattern.items()
    assert swap(asked, read_numeral(found), following) == Swap(cost, name)


REFUSED = [
    ("1 .. 5", 1, "“..” leaves open"),
    ("(1 4)+ 5", 1, "“\\+” leaves open"),
    ("| 1 | 4 .. |", 1, "“..” leaves open"),
    ("1", 1, "one chord alone"),
    ("1 4? 5?", 2, "one chord alone"),
    ("_7 _7 _7 1", 2, "too many for a search two chords away"),
    (" ".join(["1maj 4maj"] * 20), 2, "too large for a search 2 chords away"),
]


@pytest.mark.parametrize(("pattern", "edits", "message"), REFUSED)
def test_patterns_without_near_versions(pattern: str, edits: int, message: str) -> None:
    with pytest.raises(ReadingError, match=message):
        near_expression(read_pattern(pattern).pattern, Strength.FAMILY, 0, edits)


def test_a_pattern_of_twelve_chords_is_within_bounds() -> None:
    pattern = read_pattern("1maj7 6m7 2m7 57 3m7 67 2m7 57 17 4maj7 4m7 57").pattern
    assert all(near_expression(pattern, strength, 0, 2) for strength in Strength)


PIECES = [
    ("1 5 6m 4", 1, ["1 5", "6m 4"]),
    ("1 5 6m 4", 2, ["1", "5", "6m 4"]),
    ("[ 1 5 ] 6m 4", 1, ["1 5", "6m 4"]),
    ("1 4", 2, ["1", "4"]),
    ("| 1 | 4 | 5 |", 1, ["1", "4 5"]),
    ("| 1 4 | 5 |", 2, []),
]


@pytest.mark.parametrize(("pattern", "edits", "texts"), PIECES)
def test_pieces(pattern: str, edits: int, texts: list[str]) -> None:
    found = pieces(read_pattern(pattern).pattern, edits)
    assert [" ".join(item.text for item in piece.items()) for piece in found] == texts


def test_taken_matches_are_put_back() -> None:
    assert marked(["azb{xx}<{y}", "a{z}b0<0"]) == ("a{z}b{xx}<{y}", [1, 0, 0])
    assert marked(["{x}azb", "0azb", "0a{z}b"]) == ("{x}a{z}b", [0, 2])


def test_an_expression_without_rare_codes_has_none() -> None:
    pattern = read_pattern("1 57 _").pattern
    text = near_expression(pattern, Strength.FAMILY)
    assert max(text) >= "\U00010000" > max(without_rare(text))

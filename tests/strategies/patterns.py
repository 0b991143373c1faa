"""Strategies for patterns: written as a person writes them and read by the reader, so that every one is valid.

``patterns`` draws from the whole notation; ``patterns_for`` writes down what a chart plays, more or less closely, so
that the pattern has a good chance to be found in it.
"""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import strategies as st

from grammar.patterns import read_pattern
from shared.chart import Chart
from shared.chord import Chord, Numeral
from shared.errors import ReadingError
from shared.key import Key
from shared.pattern import Pattern
from shared.pitch import Degree, Pitch
from shared.quality import Third
from shared.quality_names import QUALITIES, quality_name
from tests.helpers.performance import Performance, Played, perform

_DEGREES = st.sampled_from(["1", "1", "2", "3", "4", "4", "5", "5", "6", "7", "b7", "b3", "b6", "#4", "b2"])
_NUMERALS = st.sampled_from(["I", "i", "ii", "iii", "IV", "iv", "V", "v", "vi", "bVII", "bIII", "bVI", "viiø7", "V/V"])
_PLAIN_QUALITIES = st.sampled_from(
    ["maj", "m", "7", "m7", "maj7", "sus4", "7sus4", "5", "dim", "m7b5", "aug", "9", "6"]
)
_ANY_QUALITIES = st.sampled_from([row.name or "maj" for row in QUALITIES])
_QUALITIES = st.one_of(_PLAIN_QUALITIES, _PLAIN_QUALITIES, _ANY_QUALITIES)
_CENTRES = st.sampled_from([Pitch(letter) for letter in "CDEFGAB"] + [Pitch("B", -1), Pitch("E", -1), Pitch("F", 1)])
_MOST_ITEMS = 6


def _sometimes(text: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.one_of(st.just(""), st.just(""), text)


_BASS = _DEGREES.map("/{}".format)
_WORDS = st.one_of(
    st.builds("{}{}{}".format, _DEGREES, _sometimes(_QUALITIES), _sometimes(_BASS)),
    _DEGREES,
    _NUMERALS,
    st.builds("_{}{}".format, _sometimes(_QUALITIES), _sometimes(_BASS)),
    _BASS,
)


def _items(words: st.SearchStrategy[str], others: st.SearchStrategy[str] = _WORDS) -> st.SearchStrategy[str]:
    """Items: a word, or two or three of which the first is the likely one."""
    either = st.builds("{},{}".format, words, others)
    turned = st.builds("{},{}".format, others, words)
    three = st.builds("{},{},{}".format, words, others, others)
    return st.one_of(words, words, words, words, either, turned, three)


@st.composite
def _decorated(draw: st.DrawFn, items: list[str], bars: bool) -> str:
    """The items (or whole bars) with groups and anchors about them and, between items, gaps and what may be missing."""
    parts: list[str] = []
    if draw(st.integers(0, 7)) == 7:
        items = [*items, items[0]]
    for item in items:
        extra = draw(st.sampled_from(["", "", "", "", "", "", "perhaps", "more", "gap", "group"]))
        if bars:
            parts.append(
                f"(| {item} |){draw(st.sampled_from(['x2', '+', '?']))}" if extra == "group" else f"| {item} |"
            )
        elif extra == "perhaps":
            parts.append(f"{item}?")
        elif extra == "more":
            parts += [f"{draw(_WORDS)}?", item]
        elif extra == "gap":
            parts += ["..", item]
        elif extra == "group":
            inner = draw(st.lists(st.one_of(_WORDS, st.just("..")), max_size=2))
            parts.append(f"({' '.join([item, *inner])}){draw(st.sampled_from(['x2', '+', '?']))}")
        else:
            parts.append(item)
    if len(parts) > 1 and draw(st.integers(0, 5)) == 5:
        begin = draw(st.integers(0, len(parts) - 2))
        end = draw(st.integers(begin + 2, len(parts)))
        parts[begin:end] = [f"({' '.join(parts[begin:end])}){draw(st.sampled_from(['', 'x2', '+', '?']))}"]
    if len(parts) > 1 and draw(st.integers(0, 7)) == 7:
        parts.insert(draw(st.integers(1, len(parts) - 1)), draw(st.sampled_from(["[", "]", "] ["])))
    if draw(st.integers(0, 3)) == 3:
        parts.insert(0, draw(st.sampled_from(["[", "[", "[["])))
    if draw(st.integers(0, 3)) == 3:
        parts.append(draw(st.sampled_from(["]", "]", "]]"])))
    return " ".join(parts).replace("| |", "|")


def _read(text: str) -> Pattern | None:
    try:
        return read_pattern(text).pattern
    except ReadingError:
        return None


def _valid(texts: st.SearchStrategy[str]) -> st.SearchStrategy[Pattern]:
    return texts.map(_read).filter(lambda pattern: pattern is not None)  # type: ignore[return-value]


@st.composite
def _pattern_texts(draw: st.DrawFn, bars: bool) -> str:
    items = _items(_WORDS)
    if bars:
        items = st.lists(items, min_size=1, max_size=2).map(" ".join)
    return draw(_decorated(draw(st.lists(items, min_size=1, max_size=_MOST_ITEMS)), bars))


def patterns(bars: bool = False) -> st.SearchStrategy[Pattern]:
    """Any valid pattern of one to six items, in the bar form where asked."""
    return _valid(_pattern_texts(bars))


def patterns_for(
    chart: Chart, bars: bool = False, found: Key | Sequence[Key] | None = None
) -> st.SearchStrategy[Pattern]:
    """Patterns written after what a chart plays; in the bar form after whole bars."""
    tune = perform(chart, found)
    if not tune.events:
        return patterns(bars)
    return _valid(_texts_after(tune, bars))


@st.composite
def _texts_after(draw: st.DrawFn, tune: Performance, bars: bool) -> str:
    """A stretch of a tune, counted from one of its keys, its relative major or any centre, each chord put loosely."""
    length = draw(st.integers(1, _MOST_ITEMS))
    begin = draw(st.integers(0, len(tune.bars if bars else tune.events) - 1))
    heard = draw(st.sampled_from([bar.key for bar in tune.bars]))
    relative_minor = heard.relative_major.tonic.up(Degree(6))
    tonics = st.sampled_from([heard.tonic, heard.tonic, heard.tonic, heard.relative_major.tonic, relative_minor])
    tonic = draw(st.one_of(tonics, tonics, tonics, _CENTRES))
    stretch = tune.bars if bars else tune.events
    own = draw(st.booleans())
    items = []
    for place in stretch[begin : begin + length]:
        chords = [tune.events[number].chord for number in place.events] if isinstance(place, Played) else [place.chord]
        items.append(" ".join(draw(_items(_words_for(chord, tonic, own))) for chord in chords) or "_")
    return draw(_decorated(items, bars))


def _words_for(chord: Chord, tonic: Pitch, own: bool) -> st.SearchStrategy[str]:
    """Ways to ask for a chord and, unless only its own are wanted, now and then for another one."""
    numeral = chord.counted(tonic)
    degree, quality = numeral.degree, numeral.quality
    name = quality_name(quality) or "maj"
    bass = numeral.bass or degree
    triad = "1 b3 5" if quality.third is Third.MINOR else "1 3 5"
    bare = Numeral(degree, quality.spelled(triad)).roman
    likely = [
        f"{degree}",
        f"{degree}",
        f"{degree}{name}",
        f"{degree}{name}",
        f"{degree}{quality.family.value}",
        numeral.number,
        numeral.number,
        numeral.number,
        bare,
        Numeral(degree, quality).roman,
        f"{degree}/{bass}",
        f"/{bass}",
        f"_{name}",
        f"_{quality.family.value}/{bass}",
        "_",
    ]
    word = st.sampled_from(likely)
    if own:
        return word
    return st.one_of(word, word, word, word, word, word, st.builds("{}{}".format, st.just(degree), _QUALITIES), _WORDS)

"""A strategy for charts that repeat themselves as tunes do: a few chords come back again and again.

They are made for searching: chords on one root in several qualities, chords without a third, moving basses, silence,
holds, sections that come back, repeats with endings and changes of key stand close together in them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from hypothesis import strategies as st

from shared.chart import Bar, Cell, Chart, Ending, Repeat, Section
from shared.chord import Chord
from shared.key import MAJOR_KEYS, MINOR_KEYS, Key, Mode
from shared.pitch import Degree, Pitch
from shared.quality_names import BY_NAME
from tests.helpers.performance import perform

_MODAL = [Key(Pitch("D"), Mode.DORIAN), Key(Pitch("G"), Mode.MIXOLYDIAN), Key(Pitch("F"), Mode.LYDIAN)]
_KEYS = st.one_of(
    st.sampled_from([Key(Pitch("C")), Key(Pitch("A"), Mode.MINOR), Key(Pitch("C")), Key(Pitch("E"), Mode.MINOR)]),
    st.sampled_from([*MAJOR_KEYS, *MINOR_KEYS]),
    st.sampled_from(_MODAL),
)
_ROOTS = ["1", "4", "5", "2", "6", "b7", "3", "b3", "b6", "7", "#4"]
_QUALITIES = [
    "",
    "m",
    "7",
    "sus4",
    "7sus4",
    "5",
    "m7",
    "maj7",
    "dim",
    "dim7",
    "m7b5",
    "aug",
    "sus2",
    "9",
    "maj7#5",
    "11",
]
_LABELS = ["A", "Verse 2", "B"]


@dataclass
class _Pen:
    """What writing a chart needs to remember: the next bar's number, the key, the chord before, the chords in use."""

    key: Key
    palette: list[Chord]
    number: int = 1
    before: Chord | None = None
    keys: list[Key] = field(default_factory=list)


def _chord(key: Key, root: str, quality: str, bass: str | None) -> Chord:
    def pitch(degree: str) -> Pitch:
        return key.tonic.up(Degree(int(degree[-1]), degree.count("#") - degree.count("b")))

    return Chord(pitch(root), BY_NAME[quality], pitch(bass) if bass else None)


@st.composite
def _palettes(draw: st.DrawFn, key: Key) -> list[Chord]:
    """A few chords: few roots, so that neighbours on one root are common."""
    roots = draw(st.lists(st.sampled_from(_ROOTS), min_size=2, max_size=4, unique=True))
    basses = st.one_of(st.none(), st.none(), st.sampled_from([*roots, "7", "5", "b7"]))
    chords = st.builds(_chord, st.just(key), st.sampled_from(roots), st.sampled_from(_QUALITIES), basses)
    return draw(st.lists(chords, min_size=2, max_size=6, unique_by=lambda chord: chord.sound))


@st.composite
def _bars(draw: st.DrawFn, pen: _Pen, lengths: tuple[int, ...]) -> tuple[Bar, ...]:
    return tuple(draw(_bar(pen)) for _ in range(draw(st.sampled_from(lengths))))


@st.composite
def _bar(draw: st.DrawFn, pen: _Pen) -> Bar:
    if len(pen.keys) > 1 and draw(st.integers(0, 4)) == 4:
        pen.key = draw(st.sampled_from(pen.keys))
    cells = []
    for _ in range(draw(st.sampled_from([1, 1, 2, 2, 3]))):
        choice = draw(st.integers(0, 15))
        if choice == 15:
            pen.before = None
            cells.append(Cell("N.C.", None))
        elif choice > 12 and pen.number > 1:
            cells.append(Cell(".", pen.before, struck=False))
        else:
            pen.before = draw(st.sampled_from(pen.palette))
            cells.append(Cell(pen.before.name, pen.before))
    pen.number += 1
    return Bar(pen.number - 1, tuple(cells), pen.key)


@st.composite
def _repeats(draw: st.DrawFn, pen: _Pen) -> Repeat:
    body = draw(_bars(pen, (2, 1, 3)))
    times = draw(st.integers(2, 3))
    endings: tuple[Ending, ...] = ()
    if draw(st.booleans()):
        first = Ending(tuple(range(1, times)), draw(_bars(pen, (1,))))
        endings = (first, Ending((times,), draw(_bars(pen, (1, 2)))))
    return Repeat(body, times, endings)


@st.composite
def _sections(draw: st.DrawFn, pen: _Pen, label: str | None) -> Section:
    body: list[Bar | Repeat] = []
    for _ in range(draw(st.integers(1, 2))):
        if draw(st.integers(0, 3)) == 3:
            body.append(draw(_repeats(pen)))
        else:
            body += draw(_bars(pen, (4, 3, 2, 1, 5)))
    return Section(label, tuple(body))


def tunes() -> st.SearchStrategy[Chart]:
    """Charts in a written key, each with at least one chord to be played."""
    return _charts().filter(lambda chart: bool(perform(chart).events))


@st.composite
def _charts(draw: st.DrawFn) -> Chart:
    key = draw(_KEYS)
    others = st.lists(_KEYS, min_size=1, max_size=2)
    keys = [key, *draw(others)] if draw(st.integers(0, 2)) == 2 else [key]
    pen = _Pen(key, draw(_palettes(key)), keys=keys)
    labels = _LABELS[: draw(st.integers(0, len(_LABELS)))]
    sections = []
    if not labels or draw(st.integers(0, 4)) == 4:
        sections.append(draw(_sections(pen, None)))
    sections += [draw(_sections(pen, label)) for label in labels]
    form: list[str] = []
    if labels:
        form = draw(st.one_of(st.just([]), st.lists(st.sampled_from(labels), min_size=1, max_size=4)))
    return Chart((), tuple(sections), tuple(form), key)

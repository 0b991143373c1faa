"""JAMS: bars from beats, sections from segments, keys, and what is said of broken files."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.jams import MOST_CHARACTERS, read_jams
from shared.foreign import ForeignTune

Rows = list[tuple[float, float, Any]]


def annotation(namespace: str, rows: Rows) -> dict[str, Any]:
    data = [{"time": t, "duration": d, "value": v, "confidence": None} for t, d, v in rows]
    return {"namespace": namespace, "data": data, "annotation_metadata": {}, "sandbox": {}}


def beats(count: int, bar: int = 4, start: float = 0.0, first: int = 1, pace: float = 0.5) -> dict[str, Any]:
    return annotation("beat", [(start + pace * i, 0.0, (first - 1 + i) % bar + 1) for i in range(count)])


def read(*annotations: dict[str, Any], **metadata: Any) -> ForeignTune:
    (tune,) = read_jams(json.dumps({"file_metadata": metadata, "annotations": annotations}))
    return tune


def written(*annotations: dict[str, Any]) -> str:
    """The bars of the chart, with its metre where that is not 4/4."""
    return written_of(read(*annotations))


def written_of(tune: ForeignTune) -> str:
    assert tune.chart is not None, tune.faults
    text = write_chart(tune.chart)
    assert read_chart(text).chart == tune.chart
    return text.replace("time: 4/4\n\n", "", 1)


CF: Rows = [(0.0, 2.0, "C:maj"), (2.0, 2.0, "F:maj")]

#: Annotations and the bars.
BARS = [
    ((annotation("chord", CF), beats(8)), "| C | F |\n"),
    ((annotation("chord_harte", CF), beats(8)), "| C | F |\n"),
    ((annotation("chord", CF), beats(9)), "| C | F | |\n"),
    ((annotation("chord", CF), beats(6)), "| C | F |\n"),
    ((annotation("chord", [(0, 1, "C"), (1, 1, "G:7/3"), (2, 2, "A:min")]), beats(8)), "| C G7/B | Am |\n"),
    ((annotation("chord", [(0, 1.5, "C"), (1.5, 2.5, "F")]), beats(8)), "| C . . F | |\n"),
    ((annotation("chord", [(0.04, 1.9, "C"), (1.94, 2.0, "F")]), beats(8)), "| C | F |\n"),
    ((annotation("chord", [(0, 0.5, "C"), (0.5, 0.25, "F"), (0.75, 3.25, "G")]), beats(8)), "| C F G . | |\n"),
    ((annotation("chord", [(0, 0.5, "C"), (0.5, 0.2, "F"), (0.7, 3.3, "G")]), beats(8)), "| C . F G . . . . | |\n"),
    ((annotation("chord", [(0, 2, "N"), (2, 2, "C")]), beats(8)), "| N.C. | C |\n"),
    ((annotation("chord", [(0, 2, "C"), (3, 1, "F")]), beats(8)), "| C | N.C. F |\n"),
    ((annotation("chord", [(0, 2, "C"), (2.1, 2, "F")]), beats(8)), "| C | F |\n"),
    ((annotation("chord", CF), beats(6, 3)), "time: 3/4\n\n| C | . F . | |\n"),
    ((annotation("chord", [(0, 3, "C"), (3, 3, "F")]), beats(12, 6)), "time: 6/8\n\n| C | F |\n"),
    ((annotation("chord", [(0, 1, "G"), (1, 4, "C")]), beats(10, 4, 0, 3)), "| (2/4) G | C | |\n"),
    ((annotation("chord", [(0, 1, "N"), (1, 4, "C")]), beats(10, 4, 0, 3)), "| C | |\n"),
    ((annotation("chord", [(0, 4, "C")]), beats(4, 4, 2.0)), "| C | |\n"),
    ((annotation("chord", [(0, 6, "C")]), beats(4)), "| C | | |\n"),
]


@pytest.mark.parametrize(("annotations", "bars"), BARS)
def test_bars(annotations: tuple[dict[str, Any], ...], bars: str) -> None:
    assert written(*annotations) == bars
    assert read(*annotations).remarks == ()


def test_bars_of_other_lengths_have_their_own_metre() -> None:
    positions = [1, 2, 3, 4, 1, 2, 1, 2, 3, 4, 1, 2, 3, 4]
    told = annotation("beat", [(0.5 * i, 0, p) for i, p in enumerate(positions)])
    assert written(annotation("chord", [(0, 7, "C")]), told) == "| C | (2/4) | | |\n"


def test_beats_without_a_place_of_their_own_are_counted_on() -> None:
    told = annotation("beat", [(0.5 * i, 0, 1 if i % 4 == 0 else None) for i in range(8)])
    assert written(annotation("chord", CF), told) == "| C | F |\n"


def test_beat_positions_tell_the_unit() -> None:
    rows = [
        (0.5 * i, 0.0, {"position": i % 3 + 1, "measure": i // 3, "num_beats": 3, "beat_units": 8}) for i in range(6)
    ]
    assert written(annotation("chord", [(0, 3, "C")]), annotation("beat_position", rows)) == "time: 3/8\n\n| C | |\n"


def test_without_beats_every_chord_is_a_bar() -> None:
    message = "no beats that tell their place in the bar, so every chord is one bar of 4/4"
    for more in (
        (),
        (annotation("beat", [(0.5 * i, 0, None) for i in range(8)]),),
        (annotation("beat", [(0.1 * i, 0, None if i else 1) for i in range(40)]),),
    ):
        tune = read(annotation("chord", [*CF, (4, 1, "N")]), *more)
        assert written_of(tune) == "| C | F | N.C. |\n"
        assert [remark.message for remark in tune.remarks] == [message]


def test_older_files_have_a_record_of_lists() -> None:
    data = {"time": [0, 2], "duration": [2, 2], "value": ["C:maj", "F:maj"], "confidence": [1, 1]}
    assert written({"namespace": "chord", "data": data}, beats(8)) == "| C | F |\n"


SEGMENTS = [
    ("segment_open", [(0, 2, "verse_1"), (2, 2, "chorus")], "[verse 1]\n| C |\n\n[chorus]\n| F |\n"),
    ("segment_open", [(0.3, 1.5, "A"), (1.8, 2, "A")], "[A]\n| C |\n\n[A]\n| F |\n"),
    ("segment_open", [(2, 2, "B")], "| C |\n\n[B]\n| F |\n"),
    ("segment_salami_function", [(0, 4, "Verse"), (9, 1, "Silence")], "[Verse]\n| C | F |\n"),
    ("segment_open", [(-5, 1, "before"), (0, 4, "A")], "[A]\n| C | F |\n"),
    ("multi_segment", [(0, 4, {"label": "A", "level": 0}), (2, 2, {"label": "a", "level": 1})], "[A]\n| C | F |\n"),
    ("segment_open", [(0, 4, 3), (2, 2, None)], "| C | F |\n"),
]


@pytest.mark.parametrize(("namespace", "rows", "bars"), SEGMENTS)
def test_segments(namespace: str, rows: Rows, bars: str) -> None:
    assert written(annotation("chord", CF), beats(8), annotation(namespace, rows)) == bars


KEYS = [
    ([(0, 4, "C:major")], "key: C\n| C | F |\n"),
    ([(0, 4, "Eb:minor")], "key: Ebm\n| C | F |\n"),
    ([(0, 4, "D:dorian")], "key: D dorian\n| C | F |\n"),
    ([(0, 4, "F")], "key: F\n| C | F |\n"),
    ([(0, 2, "C:major"), (2, 2, "F:major")], "key: C\n| C |\nkey: F\n| F |\n"),
    ([(0, 2, "N"), (2, 2, "F:major")], "key: F\n| C | F |\n"),
    ([(0, 4, "N")], "| C | F |\n"),
]


@pytest.mark.parametrize(("rows", "bars"), KEYS)
def test_keys(rows: Rows, bars: str) -> None:
    tune = read(annotation("chord", CF), beats(8), annotation("key_mode", rows))
    assert written_of(tune).replace("time: 4/4\n\n", "") == bars
    assert tune.remarks == ()


def test_the_mode_of_a_tonic_is_found_from_the_chords() -> None:
    tune = read(annotation("chord", [(0, 2, "A:min"), (2, 2, "E:7")]), beats(8), annotation("key_mode", [(0, 4, "A")]))
    assert tune.chart is not None
    assert str(tune.chart.key) == "Am"


def test_title_and_artist() -> None:
    tune = read(annotation("chord", CF), beats(8), title=" A  Song ", artist="A Singer")
    assert tune.title == "A Song"
    assert tune.chart is not None
    assert tune.chart.headers[:2] == (("title", "A Song"), ("by", "A Singer"))
    assert read(annotation("chord", CF), title=3, artist=None).title is None


#: Annotations, the bars, and the remarks.
SLIPS = [
    (
        (annotation("chord", [(0, 2, "C:mj"), (2, 2, "F")]), beats(8)),
        "| N.C. | F |\n",
        ["at 0 s: “C:mj” is not a chord label: “mj” cannot stand there; it is silent"],
    ),
    (
        (annotation("chord", [(0, 2, 7), (2, 2, "F")]), beats(8)),
        "| N.C. | F |\n",
        ["at 0 s: a chord that is no text is silent"],
    ),
    (
        (annotation("chord", [(0, 0.01, "C"), (0.01, 2, "F")]), beats(4)),
        "| F |\n",
        ["at 0 s: C is too short to stand in a bar and is left out"],
    ),
    (
        (annotation("chord", CF), annotation("chord", [(0, 4, "G")]), beats(8)),
        "| C | F |\n",
        ["2 chord annotations, of which the first is read"],
    ),
    (
        (annotation("chord", CF), beats(8), annotation("key_mode", [(0, 1, "H:odd")])),
        "| C | F |\n",
        ["at 0 s: “H:odd” is not a key, so the one before stays in force"],
    ),
    (
        (annotation("chord", CF), beats(8), annotation("key_mode", [(0, 1, "C:odd")])),
        "| C | F |\n",
        ["at 0 s: “C:odd” is not a key, so the one before stays in force"],
    ),
    (
        ({"namespace": "chord", "data": [3, {"time": "x"}, {"time": 0, "value": "C"}]},),
        "| C |\n",
        [
            "2 of the observations in “chord” are left out",
            "no beats that tell their place in the bar, so every chord is one bar of 4/4",
        ],
    ),
]


@pytest.mark.parametrize(("annotations", "bars", "messages"), SLIPS)
def test_slips(annotations: tuple[dict[str, Any], ...], bars: str, messages: list[str] | None) -> None:
    tune = read(*annotations)
    assert written_of(tune) == bars
    if messages is not None:
        assert [remark.message for remark in tune.remarks] == messages


#: Texts, and what the fault says.
BROKEN = [
    ("", "no JSON"),
    ("{", "no JSON"),
    ("[]", "no JAMS file"),
    ("{}", "no JAMS file"),
    ('{"annotations": {}}', "no JAMS file"),
    ('{"annotations": []}', "no chords"),
    ('{"annotations": [3, {"namespace": "chord"}, {"namespace": "chord", "data": {"time": 3}}]}', "no chords"),
    ('{"annotations": [{"namespace": "chord", "data": [{"time": NaN, "duration": 1, "value": "C"}]}]}', "no chords"),
    ('{"annotations": [{"namespace": "chord", "data": [{"time": 0, "duration": 1, "value": "N"}]}]}', "no chords"),
    ("[" * 100_000, "beyond all use"),
    ('{"annotations": ' + "9" * 5000 + "}", "beyond all use"),
    (" " * (MOST_CHARACTERS + 1), "characters"),
]


@pytest.mark.parametrize(("text", "message"), BROKEN, ids=[message for _, message in BROKEN])
def test_broken_files(text: str, message: str) -> None:
    (tune,) = read_jams(text)
    assert tune.chart is None
    assert [message in fault.message for fault in tune.faults] == [True]


_TIMES = st.one_of(st.floats(-1, 30), st.floats(), st.none(), st.integers(0, 40).map(lambda n: n / 2))
_VALUES = st.sampled_from(["C", "N", "A:min7", "?", None, 1, 2, 3, 4, {"position": 1, "beat_units": 8}, "D:major", "x"])
_ROWS = st.lists(st.tuples(_TIMES, _TIMES, _VALUES), max_size=12)
_SPACES = st.sampled_from(["chord", "beat", "segment_open", "key_mode", "beat_position", "multi_segment"])


@given(st.lists(st.tuples(_SPACES, _ROWS), max_size=5))
@settings(max_examples=300, deadline=None)
def test_anything_is_a_chart_or_a_fault(annotations: list[tuple[str, Rows]]) -> None:
    tune = read(annotation("chord", [(0, 2, "C")]), *(annotation(name, rows) for name, rows in annotations))
    assert (tune.chart is None) == bool(tune.faults)
    if tune.chart is not None:
        assert read_chart(write_chart(tune.chart)).chart == tune.chart


@given(st.text(max_size=40))
def test_any_text(text: str) -> None:
    (tune,) = read_jams(text)
    assert tune.faults

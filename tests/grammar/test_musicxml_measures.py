"""MusicXML measures: where chords stand, bars, metres, keys, parts, and what is said of what cannot be read."""

from __future__ import annotations

import pytest

from grammar.musicxml_reading import read_musicxml
from shared.errors import Fault
from tests.helpers.musicxml_scores import (
    FOUR,
    degree,
    harmony,
    key,
    note,
    part,
    read,
    rehearsal,
    score,
    sound,
    time,
    written,
    written_of,
)

C, F, G, AM = harmony("C"), harmony("F"), harmony("G", "dominant"), harmony("A", "minor")
WHOLE = note(4)
REST = '<note><rest measure="yes"/><duration>8</duration></note>'
BACK = "<backup><duration>8</duration></backup>"

#: Measures, and the bars that they are.
POSITIONS = [
    ((FOUR + C + WHOLE,), "| C |\n"),
    ((FOUR + C + note(2) + F + note(2),), "| C F |\n"),
    ((FOUR + C + note(3) + G + note(1),), "| C . . G7 |\n"),
    ((FOUR + C + note(1) + F + note(0.5) + G + note(0.5) + note(2),), "| C . F G7 . . . . |\n"),
    ((FOUR + C + WHOLE, WHOLE, F + WHOLE), "| C | | F |\n"),
    ((FOUR + WHOLE, C + WHOLE), "| N.C. | C |\n"),
    ((FOUR + C + WHOLE, note(2) + F + note(2)), "| C | . F |\n"),
    ((FOUR + C + harmony("F", offset="4") + WHOLE,), "| C F |\n"),
    ((FOUR + C + WHOLE + harmony("F", offset="-2"),), "| C . . F |\n"),
    ((FOUR + C + WHOLE + BACK + note(2) + F + note(2),), "| C F |\n"),
    ((FOUR + C + "<forward><duration>4</duration></forward>" + F + note(2),), "| C F |\n"),
    ((FOUR + C + note(2) + note(2, more="<chord/>") + F + note(2),), "| C F |\n"),
    ((FOUR + C + "<note><grace/></note>" + WHOLE,), "| C |\n"),
    ((FOUR + C + WHOLE, harmony("C", "none") + WHOLE), "| C | N.C. |\n"),
    ((FOUR + C + WHOLE, C + WHOLE), "| C | C |\n"),
    ((FOUR + C, F + G), "| C | F |\n"),
    ((FOUR + C + REST,), "| C |\n"),
    (
        ("<attributes><divisions>10080</divisions></attributes>" + C + note(3, 10080) + F + note(1, 10080),),
        "| C . . F |\n",
    ),
    (
        (FOUR + C + note(4), "<attributes><divisions>4</divisions></attributes>" + C + note(2, 4) + F + note(2, 4)),
        "| C | C F |\n",
    ),
]


@pytest.mark.parametrize(("measures", "bars"), POSITIONS)
def test_positions(measures: tuple[str, ...], bars: str) -> None:
    assert written(*measures) == bars


def test_triplets_stand_at_the_nearest_beats_and_that_is_said() -> None:
    third = "<attributes><divisions>3</divisions></attributes>"
    tune = read(third + C + note(4 / 3, 3) + F + note(4 / 3, 3) + G + note(4 / 3, 3))
    assert written_of(tune) == "| C F . G7 |\n"
    assert [remark.message for remark in tune.remarks] == [
        "measure 1: the chords cannot share the bar as written, and stand at the nearest beats"
    ]


METRES = [
    ((time("3", "4") + C + note(3, 1), F + note(3, 1)), "| C | F |\n", "3/4"),
    ((time("6", "8") + C + note(3, 1),), "| C |\n", "6/8"),
    ((FOUR + time("3+2", "8") + C + note(2.5),), "| C |\n", "5/8"),
    ((FOUR + C + WHOLE, time("3", "4") + F + note(3), G + note(3)), "| C |\ntime: 3/4\n| F | G7 |\n", "4/4"),
    ((FOUR + C + WHOLE, time("2", "4") + F + note(2), time("4", "4") + G + WHOLE), "| C | (2/4) F | G7 |\n", "4/4"),
    ((FOUR + C + WHOLE, F + note(2)), "| C | (2/4) F |\n", "4/4"),
    (
        ('<measure number="0" implicit="yes">' + FOUR + G + note(1) + "</measure>", C + WHOLE, F + WHOLE),
        "| (1/4) G7 | C | F |\n",
        "4/4",
    ),
    ((FOUR + C + note(5),), "| (5/4) C |\n", "5/4"),
    (
        (
            "<attributes><divisions>2</divisions><time><senza-misura/></time></attributes>" + C + note(3) + F + note(4),
            G + note(2),
        ),
        "| (7/4) C . . F . . . | (2/4) G7 |\n",
        "7/4",
    ),
    (
        (
            "<attributes><divisions>2</divisions><time><beats>2</beats><beat-type>4</beat-type><beats>3</beats>"
            "<beat-type>8</beat-type></time></attributes>" + C + note(3.5),
        ),
        "| C |\n",
        "7/8",
    ),
]


@pytest.mark.parametrize(("measures", "bars", "metre"), METRES)
def test_metres(measures: tuple[str, ...], bars: str, metre: str) -> None:
    tune = read(*measures)
    assert written_of(tune) == bars
    assert tune.chart is not None
    assert str(tune.chart.metre) == metre
    assert tune.remarks == ()


#: Measures of a multi-measure rest all stand in the file; the sign only says how they are shown.
def test_rests_of_several_measures_hold_the_chord() -> None:
    rest = "<attributes><measure-style><multiple-rest>2</multiple-rest></measure-style></attributes>" + REST
    assert written(FOUR + C + WHOLE, rest, REST, F + WHOLE) == "| C | | | F |\n"


def test_repeated_measures_repeat_their_chords() -> None:
    start = '<attributes><measure-style><measure-repeat type="start">{}</measure-repeat></measure-style></attributes>'
    stop = '<attributes><measure-style><measure-repeat type="stop"/></measure-style></attributes>'
    two = C + note(2) + F + note(2)
    assert written(FOUR + two, start.format(1) + REST, stop + G + WHOLE) == "| C F | C F | G7 |\n"
    assert written(FOUR + two, G + WHOLE, start.format(2) + REST, REST) == "| C F | G7 | C F | G7 |\n"


KEYS = [
    ((key(0, "major") + C, F), "C", "| C | F |\n"),
    ((key(-3, "minor") + C, F), "Cm", "| C | F |\n"),
    ((key(0, "dorian") + C,), "D dorian", "| C |\n"),
    ((key(1, "ionian") + C,), "G", "| C |\n"),
    ((key(1, "aeolian") + C,), "Em", "| C |\n"),
    ((key(0, "major") + C, key(2, "major") + F), "C", "| C |\nkey: D\n| F |\n"),
    ((key(0, "none") + C,), "None", "| C |\n"),
]


@pytest.mark.parametrize(("measures", "name", "bars"), KEYS)
def test_keys(measures: tuple[str, ...], name: str, bars: str) -> None:
    tune = read(*measures)
    assert tune.chart is not None
    assert str(tune.chart.key) == name
    assert written_of(tune) == bars
    assert tune.remarks == ()


#: Fifths, chords, and the key that a signature without a mode is taken for.
MODES = [
    (0, (C, F, G, C), "C"),
    (0, (AM, F, G, AM), "Am"),
    (0, (AM, C, G, F), "C"),
    (0, (AM, harmony("E", "dominant"), AM, F), "Am"),
    (-3, (harmony("Eb"), harmony("Ab")), "Eb"),
    (-3, (harmony("C", "minor"), harmony("G"), harmony("C", "minor")), "Cm"),
    (0, (F,), "C"),
]


@pytest.mark.parametrize(("fifths", "chords", "name"), MODES)
def test_a_signature_without_a_mode(fifths: int, chords: tuple[str, ...], name: str) -> None:
    tune = read(*(FOUR * (not i) + key(fifths) * (not i) + chord + WHOLE for i, chord in enumerate(chords)))
    assert tune.chart is not None
    assert str(tune.chart.key) == name
    message = f"measure 1: the key signature names no mode; by its chords it is taken for {name}"
    assert [remark.message for remark in tune.remarks] == [message]


def test_headers() -> None:
    head = (
        "<work><work-title> A  Tune </work-title></work><movement-title>Other</movement-title><identification>"
        '<creator type="lyricist">L. Yric</creator><creator type="composer">C. Omposer</creator>'
        '<creator type="arranger">No One</creator><miscellaneous><miscellaneous-field name="style">folk'
        '</miscellaneous-field><miscellaneous-field name="software">X</miscellaneous-field></miscellaneous>'
        "</identification>"
    )
    tempo = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>c. 96</per-minute></metronome>"
        '</direction-type><sound tempo="96"/></direction>'
    )
    tune = read(FOUR + key(0, "major") + tempo + C + WHOLE, head=head)
    assert tune.title == "A Tune"
    assert tune.chart is not None
    assert tune.chart.headers == (
        ("title", "A Tune"),
        ("by", "C. Omposer, L. Yric"),
        ("key", "C"),
        ("time", "4/4"),
        ("tempo", "96"),
        ("style", "folk"),
    )
    assert read(C, head="<movement-title>M</movement-title>").title == "M"
    credit = "<credit><credit-type>title</credit-type><credit-words>On Top</credit-words></credit>"
    assert read(C, head=credit).title == "On Top"
    assert read(C).title is None
    only = read(sound(tempo="120.5") + C).chart
    assert only is not None
    assert only.header("tempo") == "120.5"


def test_the_part_with_most_chords_is_read_and_the_longest_part_counts() -> None:
    melody = part((FOUR + note(4), note(2)), "P0")
    chords = part((FOUR + C + note(4) + F, G + note(1)), "P1")
    few = part((FOUR + AM + note(4), note(2)), "P2")
    body = f'<score-partwise version="4.0">{melody}{chords}{few}</score-partwise>'
    (tune,) = read_musicxml(body.encode())
    assert written_of(tune) == "| C | (2/4) G7 |\n"
    assert [remark.message for remark in tune.remarks] == [
        "measure 1: F stands behind the end of the measure and is left out"
    ]


def test_signs_of_order_are_taken_from_a_part_that_has_them() -> None:
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    above = part((FOUR + rehearsal("A") + note(4), note(4) + repeat), "P0")
    below = part((FOUR + C + note(4), F + note(4)), "P1")
    (tune,) = read_musicxml(f"<score-partwise>{above}{below}</score-partwise>".encode())
    assert written_of(tune) == "[A]\n|: C | F :|\n"


def test_a_score_written_measure_by_measure() -> None:
    def measure(number: int, *parts: str) -> str:
        inner = "".join(f'<part id="P{i}">{each}</part>' for i, each in enumerate(parts))
        return f'<measure number="{number}">{inner}</measure>'

    body = measure(1, FOUR + WHOLE, FOUR + C + WHOLE) + measure(2, WHOLE, harmony("H") + note(2) + F + note(2))
    (tune,) = read_musicxml(f"<score-timewise>{body}</score-timewise>".encode())
    assert written_of(tune) == "| C | N.C. F |\n"
    assert tune.remarks[0].message.startswith("measure 2: “H” is no root")


def test_what_cannot_be_read_costs_only_itself_and_says_where() -> None:
    tune = read(FOUR + C + WHOLE, "\n" + harmony("C", "odd") + note(2) + F + note(2), G + WHOLE)
    assert written_of(tune) == "| C | N.C. F | G7 |\n"
    assert tune.remarks == (
        Fault(
            "measure 2: “odd”, with the text “”, is no kind of chord; no chord stands in its place",
            5,
            expected="a root A to G and a kind",
        ),
    )


#: What stands in a second measure, the bars that come of it, and the beginning of the remark.
SLIPS = [
    (harmony("F") + harmony("G") + WHOLE, "| C | F |\n", "measure 2: G stands in the same place"),
    (
        '<harmony type="alternate"><root><root-step>G</root-step></root><kind>major</kind></harmony>' + WHOLE,
        "| C | |\n",
        "measure 2: an alternative",
    ),
    (key(12) + F + WHOLE, "| C | F |\n", "measure 2: a key signature that is not read"),
    (key(0, "hypodorian") + F + WHOLE, "| C | F |\n", "measure 2: “hypodorian” is no mode"),
    ("<attributes><key><key-step>C</key-step></key></attributes>" + F + WHOLE, "| C | F |\n", "measure 2: a key sig"),
    (time("x", "4") + F + WHOLE, "| C | F |\n", "measure 2: “x/4” is no metre"),
    (time("4", "5") + F + WHOLE, "| C | F |\n", "measure 2: “4/5” is no metre"),
    ("<attributes><time/></attributes>" + F + WHOLE, "| C | F |\n", "measure 2: “/” is no metre"),
    ("<attributes><divisions>0</divisions></attributes>" + F + WHOLE, "| C | F |\n", "measure 2: “0” are no divisions"),
    (F + "<note><duration>long</duration></note>" + WHOLE, "| C | F |\n", "measure 2: “long” is no duration"),
    (
        F + '<barline location="middle"><repeat direction="backward"/></barline>' + WHOLE,
        "| C | F |\n",
        "measure 2: a repeat",
    ),
    (
        F + WHOLE + '<barline><repeat direction="backward" times="x"/></barline>',
        "|: C | F :|\n",
        "measure 2: “x” is no",
    ),
    (harmony("F", "major", degree(99, 0, "add")) + WHOLE, "| C | N.C. |\n", "measure 2: “add 99” is no degree"),
]


@pytest.mark.parametrize(("second", "bars", "message"), SLIPS)
def test_slips(second: str, bars: str, message: str) -> None:
    tune = read(FOUR + key(0, "major") + C + WHOLE, second)
    assert written_of(tune) == bars
    assert [remark.message[: len(message)] for remark in tune.remarks][:1] == [message]


def test_a_score_without_chords() -> None:
    (tune,) = read_musicxml(score(FOUR + WHOLE, head="<movement-title>Air</movement-title>"))
    assert (tune.title, tune.chart) == ("Air", None)
    assert [fault.message for fault in tune.faults] == ["no chords"]
    (tune,) = read_musicxml(score(harmony("C", "none") + WHOLE, harmony("C", "odd")))
    assert tune.chart is None
    assert [fault.message for fault in tune.faults] == ["no chords"]
    assert len(tune.remarks) == 1
    assert [f.message for f in read_musicxml(b"<score-partwise/>")[0].faults] == ["no chords"]


def test_a_part_for_a_transposing_instrument_stays_as_written() -> None:
    transpose = "<attributes><transpose><chromatic>{}</chromatic></transpose></attributes>"
    tune = read(FOUR + transpose.format(-2) + C + WHOLE)
    message = "measure 1: the part is written for a transposing instrument, and its chords stay as written"
    assert [remark.message for remark in tune.remarks] == [message]
    assert read(FOUR + transpose.format(-12) + C + WHOLE).remarks == ()

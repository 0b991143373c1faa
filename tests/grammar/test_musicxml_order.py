"""MusicXML signs of order: repeats, endings, D.C., D.S., Coda, Fine, and rehearsal marks as sections and form."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.unfolding import played_bars
from grammar.musicxml_order import MOST_MEASURES, Jump, Signs, TooLongError, sections_of
from grammar.musicxml_reading import read_musicxml
from tests.helpers.musicxml_scores import (
    BACKWARD,
    FORWARD,
    FOUR,
    harmony,
    key,
    left,
    note,
    read,
    rehearsal,
    right,
    score,
    sign,
    sound,
    starts,
    stops,
    words,
    written,
)

ROOTS = [letter + sign for sign in ("", "b", "#") for letter in "CDEFGAB"]


def measures(*signs: str) -> tuple[str, ...]:
    """Measures with chords C, D, E ... and these signs; what belongs at the end stands behind the notes."""
    made = []
    for index, each in enumerate(signs):
        before, _, behind = each.partition("|")
        made.append((FOUR if index == 0 else "") + before + harmony(ROOTS[index]) + note(4) + behind)
    return tuple(made)


END = "|" + right(BACKWARD)
END3 = '|<barline location="right"><repeat direction="backward" times="3"/></barline>'
START = left(FORWARD)


def ending(numbers: str, back: bool = True) -> str:
    return left(starts(numbers)) + "|" + right(stops(numbers) + (BACKWARD if back else ""))


def opened(numbers: str) -> str:
    return left(starts(numbers))


def closed(numbers: str, back: bool = True) -> str:
    return "|" + right(stops(numbers) + (BACKWARD if back else ""))


#: Signs, the bars as written here, and the roots as they are played.
REPEATS = [
    (("", END), "|: C | D :|\n", "C D C D"),
    (("", START, END, ""), "| C |\n|: D | E :|\n| F |\n", "C D E D E F"),
    (("", START, END3), "| C |\n|: D | E :|x3\n", "C D E D E D E"),
    (("", END, END), "|: C | D :|\n|: E :|\n", "C D C D E E"),
    (("", END, "", END), "|: C | D :|\n|: E | F :|\n", "C D C D E F E F"),
    (("", ending("1"), ending("2", False), ""), "|: C |1. D :|2. E |\n| F |\n", "C D C E F"),
    (("", ending("1"), ending("2"), ""), "|: C |1. D :|2. E |\n| F |\n", "C D C E F"),
    (("", ending("1, 2"), ending("3", False)), "|: C |1,2. D :|3. E |\n", "C D C D C E"),
    (("", ending("1-3"), ending("4", False)), "|: C |1,2,3. D :|4. E |\n", "C D C D C D C E"),
    (("", ending("1,3"), ending("2,4"), ""), "|: C |1,3. D :|2,4. E |\n| F |\n", "C D C E C D C E F"),
    (("", ending(" "), ending("", False)), "|: C |1. D :|2. E |\n", "C D C E"),
    (("", opened("1"), closed("1"), opened("2"), closed("2", False), ""), None, "C D E C F G A"),
    (("", ending("1"), "", ""), "|: C |1. D :|2. E |\n| F |\n", "C D C E F"),
    (("", ending("1")), "| C | D | C |\n", "C D C"),
    (("", ending("1", False), ending("2", False)), "| C | D | E |\n", "C D E"),
    ((ending("1"), ending("2", False)), "| C | D |\n", "C D"),
    (("", left(starts("1")) + END, "", END), None, "C D C E F F"),
    (("", START, "", ""), "| C | D | E | F |\n", "C D E F"),
    (("", "|" + right(BACKWARD.replace("/>", ' times="1"/>')), ""), "| C | D | E |\n", "C D E"),
    (("", '|<barline location="right"><repeat direction="forward"/></barline>', "", END), None, "C D E F E F"),
    (("", sound(**{"forward-repeat": "yes"}), END), "| C |\n|: D | E :|\n", "C D E D E"),
]


@pytest.mark.parametrize(("signs", "bars", "played"), REPEATS)
def test_repeats(signs: tuple[str, ...], bars: str | None, played: str) -> None:
    tune = read(*measures(*signs))
    assert roots(score(*measures(*signs))) == played
    assert tune.remarks == ()
    if bars is not None:
        assert written(*measures(*signs)) == bars


def roots(content: bytes) -> str:
    """The roots as they are played, one a bar."""
    (tune,) = read_musicxml(content)
    assert tune.chart is not None
    return " ".join(
        str(bar.cells[0].chord.root) if bar.cells[0].chord else "-" for _, _, bar in played_bars(tune.chart)
    )


DC, DS = sound(dacapo="yes"), sound(dalsegno="s")
SEGNO, CODA, TO_CODA, FINE = sound(segno="s"), sound(coda="c"), sound(tocoda="c"), sound(fine="yes")

#: Signs and the roots as they are played. The order of playing is common practice.
JUMPS = [
    (("", "|" + FINE, "|" + DC), "C D E C D"),
    (("", "|" + words("Fine"), "|" + words("D.C. al Fine")), "C D E C D"),
    (("", "|" + words("Fine."), "|" + words("Da Capo al Fine")), "C D E C D"),
    (("", "|" + words("fine"), "|" + words("D. C. al fine")), "C D E C D"),
    (("", "|" + DC), "C D C D"),
    (("", "|" + words("D.C.")), "C D C D"),
    (("", "|" + DC, ""), "C D C D E"),
    (("", SEGNO, "|" + FINE, "|" + DS), "C D E F D E"),
    (("", sign("segno"), "|" + words("Fine"), "|" + words("D.S. al Fine")), "C D E F D E"),
    (("", sign("segno"), "|" + words("Fine"), "|" + words("Dal Segno al Fine")), "C D E F D E"),
    (("", "|" + TO_CODA, "|" + DC, CODA), "C D E C D F"),
    (("", "|" + words("To Coda"), "|" + words("D.C. al Coda"), words("Coda")), "C D E C D F"),
    (("", "|" + sign("coda"), "|" + words("D.C. al Coda"), sign("coda")), "C D E C D F"),
    (("", SEGNO, "|" + TO_CODA, "|" + DS, CODA, ""), "C D E F D E G A"),
    (
        ("", sign("segno"), "|" + words("To Coda"), "|" + words("D.S. al Coda"), sign("coda") + words("Coda"), ""),
        "C D E F D E G A",
    ),
    (("", left("<segno/>"), "|" + TO_CODA, "|" + DS, left("<coda/>"), ""), "C D E F D E G A"),
    (("", "|" + words("Fine"), "|" + words("To Coda"), "|" + words("D.C. al Coda"), words("Coda")), "C D E F C D E G"),
    (("", "|" + words("To Coda"), "|" + words("Fine"), "|" + words("D.C. al Fine"), words("Coda")), "C D E F C D E"),
    (("", "|" + SEGNO, "", "|" + DS), "C D E F E F"),
    # Repeats are not taken again after a jump, last endings are.
    (("", END, "|" + DC), "C D C D E C D E"),
    (
        ("", '|<barline location="right"><repeat direction="backward" after-jump="yes"/></barline>', "|" + DC),
        "C D C D E C D C D E",
    ),
    (("", ending("1"), ending("2", False) + FINE, "|" + DC), "C D C E F C E"),
    (("", ending("1"), ending("2", False) + DC), "C D C E C E"),
    (("", ending("1"), ending("2", False) + TO_CODA, "|" + DC, CODA), "C D C E F C E G"),
    (("", "|" + TO_CODA, "|" + DC, CODA + START, END), "C D E C D F G F G"),
    (("", "|" + DC, END), "C D E C D C D E"),
    # Signs that lead nowhere.
    (("", "|" + words("Fine"), ""), "C D E"),
    (("", "|" + words("To Coda"), words("Coda")), "C D E"),
    (("", words("a fine day"), words("the coda is near"), words("dc10")), "C D E F"),
]


@pytest.mark.parametrize(("signs", "played"), JUMPS)
def test_jumps(signs: tuple[str, ...], played: str) -> None:
    assert roots(score(*measures(*signs))) == played
    assert read(*measures(*signs)).remarks == ()


def test_jumps_without_an_aim_are_remarked_on() -> None:
    tune = read(*measures("", "", "|" + DS))
    assert [r.message for r in tune.remarks] == [
        "measure 3: no segno to go back to, so the music goes back to the start"
    ]
    tune = read(*measures("", "|" + TO_CODA, "|" + DC))
    assert [r.message for r in tune.remarks] == ["measure 2: no coda to go to, so the music goes on"]


A, B = rehearsal("A"), rehearsal("B")

#: Signs and the whole chart behind its headers, and its form.
SECTIONS = [
    ((A, "", B, ""), "[A]\n| C | D |\n\n[B]\n| E | F |\n", ()),
    (("", A, B), "| C |\n\n[A]\n| D |\n\n[B]\n| E |\n", ()),
    ((A + START, END, B), "[A]\n|: C | D :|\n\n[B]\n| E |\n", ()),
    ((A, "|" + FINE, B + "|" + DC), "[A]\n| C | D |\n\n[B]\n| E |\n", ("A", "B", "A")),
    ((A + START, B, END), "[A]\n| C |\n\n[B]\n| D | E |\n", ("A", "B", "A", "B")),
    ((A, END, B + "|" + DC), "[A]\n|: C | D :|\n\n[B]\n| E |\n\n[A]\n| C | D |\n\n[B]\n| E |\n", ()),
    (
        (A + START, B, ending("1"), ending("2", False)),
        "[A]\n| C |\n\n[B]\n| D | E |\n\n[A]\n| C |\n\n[B]\n| D | F |\n",
        (),
    ),
    (("", A, "|" + TO_CODA, "|" + DS.replace("dalsegno", "dacapo").replace('"s"', '"yes"'), CODA), None, ()),
    (
        (A, "|" + TO_CODA, B + "|" + DC, CODA),
        "[A]\n| C | D |\n\n[B]\n| E |\n\n[Coda]\n| F |\n",
        ("A", "B", "A", "Coda"),
    ),
    ((rehearsal("Verse 1, slowly [x]"), ""), "[Verse 1 slowly x]\n| C | D |\n", ()),
    ((rehearsal("[]"), ""), "| C | D |\n", ()),
]


@pytest.mark.parametrize(("signs", "chart", "form"), SECTIONS)
def test_sections(signs: tuple[str, ...], chart: str | None, form: tuple[str, ...]) -> None:
    tune = read(*measures(*signs))
    assert tune.chart is not None
    assert tune.chart.form == form
    text = written(*measures(*signs))
    if chart is not None:
        assert text == chart


def test_what_is_played_again_before_any_label_says_why() -> None:
    text = written(*measures("", A + "|" + FINE, "|" + DC))
    assert text == "| C |\n\n[A]\n| D | E |\n\n[D.C.]\n| C |\n\n[A]\n| D |\n"


def test_a_chord_held_into_a_later_ending_is_that_of_the_body() -> None:
    first = FOUR + harmony("C") + note(4)
    text = written(first, ending("1").replace("|", harmony("F") + note(4)), ending("2", False).replace("|", note(4)))
    assert text == "|: C |1. F :|2. C |\n"


def test_a_chord_held_into_a_segno_is_the_one_written_above_it() -> None:
    held = words("") + SEGNO + note(4)
    text = written(FOUR + harmony("C") + note(4), held, harmony("G") + note(4) + DS)
    assert text == "| C | | G | C |\n| G |\n"


def test_too_many_repeats_are_refused() -> None:
    with pytest.raises(TooLongError):
        sections_of([Signs(times=99)] + [Signs(times=99)] * (MOST_MEASURES // 99))
    jumps = measures(*["|" + DC] * 21)
    many = tuple(jumps) + tuple(m.replace(FOUR, "") for m in jumps) * 8
    (tune,) = read_musicxml(score(*many))
    assert tune.chart is None or len(list(played_bars(tune.chart))) <= MOST_MEASURES


_SIGNS = st.builds(
    Signs,
    forward=st.booleans(),
    times=st.sampled_from([0, 0, 0, 1, 2, 3]),
    after_jump=st.booleans(),
    ending=st.sampled_from([(), (), (), (), (1,), (2,), (1, 2), (3,), (0,)]),
    ending_stops=st.booleans(),
    label=st.sampled_from([None, None, None, "A", "B"]),
    segno=st.sampled_from([None, None, ""]),
    coda=st.sampled_from([None, None, "", "x"]),
    tocoda=st.sampled_from([None, None, None, "", "x"]),
    fine=st.booleans(),
    jump=st.sampled_from([None, None, None, Jump(None), Jump(""), Jump(None, "fine"), Jump("", "coda")]),
)


@given(st.lists(_SIGNS, min_size=1, max_size=12))
@settings(max_examples=200, deadline=None)
def test_any_signs_lead_to_an_end(signs: list[Signs]) -> None:
    sections, _ = sections_of(signs)
    played = [
        index
        for section in sections
        for item in section.items
        for index in ([item] if isinstance(item, int) else [i for n in range(item.times) for i in item.pass_of(n + 1)])
    ]
    assert played[0] == 0 or signs[0].ending
    assert all(0 <= index < len(signs) for index in played)


@given(st.lists(_SIGNS, min_size=1, max_size=12))
@settings(max_examples=200, deadline=None)
def test_without_jumps_every_measure_outside_endings_is_played(signs: list[Signs]) -> None:
    for each in signs:
        each.jump = None
    sections, _ = sections_of(signs)
    items = [item for section in sections for item in section.items]
    played = {i for item in items for i in ([item] if isinstance(item, int) else [*range(item.start, item.end)])}
    assert played == set(range(len(signs)))


def test_a_change_of_key_inside_the_last_ending_stands_behind_the_repeat() -> None:
    last = left(starts("2"))
    sharp = key(2, "major")
    text = written(*measures(key(0, "major"), ending("1"), last, sharp + "|" + right(stops("2"))))
    assert text == "|: C |1. D :|2. E |\nkey: D\n| F |\n"


def test_measures_before_the_first_key_are_in_it_where_they_are_played_again() -> None:
    tune = read(*measures("", key(0, "major") + "|" + DC))
    assert tune.chart is not None
    assert {str(bar.key) for _, bar in tune.chart.bars()} == {"C"}
    tune = read(*measures("", key(0, "major")))
    assert tune.chart is not None
    assert [str(bar.key) for _, bar in tune.chart.bars()] == ["None", "C"]

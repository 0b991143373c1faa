"""Texts of charts that several tests read.

``MUSIC`` is a table: lines of music, and what they stand for (``test_chart_notation`` says how); None for a fault.
"""

from __future__ import annotations

MUSIC = [
    ("| C | F |", "C | F"),
    ("|C|F|", "C | F"),
    ("| C || F |]", "C | F"),
    ("| C |\n| F |", "C | F"),
    ("| C F | G |", "C F | G"),
    ("| C . F / |", "C _ F _"),
    ("| C | . F |", "C | _ F"),
    ("| C | | F |", "C | _ | F"),
    ("| | \n| C |", None),
    ("| C | % |", "C | C"),
    ("| C | F G | %2 |", "C | F G | C | F G"),
    ("| C | . F | % |", "C | _ F | C F"),
    ("| C . | % |", "C _ | C _"),
    ("| N.C. | NC | C |", "- | - | C"),
    ("| C | N.C. . |", "C | - _"),
    ("| C | /B |", "C | C/B"),
    ("| C | /B | . |", "C | C/B | _"),
    ("| C | /B | /C |", "C | C/B | C"),
    ("| C7(b9,#11) |", "C7b9#11"),
    ("| B♭△7 | F♯−7 |", "Bbmaj7 | F#m7"),
    ("| C–7 |", "Cm7"),
    ("|: C | F :|", "[C | F]x2"),
    ("|: C | F :|x3", "[C | F]x3"),
    ("|: C | F :| x3", "[C | F]x3"),
    ("|: C | F :|×3", "[C | F]x3"),
    ("|: C :|: F :|", "[C]x2 | [F]x2"),
    ("|: C :||: F :|", "[C]x2 | [F]x2"),
    ("|: C :| |: F :|", "[C]x2 | [F]x2"),
    ("|: C :|x3 F | G |", "[C]x3 | F | G"),
    ("| C | F :|", "[C | F]x2"),
    ("| C :| F | G :|", "[C]x2 | [F | G]x2"),
    ("| C |\n| F :|", "[C | F]x2"),
    ("|:\n| C |\n| F |\n:|", "[C | F]x2"),
    ("|: C | F |\n| G :|]", "[C | F | G]x2"),
    ("| C | F | x3", "[C | F]x3"),
    ("| C | F | X2", "[C | F]x2"),
    ("| C | F x2", "[C | F]x2"),
    ("| G |\n| C | F | x2\n| D |", "G | [C | F]x2 | D"),
    ("|: G |\n| C | F | x2\n| D :|", "[G | [C | F]x2 | D]x2"),
    ("|:\n| C | F | x2\n:|x3", "[[C | F]x2]x3"),
    ("|: C |1. F :|2. G |", "[C 1: F 2: G]x2"),
    ("| C |1. F :|2. G |", "[C 1: F 2: G]x2"),
    ("|: C |1. F | G :|2. D | E | A |", "[C 1: F | G 2: D | E | A]x2"),
    ("|: C |1. F |\n| G :|2. D |\n| E |", "[C 1: F | G 2: D]x2 | E"),
    ("|: C |1. F :|\n|2. D |\n| E |", "[C 1: F 2: D]x2 | E"),
    ("|: C |1.\n| F :|2.\n| D |\n| E |", "[C 1: F 2: D]x2 | E"),
    ("|: C |1,3. F :|2. G |", "[C 1,3: F 2: G]x3"),
    ("|: C |1-3. F :|4. G |", "[C 1,2,3: F 4: G]x4"),
    ("|: C |1,3. F :|2,4. G :| A |", "[C 1,3: F 2,4: G]x4 | A"),
    ("|: C |1. F :|2. G :|3. A | B |", "[C 1: F 2: G 3: A | B]x3"),
    ("|: C |1. F :|2. G |: A :|", "[C 1: F 2: G]x2 | [A]x2"),
    ("|: C |1. F :|2. G |\n| A :|", "[C 1: F 2: G]x2 | [A]x2"),
    ("|: C |1. F :|2. G | % |", "[C 1: F 2: G | G]x2"),
    ("| C | F", "C | F"),
    ("C | F |", "C | F"),
    ("C|F", "C | F"),
    ("[A] \n| C |", "C"),
]

WORDS = """key: G

an old song
[Verse]
with feeling
G       D7/F#    Em
When I go walking by

     C            G   x2
The river in the rain
  and so on
| C | G |
(played twice)

N.C.
"""

SECTION_3 = """title: Saltmarsh Waltz
key: Eb
time: 3/4
tempo: 96
style: jazz waltz
tags: walk-down, spring recital
form: A B A

[A]
|: Ebmaj7 | Cm7 | Fm7 | Bb7 :|
[B]
| Abmaj7 | Abm6 | Gm7 . C7b9 | Fm7 Bb7/D |1. Eb6 :|2. Eb6 |
"""

_SCRAPS = (
    "| | | | | || |: :| |] |1. :|2. |2. |1,3. |1-3. x2 x3 (2/4) (3/5) C F Am7 G7 H7 1 ii N.C. % %2 . / /B [A] [B] "
    "[ ] key:~G key:~H time:~3/4 form:~A,B title:~X Fine D.C. al la~la Go I : _ ♭ A: — #"
)
#: Scraps that charts are made of, right and wrong; joined at random they make texts that nobody would write.
SCRAPS = [scrap.replace("~", "\u00a0") for scrap in _SCRAPS.split(" ")]
SCRAPS += ["\n"] * 14 + ["\n\n", "\r\n", "\t", "\x00"]

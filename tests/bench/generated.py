"""Seeded charts for the benchmarks: text as people write it, with the repetition that music has.

A tune draws a few phrases of four bars and uses them again in its sections, in a key of its own; chords follow each
other as a small table of common practice says. What is generated is plain chart text; nothing is measured here.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

#: What may follow each numeral, with a weight (common practice, rounded).
_NEXT = {
    "1": {"4": 5, "5": 4, "6m": 3, "2m7": 2, "b7": 1, "17": 1, "1/3": 1},
    "17": {"4": 5, "47": 2},
    "1/3": {"4": 4, "2m7": 1},
    "2m7": {"57": 6, "5": 3, "1": 1},
    "3m": {"6m": 4, "4": 3},
    "37": {"6m": 5, "4": 1},
    "4": {"1": 5, "5": 4, "4m": 1, "2m7": 1, "1/3": 1},
    "47": {"1": 4, "57": 1},
    "4m": {"1": 5},
    "5": {"1": 6, "6m": 2, "4": 2, "5sus4": 1},
    "57": {"1": 7, "6m": 1, "1maj7": 2},
    "5sus4": {"57": 2, "5": 2},
    "1maj7": {"6m7": 2, "4maj7": 2, "2m7": 2},
    "6m7": {"2m7": 4, "4maj7": 1},
    "4maj7": {"57": 2, "1maj7": 1, "7m7b5": 1},
    "7m7b5": {"37": 4},
    "6m": {"4": 5, "2m7": 2, "5": 2, "3m": 1, "37": 1},
    "b7": {"4": 4, "1": 3},
}
_KEYS = ("C", "G", "D", "A", "E", "F", "Bb", "Eb", "Ab", "Db", "B", "F#")
_STYLES = ("pop", "gospel", "jazz", "blues", "folk")


def _walk(chance: random.Random, start: str, length: int) -> list[str]:
    numerals = [start]
    while len(numerals) < length:
        following = _NEXT[numerals[-1]]
        numerals.append(chance.choices(list(following), list(following.values()))[0])
    return numerals


def chart_texts(number: int, seed: int = 1) -> Iterator[str]:
    """Charts as text, the same for the same seed; a third are number charts, the rest chord names."""
    from grammar.symbols import read_numeral, read_pitch

    chance = random.Random(seed)
    written: dict[tuple[str, str], str] = {}
    for each in range(number):
        key = chance.choice(_KEYS)
        numbers = each % 3 == 0

        def name(numeral: str, key: str = key, numbers: bool = numbers) -> str:
            if numbers:
                return numeral
            if (numeral, key) not in written:
                written[numeral, key] = read_numeral(numeral).on(read_pitch(key)).name
            return written[numeral, key]

        lines = [f"title: Tune {each}", f"key: {key}", f"style: {chance.choice(_STYLES)}", f"level: {each % 5 + 1}"]
        lines += ["form: A A B A", ""]
        for label in "AB":
            lines.append(f"[{label}]")
            phrase = _walk(chance, chance.choice(("1", "6m", "4", "2m7")), 6)
            for line in range(chance.randint(2, 4)):
                if line == 1 and chance.random() < 0.5:
                    phrase = _walk(chance, "1", 6)
                names = [name(numeral) for numeral in phrase]
                lines.append(f"| {names[0]} | {names[1]} {names[2]} | {names[3]} | {names[4]} {names[5]} |")
        yield "\n".join(lines) + "\n"

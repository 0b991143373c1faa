"""Learns how chords follow each other in real songs, for the generator of big libraries.

    python tests/bench/learn_chain.py FOLDER

FOLDER holds the Billboard annotations. Written beside this file: ``chain.json`` with, for keys with a major and with a
minor third, how often each chord begins a key's stretch and how often each follows each, counted against the major
scale of the tonic as ``Numeral.number`` writes it. Chords met fewer than ``_LEAST`` times are left out.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from corpus.tunes import played
from grammar.billboard import read_billboard

_LEAST = 12


def learnt(folder: Path) -> dict[str, dict[str, dict[str, int] | dict[str, dict[str, int]]]]:
    """The counts of a folder of annotations."""
    counts = {mode: (Counter[str](), Counter[str](), Counter[tuple[str, str]]()) for mode in ("major", "minor")}
    for file in sorted(folder.glob("*.txt")):
        for foreign in read_billboard(file.read_text(encoding="utf-8")):
            if foreign.chart is None:
                continue
            tune = played(foreign.chart).tune
            for segment in tune.segments:
                begun, met, follows = counts["minor" if segment.key.minor_third else "major"]
                events = tune.events[segment.first : segment.last + 1]
                numbers = [event.chord.counted(segment.key.tonic).number for event in events]
                begun.update(numbers[:1])
                met.update(numbers)
                follows.update(pairwise(numbers))
    made = {}
    for mode, (begun, met, follows) in counts.items():
        kept = {number for number, times in met.items() if times >= _LEAST}
        after = {
            number: {
                other: follows[number, other] for other in sorted(kept) if other != number and follows[number, other]
            }
            for number in sorted(kept)
        }
        made[mode] = {
            "begins": {number: begun[number] for number in sorted(kept) if begun[number]},
            "follows": {number: others for number, others in after.items() if others},
        }
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="the Billboard annotations")
    parser.add_argument("--into", type=Path, default=Path(__file__).with_name("chain.json"))
    options = parser.parse_args()
    options.into.write_text(json.dumps(learnt(options.folder), indent=0, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

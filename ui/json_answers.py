"""Answers as JSON: the stable contract of ``--json``, described in the README."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from corpus.adding import Added
    from corpus.index import PlacedFault, Report
    from search.asking import Asked
    from shared.match import Answer, Hit, Place
    from ui.showing import ShownBar, ShownTune


def index_json(report: Report) -> dict[str, Any]:
    """What ``index --json`` prints."""
    return {
        "charts": report.charts,
        "read": report.read,
        "unchanged": report.unchanged,
        "removed": report.removed,
        "faults": [_fault(each) for each in report.faults],
        "remarks": [_fault(each) for each in report.remarks],
        "seconds": round(report.seconds, 3),
    }


def _fault(placed: PlacedFault) -> dict[str, Any]:
    fault = placed.fault
    return {"path": placed.path, "line": fault.line, "column": fault.column, "message": fault.sentence}


def add_json(done: Added) -> dict[str, Any]:
    """What ``add --json`` prints."""
    return {
        "added": done.added,
        "skipped": done.skipped,
        "replaced": done.replaced,
        "charts": list(done.charts),
        "faults": [_fault(each) for each in done.faults],
    }


def find_json(asked: Asked, answer: Answer) -> dict[str, Any]:
    """What ``find --json`` prints; ``read_as`` is there for patterns of chord names alone."""
    question = asked.question
    made: dict[str, Any] = {
        "pattern": question.pattern.text,
        "strength": question.strength.value,
        "reach": question.reach.value,
        "charts": answer.charts,
        "matches": answer.matches,
        "results": [_hit(hit) for hit in answer.hits],
    }
    if answer.key is not None:
        made["read_as"] = {"key": str(answer.key), "others": [str(key) for key in answer.others]}
    return made


def _hit(hit: Hit) -> dict[str, Any]:
    return {
        "title": hit.title,
        "path": hit.path,
        "key": str(hit.key),
        "count": hit.count.value,
        "matches": [_place(place) for place in hit.places],
    }


def _place(place: Place) -> dict[str, Any]:
    return {
        "section": place.section,
        "from_bar": place.from_bar,
        "to_bar": place.to_bar,
        "times": place.times,
        "chords": list(place.chords),
        "numbers": list(place.numbers),
        "differs": list(place.differs),
    }


def show_json(tune: ShownTune) -> dict[str, Any]:
    """What ``show --json`` prints; ``keys`` is there where any key was found rather than written."""
    made: dict[str, Any] = {
        "title": tune.title,
        "key": str(tune.key),
        "key_found": tune.finding is not None,
        "bars": [_bar(bar) for bar in tune.bars],
        "played": [_bar(bar) for bar in tune.played],
    }
    if any(bar.finding for bar in tune.bars):
        made["keys"] = [_key(run) for _, run in groupby(tune.bars, key=lambda bar: (bar.key, bar.finding))]
    return made


def _key(bars: Iterable[ShownBar]) -> dict[str, Any]:
    """The key of a run of bars, found or written."""
    first = next(iter(bars))
    found = first.finding
    return {
        "from_bar": first.bar,
        "key": str(first.key),
        "found": found is not None,
        "chance": round(found.chance, 2) if found else None,
        "rival": str(found.rival) if found and found.rival else None,
    }


def _bar(bar: ShownBar) -> dict[str, Any]:
    return {
        "bar": bar.bar,
        "section": bar.section,
        "chords": [each.name for each in bar.chords],
        "numbers": [each.numeral.number for each in bar.chords],
        "roman": [each.numeral.roman for each in bar.chords],
    }

"""Makes a disagreement of search and referee smaller: parts of the chart and of the pattern are left out while the two
still part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from grammar.patterns import read_pattern
from shared.chart import Bar, Chart, Repeat, Section
from shared.errors import ReadingError
from shared.pattern import Pattern
from tests.helpers.agreement import Disagreement, court_of
from tests.strategies.drawing import heard

MOST_TRIES = 300


def reduced(found: Disagreement) -> Disagreement:
    """The smallest disagreement of its kind that is found in a few hundred tries."""
    tries = MOST_TRIES
    best = found
    smaller = True
    while smaller:
        smaller = False
        for chart, pattern in _smaller(best):
            tries -= 1
            if tries < 0:
                return best
            with court_of([chart]) as court:
                left = [each for each in court.compare(pattern, best.asking).disagreements if each.chart]
            if left:
                best, smaller = left[0], True
                break
    return best


def _smaller(found: Disagreement) -> Iterator[tuple[Chart, Pattern]]:
    assert found.chart is not None
    for chart in _charts(found.chart):
        if heard(chart):
            yield chart, found.pattern
    words = found.pattern.text.split()
    for place in range(len(words)):
        try:
            yield found.chart, read_pattern(" ".join(words[:place] + words[place + 1 :])).pattern
        except ReadingError:
            continue


def _charts(chart: Chart) -> Iterator[Chart]:
    """The chart with one thing less: its form, a section, a part of a section, a repeat, a cell."""
    if chart.form:
        yield replace(chart, form=())
        for place in range(len(chart.form)):
            yield replace(chart, form=chart.form[:place] + chart.form[place + 1 :])
    for place, section in enumerate(chart.sections):
        others = chart.sections[:place], chart.sections[place + 1 :]
        if section.label not in chart.form and len(chart.sections) > 1:
            yield replace(chart, sections=(*others[0], *others[1]))
        for body in _bodies(section.body):
            yield replace(chart, sections=(*others[0], Section(section.label, body, section.words), *others[1]))


def _bodies(body: tuple[Bar | Repeat, ...]) -> Iterator[tuple[Bar | Repeat, ...]]:
    for place, part in enumerate(body):
        before, after = body[:place], body[place + 1 :]
        if before or after:
            yield before + after
        if isinstance(part, Repeat):
            yield (*before, *part.body, *after)
            continue
        for cell in range(len(part.cells) if len(part.cells) > 1 else 0):
            yield (*before, part._replace(cells=part.cells[:cell] + part.cells[cell + 1 :]), *after)

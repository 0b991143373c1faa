"""The verb ``like``: tunes that share the most with one, the shared passages side by side."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from shared.errors import SamechangesError
from ui.filter_options import filter_options, filters_of
from ui.verbs import FOUND, NOTHING, Verb, complaining, json_option, library_option, open_index_of, print_json

if TYPE_CHECKING:
    from search.alike import Alike, Likes, Shared

_CELLS_A_LINE, _LINES = 8, 4
_NOTHING_THERE = "–"


@click.command(cls=Verb)
@click.argument("chart")
@library_option
@filter_options
@click.option("--only", metavar="CHORDS", help='Tunes that keep to these chords, such as "1 4 5 6m".')
@click.option("--limit", type=click.IntRange(min=0), default=20, show_default=True, help="Tunes shown; 0 for all.")
@click.option(
    "--as",
    "style_as",
    type=click.Choice(["numbers", "roman", "chords"]),
    default="numbers",
    show_default=True,
    help="What the passages are written in.",
)
@json_option
def like(chart: str, folder: str | None, as_json: bool, style_as: str, **options: Any) -> None:
    """Find the tunes that share the most with a tune: a path, a file's stem or a title.

    The score is how much of both tunes stands in passages that they share, in whatever key.

    \b
    Examples:
      samechanges like "Saltmarsh Waltz"
      samechanges like saltmarsh-waltz --style jazz --limit 5
      samechanges like saltmarsh-waltz --as chords --json
    """
    from grammar.patterns import read_pattern
    from search.alike import chart_meant
    from search.alike import like as alike
    from shared.pattern import Strength

    with complaining():
        only = None if options["only"] is None else read_pattern(options["only"]).pattern
        if only is not None and only.named:
            raise SamechangesError('--only takes numbers here, such as "1 4 5 6m"')
        with open_index_of(folder) as opened:
            path = chart_meant(opened, chart)
            found = alike(opened, path, filters_of(options, only, Strength.FAMILY), options["limit"])
        if as_json:
            print_json(like_json(found))
        else:
            click.echo(like_text(found, style_as))
    sys.exit(FOUND if found.results else NOTHING)


def like_json(found: Likes) -> dict[str, Any]:
    """What ``like --json`` prints; scores lie between 0 and 1."""
    return {
        "title": found.title,
        "path": found.path,
        "results": [
            {
                "title": each.title,
                "path": each.path,
                "score": round(each.score, 4),
                "shared": [
                    {"numbers": list(shared.numbers), "here": list(shared.here), "there": list(shared.there)}
                    for shared in each.shared
                ],
            }
            for each in found.results
        ],
    }


def like_text(found: Likes, style: str) -> str:
    """The tunes alike with their passages.

    Args:
        found: The answer.
        style: ``numbers``, ``roman`` or ``chords``.
    """
    lines = [f"Tunes like {found.title}, in {found.key}."]
    if not found.results:
        lines.append("No tune shares a passage of four bars or chords with it.")
    for each in found.results:
        lines += ["", *_tune(each, style)]
    return "\n".join(lines)


def _tune(each: Alike, style: str) -> list[str]:
    lines = [f"{each.title}, in {each.key}, {each.score:.0%} shared   ({each.path})"]
    for shared in each.shared:
        lines.append(f"  {passage_words(shared)}")
        lines += _side_by_side(shared, style)
    return lines


def passage_words(shared: Shared) -> str:
    """Where a passage is, in words: ``bars 1 to 8 here, bars 9 to 16 there, about F``."""
    about = f", about {shared.about}" if shared.about else ""
    return f"{_bars(shared.here)} here, {_bars(shared.there)} there{about}"


def _bars(bars: tuple[int, int]) -> str:
    first, last = bars
    if first == last:
        return f"bar {first}"
    return f"bars {first} to {last}" if first < last else f"bar {first} on into bar {last}"


def sides(shared: Shared, style: str) -> list[tuple[str, str]]:
    """A passage cell by cell: what stands here, and what there; a dash where one tune has a cell more.

    Args:
        shared: The passage.
        style: ``numbers``, ``roman`` or ``chords``.
    """
    cells = []
    for cell in shared.cells:
        named = style == "chords"
        here = _cell(cell.here if named else cell.here_numbers, style)
        there = _cell(cell.there if named else cell.there_numbers, style)
        cells.append((here, there))
    return cells


def _cell(chords: Sequence[str], style: str) -> str:
    from grammar.symbols import read_numeral

    written = [read_numeral(number).roman for number in chords] if style == "roman" else chords
    return " ".join(written) or _NOTHING_THERE


def _side_by_side(shared: Shared, style: str) -> list[str]:
    """The rows of a passage, this tune above the other; of a long one the beginning."""
    from ui.text_answers import aligned

    cells = sides(shared, style)
    shown = cells[: _CELLS_A_LINE * _LINES]
    lines = []
    for start in range(0, len(shown), _CELLS_A_LINE):
        here, there = zip(*shown[start : start + _CELLS_A_LINE], strict=True)
        rows = aligned([["here", *_ruled(here)], ["there", *_ruled(there)]])
        lines += ["", *(f"    {row}" for row in rows)] if start else [f"    {row}" for row in rows]
    if len(cells) > len(shown):
        lines.append(f"    … and {len(cells) - len(shown)} more")
    return lines


def _ruled(cells: Sequence[str]) -> list[str]:
    """Cells with a line before each."""
    return [f"| {cell}" for cell in cells]

"""The verb ``progressions``: the catalogue of named progressions asked of a library."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from shared.errors import SamechangesError
from ui.filter_options import filter_options, filters_of
from ui.verbs import (
    FOUND,
    NOTHING,
    Verb,
    complaining,
    json_option,
    library_option,
    open_index_of,
    print_json,
)

if TYPE_CHECKING:
    from corpus.catalogue import Catalogue
    from corpus.reading import OpenIndex
    from search.filters import Filters

_LIMIT = 20


@click.command(cls=Verb)
@library_option
@click.option("--of", "chart", metavar="CHART", help="Where each stands in one tune: a path, a stem or a title.")
@click.option("--name", metavar="NAME", help="One progression: what it is, and all tunes that have it.")
@click.option("--discover", is_flag=True, help="Sequences used more than chance that the catalogue does not name.")
@click.option("--named-too", is_flag=True, help="With --discover: also those that the catalogue names.")
@click.option(
    "--draw",
    type=click.IntRange(min=0),
    metavar="N",
    help="With --discover: tunes looked at; 20,000 unless said, 0 for all.",
)
@filter_options
@click.option("--limit", type=click.IntRange(min=0), help="Rows shown; 0 for all. Else all of the catalogue, else 20.")
@json_option
def progressions(folder: str | None, as_json: bool, **options: Any) -> None:
    """Which progressions that have a name does the library use, and where?

    A library's own progressions stand in its file progressions.toml:

    \b
      [[progression]]
      name = "night bus loop"
      pattern = "4 1 6m 5"
      rotate = true

    \b
    Examples:
      samechanges progressions
      samechanges progressions --style gospel --limit 10
      samechanges progressions --of "Pump Court"
      samechanges progressions --name backdoor
      samechanges progressions --discover
      samechanges progressions --discover --named-too --style rock
    """
    with complaining():
        chosen = [name for name in ("chart", "name", "discover") if options[name]]
        if len(chosen) > 1:
            raise SamechangesError("--of, --name and --discover are questions of their own: ask one of them")
        if not options["discover"] and (options["named_too"] or options["draw"] is not None):
            raise SamechangesError("--named-too and --draw are for what is discovered: give --discover with them")
        from search.vocabulary import nothing_fits
        from shared.pattern import Strength

        filters = filters_of(options, None, Strength.FAMILY)
        with open_index_of(folder) as opened:
            known = known_in(opened)
            if options["chart"]:
                found = _of(opened, known, options["chart"], as_json)
            elif options["name"]:
                found = _named(opened, known, options["name"], filters, _limit(options), as_json)
            elif options["discover"]:
                among = None if options["named_too"] else known
                found = _discovered(opened, among, filters, _limit(options), options["draw"], as_json)
            else:
                found = _all(opened, known, filters, options["limit"] or 0, as_json)
            if not found and not as_json and not options["chart"]:
                click.echo("".join(f"{sentence}\n" for sentence in nothing_fits(opened, filters)), nl=False)
    sys.exit(FOUND if found else NOTHING)


def _limit(options: dict[str, Any]) -> int:
    return _LIMIT if options["limit"] is None else int(options["limit"])


def known_in(opened: OpenIndex) -> Catalogue:
    """The catalogue with the library's own progressions; the faults of these are told on standard error."""
    from corpus.catalogue import OWN_FILE, catalogue
    from ui.text_answers import fault_text

    known = catalogue(opened.library)
    for fault in known.faults:
        click.echo(fault_text(fault, OWN_FILE), err=True)
    return known


def _all(opened: OpenIndex, known: Catalogue, filters: Filters, limit: int, as_json: bool) -> bool:
    from search.progressions import uses
    from ui.progression_answers import most_used, uses_json, uses_text

    ordered = most_used(uses(opened, known.entries, filters))
    if as_json:
        print_json(uses_json(ordered[: limit or len(ordered)]))
    else:
        click.echo(uses_text(ordered, limit))
    return any(use.charts for use in ordered)


def _of(opened: OpenIndex, known: Catalogue, chart: str, as_json: bool) -> bool:
    from corpus.library import chosen_chart
    from search.progressions import found_in
    from ui.progression_answers import found_json, found_text

    charts = opened.known_charts()
    path = chosen_chart(chart, charts)
    title = dict(charts)[path]
    places = found_in(opened, known, path)
    if as_json:
        print_json(found_json(title, path, places))
    else:
        click.echo(found_text(title, path, places))
    return bool(places)


def _named(opened: OpenIndex, known: Catalogue, name: str, filters: Filters, limit: int, as_json: bool) -> bool:
    from search.progressions import answer_named, entry_meant, question_of
    from ui.json_answers import find_json
    from ui.progression_answers import entry_text
    from ui.text_answers import find_text

    entry = entry_meant(name, known)
    asked = question_of(entry, filters, limit)
    answer = answer_named(opened, entry, asked)
    if as_json:
        print_json(find_json(asked, answer))
    else:
        click.echo(f"{entry_text(entry, known)}\n\n{find_text(asked, answer, wider=False)}")
    return bool(answer.charts)


def _discovered(
    opened: OpenIndex, known: Catalogue | None, filters: Filters, limit: int, draw: int | None, as_json: bool
) -> bool:
    from search.discovery import MOST_TUNES, discover
    from ui.progression_answers import discovered_json, discovered_text

    discovery = discover(opened, known, filters, MOST_TUNES if draw is None else draw)
    if as_json:
        print_json(discovered_json(discovery, limit))
    else:
        click.echo(discovered_text(discovery, limit, named_too=known is None))
    return bool(discovery.found)

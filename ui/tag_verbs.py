"""The verbs ``tag`` and ``untag``: tags written into the chart files."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from shared.errors import ChoiceError, SamechangesError, nearest
from ui.filter_options import filter_options, filters_of
from ui.verbs import (
    BAD_INPUT,
    FOUND,
    NOTHING,
    Verb,
    complaining,
    indexed,
    json_option,
    library_of,
    library_option,
    open_index_of,
    print_json,
)

if TYPE_CHECKING:
    from corpus.reading import OpenIndex
    from corpus.tagging import Tagged
    from search.proposing import Proposed

_MOST_OFFERED = 3


@click.command(cls=Verb)
@click.argument("tag", required=False)
@click.argument("charts", nargs=-1, metavar="CHART...")
@library_option
@click.option("--from-progressions", "proposing", is_flag=True, help="Propose names of progressions for all tunes.")
@click.option("--name", "names", multiple=True, metavar="NAME", help="Propose this progression alone; may repeat.")
@click.option("--yes", is_flag=True, help="Write what is proposed without asking.")
@filter_options
@json_option
def tag(tag: str | None, charts: tuple[str, ...], folder: str | None, as_json: bool, **options: Any) -> None:
    """Write a tag into charts, or propose tags for the whole library.

    Only the tags: line of a chart file changes. What is proposed is shown as a table first, and written on yes.

    \b
    Examples:
      samechanges tag "spring recital" saltmarsh-waltz --library ~/charts
      samechanges tag --from-progressions --library ~/charts
      samechanges tag --from-progressions --name backdoor --yes --library ~/charts
    """
    with complaining():
        _refuse_read_only(folder)
        if options["proposing"]:
            if tag or charts:
                raise SamechangesError("--from-progressions proposes for the whole library: give no tag and no chart")
            status = _propose(folder, options, as_json)
        else:
            status = _write(folder, tag, charts, as_json, add=True)
    sys.exit(status)


@click.command(cls=Verb)
@click.argument("tag")
@click.argument("charts", nargs=-1, metavar="CHART...")
@library_option
@json_option
def untag(tag: str, charts: tuple[str, ...], folder: str | None, as_json: bool) -> None:
    """Take a tag out of charts, leaving the files as they were before it was written.

    \b
    Examples:
      samechanges untag "spring recital" saltmarsh-waltz --library ~/charts
    """
    with complaining():
        _refuse_read_only(folder)
        status = _write(folder, tag, charts, as_json, add=False)
    sys.exit(status)


def _refuse_read_only(folder: str | None) -> None:
    """Says at once where nothing can be written."""
    from corpus.saving import refusal

    library = library_of(folder)
    library.chart_paths()
    if reason := refusal(library):
        raise SamechangesError(reason)


def _write(folder: str | None, tag: str | None, charts: Sequence[str], as_json: bool, add: bool) -> int:
    from corpus.library import chosen_chart
    from corpus.tagging import checked_tag, tag_charts, untag_charts
    from search.vocabulary import tags as known_tags

    if not tag or not charts:
        raise SamechangesError(
            'name a tag and the charts that it is for, such as: tag "spring recital" saltmarsh-waltz'
        )
    name = checked_tag(tag)
    with open_index_of(folder) as opened:
        known = known_tags(opened)
        folded = {each.casefold() for each in known}
        if not add and name.casefold() not in folded:
            holding = [each for each in known if name.casefold() in each.casefold()]
            raise ChoiceError(f"no chart has the tag “{name}”", holding[:_MOST_OFFERED] or nearest(name, known))
        paths = [chosen_chart(each, opened.known_charts()) for each in charts]
        library = opened.library
    if add and name.casefold() not in folded and (near := nearest(name, known, 1)):
        click.echo(f"“{name}” is a new tag; there is “{near[0]}” already.", err=True)
    wanted = {path: [name] for path in paths}
    done = tag_charts(library, wanted) if add else untag_charts(library, wanted)
    indexed(library)
    if as_json:
        print_json({"tag": name, **_json(done)})
    else:
        click.echo(_text(done, f"has “{name}” already" if add else f"does not have “{name}”"))
    return BAD_INPUT if done.faults else FOUND if done.changed else NOTHING


def _json(done: Tagged) -> dict[str, Any]:
    return {
        "changed": list(done.changed),
        "unchanged": list(done.unchanged),
        "faults": [{"path": path, "message": fault.sentence} for path, fault in done.faults],
    }


def _text(done: Tagged, otherwise: str) -> str:
    lines = [*done.changed, *(f"{path}: {otherwise}" for path in done.unchanged)]
    lines += [f"{path}: {fault.sentence}" for path, fault in done.faults]
    from ui.text_answers import plural

    return "\n".join([f"{plural(len(done.changed), 'chart')} changed.", *lines])


def _propose(folder: str | None, options: dict[str, Any], as_json: bool) -> int:
    from corpus.tagging import tag_charts

    with open_index_of(folder) as opened:
        proposals = _proposals(opened, options)
        library = opened.library
    if not as_json:
        click.echo(_table(proposals))
    agreed = options["yes"] or (not as_json and bool(proposals) and _agreed(proposals))
    if not agreed:
        if as_json:
            print_json({"proposed": _proposed_json(proposals), "changed": [], "faults": []})
        return FOUND if proposals else NOTHING
    done = tag_charts(library, {each.path: each.tags for each in proposals})
    indexed(library)
    if as_json:
        made = _json(done)
        print_json({"proposed": _proposed_json(proposals), "changed": made["changed"], "faults": made["faults"]})
    else:
        click.echo(_text(done, "has them already"))
    return BAD_INPUT if done.faults else FOUND if done.changed else NOTHING


def _proposals(opened: OpenIndex, options: dict[str, Any]) -> list[Proposed]:
    from search.progressions import entry_meant
    from search.proposing import proposed_tags
    from shared.pattern import Strength
    from ui.progression_verbs import known_in

    known = known_in(opened)
    only = [entry_meant(name, known) for name in options["names"]]
    return proposed_tags(opened, known, filters_of(options, None, Strength.FAMILY), only)


def _agreed(proposals: Sequence[Proposed]) -> bool:
    """Whether someone who is looking says yes; where nobody is, how to say it is told."""
    from ui.text_answers import plural

    what = f"{plural(sum(len(each.tags) for each in proposals), 'tag')} into {plural(len(proposals), 'chart')}"
    if not _someone_looks():
        click.echo(f"Nothing was written; --yes writes {what}.")
        return False
    return click.confirm(f"Write {what}?")


def _someone_looks() -> bool:
    return sys.stdin.isatty()


def _table(proposals: Sequence[Proposed]) -> str:
    from ui.progression_answers import columns, shortened

    if not proposals:
        return "There is no tag to propose."
    return "\n".join(columns([(shortened(each.title), ", ".join(each.tags)) for each in proposals]))


def _proposed_json(proposals: Sequence[Proposed]) -> list[dict[str, Any]]:
    return [{"title": each.title, "path": each.path, "tags": list(each.tags)} for each in proposals]

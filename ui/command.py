"""The command line: plain verbs over a library of chord charts.

Exit status: 0 found (or done), 1 nothing found, 2 bad input. Answers go to standard output, everything else to standard
error. What a verb does not need is not imported, so that the command starts fast.
"""

from __future__ import annotations

import sys
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

import click

from shared.errors import SamechangesError
from ui.filter_options import filter_options, filters_of
from ui.like_verb import like
from ui.naming import answered_by_name, asked_by_name, entry_named
from ui.progression_verbs import progressions
from ui.survey_verb import survey
from ui.tag_verbs import tag, untag
from ui.verbs import (
    BAD_INPUT,
    FOUND,
    NOTHING,
    Verbs,
    collect_seldom,
    complaining,
    indexed,
    json_option,
    keep_tables,
    library_of,
    library_option,
    open_index_of,
    print_json,
    progress_bar,
)
from ui.widening import widened

if TYPE_CHECKING:
    from corpus.reading import OpenIndex
    from search.asking import Asked
    from shared.key import Key
    from shared.pattern import Pattern


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="samechanges")
def main() -> None:
    """Which tunes in a folder of chord charts use this progression, in any key, and where?

    \b
    Examples:
      samechanges find "2m7 57 1maj7"
      samechanges find "Am F C G" --library ~/charts
      samechanges show "Saltmarsh Waltz" --key F
      samechanges page

    Shell completion: see the README.
    """
    collect_seldom()
    keep_tables()


@main.command()
@library_option
@click.option("--remarks", "every_remark", is_flag=True, help="Show every remark, not the first ten.")
@json_option
def index(folder: str | None, every_remark: bool, as_json: bool) -> None:
    """Read what changed in the library and report faults.

    \b
    Examples:
      samechanges index --library ~/charts
      samechanges index --json
    """
    from ui.json_answers import index_json
    from ui.text_answers import index_text

    with complaining():
        report = indexed(library_of(folder))
        if as_json:
            print_json(index_json(report))
        else:
            click.echo(index_text(report, every_remark))


@main.command()
@click.argument("pattern")
@library_option
@click.option(
    "--strength",
    type=click.Choice(["loose", "family", "exact"]),
    default="family",
    show_default=True,
    help="Roots alone, chord families, or the very qualities and basses.",
)
@click.option("--anywhere", is_flag=True, help="About any tonal centre, not only in the key.")
@click.option("--rotate", is_flag=True, help="Let the loop begin at any of its chords.")
@click.option(
    "--near", type=click.IntRange(0, 2), default=0, metavar="N", help="Also versions up to N chords away, 1 or 2."
)
@click.option(
    "--and", "also", multiple=True, metavar="PATTERN", help="What the tune must hold as well; several may be given."
)
@click.option("--not", "without", multiple=True, metavar="PATTERN", help="What it must not hold; several may be given.")
@click.option("--only", metavar="CHORDS", help='Tunes that keep to these chords, such as "1 4 5 6m".')
@click.option("--count", type=click.Choice(["tonic", "relative"]), help="Ask under one count only.")
@click.option("--names-in", metavar="KEY", help="The key that a pattern of chord names is meant in.")
@filter_options
@click.option("--sort", default="best", show_default=True, metavar="ORDER", help="best, most, title, level or tempo.")
@click.option("--limit", type=click.IntRange(min=0), default=20, show_default=True, help="Tunes shown; 0 for all.")
@click.option("--totals", is_flag=True, help="Only how many tunes and how often.")
@click.option("--context", type=click.IntRange(min=1), metavar="N", help="A line a place, with N bars around it.")
@click.option("--by", type=click.Choice(["best", "before", "after"]), default="best", help="The order of those lines.")
@click.option(
    "--as",
    "style_as",
    type=click.Choice(["numbers", "roman"]),
    default="numbers",
    show_default=True,
    help="What stands under the chords.",
)
@json_option
def find(pattern: str, folder: str | None, as_json: bool, style_as: str, by: str, **options: Any) -> None:
    """Find the tunes that use a progression, in any key, and where.

    \b
    Examples:
      samechanges find "1 5m b7 4"
      samechanges find "ii-V-I" --anywhere --level 1-3
      samechanges find "Am F C G" --rotate
      samechanges find "| 1 | 4 | 1 | 1 |" --style blues
      samechanges find "1 5 6m 4" --near 1
      samechanges find "2m7 57 1maj7" --and "4 4m 1" --not b7
      samechanges find "4 4m 1" --context 2 --by before
      samechanges find backdoor
      samechanges find "/1 /7 /6 /5" --json
    """
    from ui.json_answers import find_json
    from ui.text_answers import find_text

    with complaining():
        entry = entry_named(pattern, library_of(folder))
        asked = _asked(pattern, options) if entry is None else asked_by_name(entry, options)
        asked = widened(asked, options)
        with open_index_of(folder) as opened:
            from search.asking import answer

            found = answer(opened, asked) if entry is None else answered_by_name(opened, entry, asked)
            if as_json:
                print_json(find_json(asked, found))
            else:
                click.echo(find_text(asked, found, style_as == "roman", by))
                _hint(opened, options, found.charts)
    sys.exit(FOUND if found.charts else NOTHING)


def _asked(pattern: str, options: dict[str, Any]) -> Asked:
    """The question that the options of ``find`` make."""
    from grammar.keys import read_key
    from search.asking import ask
    from shared.match import Count, Reach
    from shared.pattern import Strength

    strength = Strength(options["strength"])
    key = None if options["names_in"] is None else read_key(options["names_in"])
    only = None if options["only"] is None else _kept_to(options["only"], key)
    filters = filters_of(options, only, strength)
    asked = ask(
        pattern,
        strength=strength,
        reach=Reach.ANYWHERE if options["anywhere"] else Reach.KEY,
        rotate=options["rotate"],
        count=Count(options["count"]) if options["count"] else None,
        filters=filters,
        limit=options["limit"],
        sort=options["sort"],
        key=key,
    )
    if key is not None and asked.key is None and options["only"] is None:
        raise SamechangesError("--names-in is for a pattern of chord names, and this one has numbers")
    return asked


def _kept_to(text: str, key: Key | None) -> Pattern:
    """The chords that ``--only`` names: numbers, or names counted in the key given for them."""
    from grammar.patterns import read_pattern

    pattern = read_pattern(text).pattern
    if not pattern.named:
        return pattern
    if key is None:
        raise SamechangesError('--only takes numbers, such as "1 4 5 6m"; for chord names give their key: --names-in C')
    return pattern.counted(key.tonic)


def _hint(opened: OpenIndex, options: dict[str, Any], charts: int) -> None:
    """Where nothing was found under a style or tag that the library does not have, the ones it has."""
    if charts:
        return
    from search.vocabulary import unknown_words

    for line in unknown_words(opened, options["style"], options["tags"], options["section"]):
        click.echo(line)


@main.command()
@click.argument("sources", nargs=-1, required=True, metavar="SOURCE...")
@library_option
@click.option("--as", "notation", metavar="NOTATION", help="musicxml, jams, abc, harte or roman; else found out.")
@click.option("--replace", is_flag=True, help="Write over charts of the same tune or name.")
@json_option
def add(sources: tuple[str, ...], folder: str | None, notation: str | None, replace: bool, as_json: bool) -> None:
    """Make chart files of tunes in other notations, and add them to the library.

    \b
    Examples:
      samechanges add reels.abc --library ~/charts
      samechanges add scores/ --as musicxml --library ~/charts
    """
    from corpus import adding
    from ui.json_answers import add_json
    from ui.text_answers import add_text, remarks_text

    with complaining():
        library = library_of(folder)
        library.chart_paths()
        chosen = adding.chosen_notation(notation)
        with progress_bar("Reading sources") as progress:
            done = adding.add(library, adding.files_of(sources), chosen, replace, progress)
        indexed(library)
        if as_json:
            print_json(add_json(done))
            if done.remarks:
                click.echo(remarks_text(done.remarks), err=True)
        else:
            click.echo(add_text(done))
    sys.exit(FOUND if done.charts else BAD_INPUT if done.faults else NOTHING)


@main.command()
@click.argument("chart")
@library_option
@click.option("--key", "to", metavar="KEY", help="Show it in this key.")
@click.option("--rival", is_flag=True, help="Where the key was found, not written: read it in the next likeliest.")
@click.option(
    "--as",
    "style",
    type=click.Choice(["numbers", "roman", "chords", "chart", "harte", "abc", "musicxml"]),
    default="numbers",
    show_default=True,
    help="Numbers or Roman numerals under the chords, letters alone, or the text of a file in one of the notations.",
)
@click.option(
    "--count",
    type=click.Choice(["tonic", "relative"]),
    default="tonic",
    show_default=True,
    help="What minor keys are counted from.",
)
@json_option
def show(chart: str, folder: str | None, to: str | None, rival: bool, style: str, count: str, as_json: bool) -> None:
    """Show a whole tune: a path, a file's stem or a title.

    \b
    Examples:
      samechanges show "Saltmarsh Waltz"
      samechanges show saltmarsh-waltz --key F --as roman
      samechanges show pram-wheels --rival
      samechanges show saltmarsh-waltz --as musicxml > waltz.musicxml
    """
    from corpus.library import chosen_chart
    from corpus.notations import WRITTEN, written
    from corpus.tunes import played
    from grammar.keys import read_key
    from shared.match import Count
    from ui.json_answers import show_json
    from ui.showing import in_rival_key, shown
    from ui.text_answers import fault_text, show_text

    with complaining():
        with open_index_of(folder) as opened:
            library = opened.library
            faulty = [(path, PurePosixPath(path).stem) for path in opened.faulty_charts()]
            path = chosen_chart(chart, opened.known_charts() + faulty)
        reading = library.read(path)
        if reading.chart is None:
            raise SamechangesError("\n".join(fault_text(fault, path) for fault in reading.faults))
        if style in WRITTEN and not as_json:
            for option, given in (("--key", to is not None), ("--rival", rival)):
                if given:
                    raise SamechangesError(f"a tune is written out as it stands: leave {option} out, or --as {style}")
            try:
                text = written(reading.chart, style)
            except ValueError as error:
                raise SamechangesError(f"{path} cannot be written out anew: {error}") from error
            click.echo(text, nl=False)
            return
        one = in_rival_key(played(reading.chart)) if rival else played(reading.chart)
        tune = shown(one, path, read_key(to) if to else None, Count(count))
        if as_json:
            print_json(show_json(tune))
        else:
            named = ("time", "tempo", "style", "level", "by")
            facts = [f"{name} {value}" for name in named if (value := reading.chart.header(name))]
            click.echo(show_text(tune, style, facts, rival))


for verb in (like, survey, progressions, tag, untag):
    main.add_command(verb)


@main.command()
@library_option
@click.option("--port", type=click.IntRange(1, 65535), help="The port of the page; a free one is taken where None.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
def page(folder: str | None, port: int | None, no_browser: bool) -> None:
    """Open the web page, on this machine alone.

    \b
    Examples:
      samechanges page
      samechanges page --library ~/charts --port 8601
    """
    from ui.serving import serve

    with complaining():
        library = library_of(folder)
        library.chart_paths()
        sys.exit(serve(folder, port, not no_browser))

"""The verb ``survey``: counts over a library, as a table, CSV, Parquet, JSON or a plot."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shared.errors import SamechangesError
from ui.filter_options import filter_options, filters_of
from ui.verbs import FOUND, NOTHING, Verb, complaining, json_option, library_option, open_index_of, print_json

if TYPE_CHECKING:
    from search.survey import Surveyed, SurveyQuestion

_ROWS_SHOWN = 20


@click.command(cls=Verb)
@click.argument("what")
@library_option
@click.option("--length", type=int, metavar="N", help="Chords in a sequence, 1 to 8; 4 unless said.")
@click.option(
    "--strength",
    type=click.Choice(["loose", "family", "exact"]),
    help="What counts as one chord: its root (unless said), root and family, or the very chord.",
)
@click.option("--chord", metavar="CHORD", help="What comes before or after this chord, such as 57; 1 unless said.")
@click.option("--by", metavar="NAME", help="Group tunes by style, level, decade, key, mode, metre, tag or a header.")
@click.option("--against", nargs=2, metavar="A B", help="Compare two groups of --by; rest is all other tunes.")
@filter_options
@click.option("--only", metavar="CHORDS", help='Tunes that keep to these chords, such as "1 4 5 6m".')
@click.option(
    "--limit",
    type=click.IntRange(min=0),
    metavar="N",
    help="Rows told, of each group; 0 for all. Text and plots show 20 unless said, data is whole.",
)
@click.option(
    "--as",
    "style_as",
    type=click.Choice(["numbers", "roman"]),
    default="numbers",
    show_default=True,
    help="How text and plots write chords.",
)
@click.option("--csv", "as_csv", is_flag=True, help="Answer as CSV.")
@click.option("--parquet", metavar="FILE", help="Write the table to a Parquet file.")
@click.option("--svg", metavar="FILE", help="Draw the table into an SVG file.")
@json_option
def survey(what: str, folder: str | None, as_json: bool, as_csv: bool, **options: Any) -> None:
    """Count chords, progressions, keys and forms over the library.

    \b
    WHAT is one of
      roots, families    chords by root, by family
      sequences          chords in a row: --length
      transitions        from which chord to which
      before, after      what stands next to a chord: --chord
      cadences           how sections end
      keys, modes, lengths, metres

    \b
    Examples:
      samechanges survey roots
      samechanges survey sequences --length 3 --strength family
      samechanges survey before --chord 57
      samechanges survey roots --by style --csv
      samechanges survey roots --by mode --against major minor
    """
    roman = options.pop("style_as") == "roman"
    with complaining():
        if as_json and as_csv:
            raise SamechangesError("one answer is either JSON or CSV: leave --json or --csv out")
        question = _question(what, options)
        from search.survey import answer_survey

        with open_index_of(folder) as opened:
            made = answer_survey(opened, question)
            _print(made, options["limit"], as_json, as_csv, roman)
            if made.charts == 0:
                _hint(opened, options)
        if len(made.table):
            _write(made, options, roman)
    sys.exit(FOUND if len(made.table) else NOTHING)


def _question(what: str, options: dict[str, Any]) -> SurveyQuestion:
    """The question that the options make."""
    from grammar.patterns import read_pattern
    from search.survey import survey_question
    from shared.pattern import Strength

    only = None if options["only"] is None else read_pattern(options["only"]).pattern
    if only is not None and only.named:
        raise SamechangesError('--only takes numbers here, such as "1 4 5 6m"')
    return survey_question(
        what,
        length=options["length"],
        strength=options["strength"],
        chord=options["chord"],
        by=options["by"],
        against=options["against"],
        filters=filters_of(options, only, Strength.FAMILY),
    )


def _print(made: Surveyed, limit: int | None, as_json: bool, as_csv: bool, roman: bool) -> None:
    """Prints the answer; beside data, what a reader should know goes to standard error."""
    from ui.survey_text import in_roman, notes_text, survey_csv, survey_json, survey_text

    if as_json:
        print_json(survey_json(made, limit or 0))
    elif as_csv:
        click.echo(survey_csv(made, limit or 0), nl=False)
    else:
        click.echo(survey_text(in_roman(made) if roman else made, _ROWS_SHOWN if limit is None else limit))
        return
    if text := notes_text(made):
        click.echo(text, err=True)


def _hint(opened: Any, options: dict[str, Any]) -> None:
    """Where a filter named something that no tune has, what there is."""
    from search.vocabulary import unknown_words

    for line in unknown_words(opened, options["style"], options["tags"], options["section"]):
        click.echo(line, err=True)


def _write(made: Surveyed, options: dict[str, Any], roman: bool) -> None:
    """Writes the files asked for.

    Raises:
        SamechangesError: If one cannot be written.
    """
    limit = options["limit"]
    for name in ("parquet", "svg"):
        if options[name] is None:
            continue
        place = Path(options[name]).expanduser()
        if name == "svg":
            from ui.survey_plots import svg
            from ui.survey_text import in_roman

            content = svg(in_roman(made) if roman else made, _ROWS_SHOWN if limit is None else limit).encode()
        else:
            from ui.survey_text import survey_parquet

            content = survey_parquet(made, limit or 0)
        try:
            place.write_bytes(content)
        except OSError as error:
            raise SamechangesError(f"{place} cannot be written: {error.strerror or error}") from error
        click.echo(f"Written: {place}", err=True)

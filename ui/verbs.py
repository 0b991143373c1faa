"""What every verb of the command line stands on: its options, its library, its complaints and its progress bar."""

from __future__ import annotations

import atexit
import gc
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

from shared.errors import ReadingError, SamechangesError

if TYPE_CHECKING:
    from corpus.index import Report
    from corpus.library import Library
    from corpus.reading import OpenIndex

FOUND, NOTHING, BAD_INPUT = 0, 1, 2
#: So many more things must have been made than let go before rubbish is looked for.
_SELDOM = 100_000

_Command = TypeVar("_Command", bound=Callable[..., Any])


def library_option(command: _Command) -> _Command:
    """Gives a verb the option that names the library."""
    text = "The library folder. Else SAMECHANGES_LIBRARY, else the demo library."
    return click.option("--library", "folder", metavar="DIR", help=text)(command)


def json_option(command: _Command) -> _Command:
    """Gives a verb the option to answer as JSON."""
    return click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")(command)


@contextmanager
def complaining() -> Iterator[None]:
    """Turns what a user got wrong into a message with its place, and exit status 2."""
    try:
        yield
    except ReadingError as error:
        from ui.text_answers import fault_text

        click.echo("\n".join(fault_text(fault) for fault in error.faults), err=True)
        sys.exit(BAD_INPUT)
    except SamechangesError as error:
        click.echo(str(error), err=True)
        sys.exit(BAD_INPUT)


def print_json(answer: dict[str, Any]) -> None:
    """Prints an answer as JSON."""
    import json

    click.echo(json.dumps(answer, ensure_ascii=False, indent=2))


def library_of(folder: str | None) -> Library:
    """The library that an option names."""
    from corpus.library import chosen_library

    return chosen_library(folder)


def open_index_of(folder: str | None) -> OpenIndex:
    """The library's index, made first where there is none."""
    from corpus.reading import OpenIndex, UnreadableIndex
    from ui.text_answers import plural

    library = library_of(folder)
    try:
        return OpenIndex(library)
    except UnreadableIndex:
        report = indexed(library)
        left = f", {plural(len(report.faults), 'fault')}: see samechanges index" if report.faults else ""
        made = f"There was no index to read; it was made: {plural(report.charts, 'chart')}{left}."
        click.echo(made, err=True)
        return OpenIndex(library)


def indexed(library: Library) -> Report:
    """Brings the index up to date, with a progress bar where someone is looking."""
    from corpus.index import make_index

    with progress_bar("Reading charts") as progress:
        return make_index(library, progress)


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int], None] | None]:
    """Something to tell how far long work has come; None where nobody is looking."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def progress(done: int, of: int) -> None:
            bar.length = of
            bar.update(done - bar.pos)

        yield progress


class Verb(click.Command):
    """A verb that refuses bytes which are no text: they reach us as lone surrogates that nothing can store."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Reads the arguments."""
        for text in args:
            if any("\ud800" <= sign <= "\udfff" for sign in text):
                raise click.UsageError(f"{text!a} is not UTF-8 text", ctx)
        return super().parse_args(ctx, args)


class Verbs(click.Group):
    """The verbs of the command."""

    command_class = Verb


def collect_seldom() -> None:
    """Has rubbish looked for seldom, and not at all at the end: most verbs are done before there is any.

    What modules define stays, and there are tens of thousands of such things: looking through them again and again
    takes a tenth of a short command's time (measured).
    """
    gc.set_threshold(_SELDOM)
    atexit.register(gc.freeze)


def keep_tables() -> None:
    """Has the parsers' tables kept in the user's cache folder, where that can be written to."""
    from platformdirs import user_cache_path

    from grammar.parsers import keep_in

    folder = user_cache_path("samechanges") / "grammars"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        # Then they are worked out each time.
        return
    keep_in(folder)

"""The options that say which tunes are asked, alike on every verb that has them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from search.filters import Filters
    from shared.pattern import Pattern, Strength

_Command = TypeVar("_Command", bound=Callable[..., Any])
_NAMES = ("key", "mode", "section", "style", "tags", "level", "metre", "tempo", "where")


def _where(_: click.Context, __: click.Parameter, values: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    pairs = []
    for value in values:
        name, sign, text = value.partition("=")
        if not sign or not name.strip():
            raise click.BadParameter(f"“{value}” is not NAME=VALUE, such as mood=calm")
        pairs.append((name.strip(), text.strip()))
    return tuple(pairs)


_OPTIONS = (
    click.option("--key", metavar="KEY", help="Tunes in this key, such as Eb or Am."),
    click.option("--mode", metavar="MODE", help="Tunes in this mode, such as minor or dorian."),
    click.option("--section", metavar="LABEL", help="Places in these sections, such as chorus."),
    click.option("--style", metavar="STYLE", help="Tunes whose style has these words."),
    click.option("--tag", "tags", multiple=True, metavar="TAG", help="Tunes with this tag; may stand several times."),
    click.option("--level", metavar="RANGE", help="Tunes of this level: 2, 2-4, 3- or -3."),
    click.option("--metre", metavar="METRE", help="Tunes in this metre, such as 6/8."),
    click.option("--tempo", metavar="RANGE", help="Tunes of this tempo: 96, 80-120."),
    click.option(
        "--where", multiple=True, callback=_where, metavar="NAME=VALUE", help="Tunes whose header NAME has VALUE in it."
    ),
)


def filter_options(command: _Command) -> _Command:
    """Gives a verb the options that say which tunes are asked."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def filters_of(options: dict[str, Any], only: Pattern | None, strength: Strength) -> Filters:
    """The filters that the options of a verb make.

    Args:
        options: The verb's options by name.
        only: The chords that whole tunes must keep to, counted; None for any.
        strength: How they are compared.
    """
    from search.filters import Filters

    return Filters(**{name: options[name] for name in _NAMES}, only=only, strength=strength)

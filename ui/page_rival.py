"""A key that was found, not written: how it is said on the page, and the tune read in its rival at one click.

One tune at a time is read in its rival; ``rival`` among the page's values is its path.
"""

from __future__ import annotations

import streamlit as st

from corpus.tunes import PlayedChart
from ui.page_state import ANY, go
from ui.showing import in_rival_key


def as_read(one: PlayedChart, path: str) -> PlayedChart:
    """The chart as it is to be read: in its rival key where that was asked for and there is one."""
    return in_rival_key(one) if st.session_state["rival"] == path and len(one.found) > 1 else one


def in_rival(one: PlayedChart, path: str) -> bool:
    """Whether a chart, as ``as_read`` gave it, is read in its rival key."""
    return st.session_state["rival"] == path and len(one.found) > 1


def rival_button(one: PlayedChart, path: str) -> None:
    """A button that reads the chart in its rival key, or again in the likeliest; nothing where no key was found.

    Args:
        one: The chart, as ``as_read`` gave it.
        path: Its path.
    """
    if len(one.found) < 2:
        return
    other, again = one.found[1].key, in_rival(one, path)
    st.button(
        f"Back to {other}" if again else f"Read in {other}",
        key=f"rival {path}",
        help=f"{other} is the likeliest key" if again else f"The key was found; {other} is the next likeliest",
        on_click=go,
        kwargs={"rival": ANY if again else path, "to": ANY},
    )


def key_said(key: str, chance: float | None, other: str | None, in_rival: bool = False) -> str:
    """A key in words; with a chance, that it was found from the chords.

    Args:
        key: The key.
        chance: Its chance, 0 to 1; None where it is written.
        other: The next likeliest key, or the likeliest one; None where there is none.
        in_rival: Whether the tune is read in its rival key, so that the other one is likelier.

    >>> key_said("Em", 0.834, "G")
    'key found: Em (83% likely; next G)'
    >>> key_said("G", 0.12, "Em", in_rival=True)
    'read in G (12% likely; found: Em)'
    """
    if chance is None:
        return f"key {key}"
    if in_rival:
        return f"read in {key} ({chance:.0%} likely; found: {other})"
    return f"key found: {key} ({chance:.0%} likely{f'; next {other}' if other else ''})"


def found_key_said(one: PlayedChart, path: str) -> str:
    """The key that a chart is read in, in words.

    Args:
        one: The chart, as ``as_read`` gave it.
        path: Its path.
    """
    key = str(one.tune.key)
    if not one.found:
        return key_said(key, None, None)
    other = str(one.found[1].key) if len(one.found) > 1 else None
    return key_said(key, one.found[0].chance, other, in_rival(one, path))

"""Where matches stand among the chords of a tune."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from search.places import places_in_all

A, B = "\u0804", "\u0838"


@pytest.mark.parametrize(
    ("views", "places"),
    [
        ([], 0),
        ([[f"<{A}{{{B}}}>"]], 1),
        # The same place in two views, whatever marks a match takes with it.
        ([[f"<{A}{{{B}}}>"], [f"<{A}{{{B}>}}"]], 1),
        ([[f"{{{A}}}{{{B}}}"], [f"{{{A}{B}}}"]], 3),
        # The same place in two tunes is two places; a view may say nothing of a tune.
        ([[f"{{{A}}}{B}", f"{{{A}}}{B}"], [None, f"{{{A}}}{B}"]], 2),
        ([[f"{{{A}}}{B}", None], [None, f"{{{A}}}{B}"]], 2),
        # A match that takes no chord stands nowhere.
        ([[f"{{<}}{A}{{>}}"]], 0),
    ],
)
def test_places_are_counted_once(views: Sequence[Sequence[str | None]], places: int) -> None:
    assert places_in_all(views) == places

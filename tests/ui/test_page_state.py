"""What stands in the page's address."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from search.ordering import SORTS
from ui.page_state import DEFAULTS, VIEWS, read_address, written_address

VALUES: dict[str, st.SearchStrategy[Any]] = {
    "view": st.sampled_from(VIEWS),
    "find": st.text(max_size=30),
    "strength": st.sampled_from(["loose", "family", "exact"]),
    "reach": st.sampled_from(["key", "anywhere"]),
    "rotate": st.booleans(),
    "count": st.sampled_from(["", "tonic", "relative"]),
    "sort": st.sampled_from(SORTS),
    "limit": st.integers(1, 10**8),
    "tags": st.lists(st.text("abc", min_size=1), max_size=3),
    "writing": st.sampled_from(["numbers", "roman"]),
    "notes": st.booleans(),
    "tune": st.text(max_size=30),
}


@given(st.fixed_dictionaries(VALUES))
def test_an_address_reads_back(values: dict[str, Any]) -> None:
    values = DEFAULTS | values
    assert read_address(written_address(values)) == values


def test_what_means_nothing_is_the_default() -> None:
    strange = {"view": "Cellar", "strength": "iron", "limit": "-3", "sort": "x", "rotate": "perhaps", "unknown": "1"}
    assert read_address(strange) == DEFAULTS

"""What the page remembers, and its address: a search or a tune can be linked, reloaded and gone back to.

Conventions: every value lives in Streamlit's session state under its own name, which is also the key of the widget that
changes it and its name in the address. What equals its default is left out of the address.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from search.ordering import SORTS
from search.survey import USUAL_LENGTH
from search.survey_counts import What
from shared.match import Count, Reach
from shared.pattern import Strength

VIEWS = ("Search", "Tune", "Progressions", "Survey", "Paste", "Library")
#: The parts of the view of progressions.
PARTS = ("Catalogue", "In one tune", "Not yet named")
WRITINGS = ("numbers", "roman")
ANY = ""
#: How many chords a version may be away.
NEAR = ("0", "1", "2")
FIRST_LIMIT = 20
#: Values that stand in the address, with their defaults.
DEFAULTS: dict[str, Any] = {
    "view": VIEWS[0],
    "find": "",
    "strength": Strength.FAMILY.value,
    "reach": Reach.KEY.value,
    "rotate": False,
    "near": NEAR[0],
    "also": "",
    "without": "",
    "count": ANY,
    "sort": SORTS[0],
    "meant": ANY,
    "limit": FIRST_LIMIT,
    "key": ANY,
    "mode": ANY,
    "section": "",
    "style": ANY,
    "tags": [],
    "level": "",
    "metre": ANY,
    "tempo": "",
    "header": ANY,
    "value": "",
    "part": PARTS[0],
    "named": ANY,
    "what": What.ROOTS.value,
    "length": USUAL_LENGTH,
    "detail": Strength.LOOSE.value,
    "chord": "1",
    "by": ANY,
    "first": ANY,
    "second": ANY,
    "tune": ANY,
    "to": ANY,
    "rival": ANY,
    "counted": Count.TONIC.value,
    "writing": WRITINGS[0],
    "notes": False,
}
#: Values that are too long for an address, or mean nothing after a reload.
UNADDRESSED: dict[str, Any] = {
    "pasted": "",
    "name": "",
    "replace": False,
    "wanted": "",
    "listed": "",
    "marked": None,
    "note": None,
}
#: Where only certain values will do, these; any other in an address is taken for the default.
_ALLOWED: dict[str, tuple[str, ...]] = {
    "view": VIEWS,
    "strength": tuple(each.value for each in Strength),
    "reach": tuple(each.value for each in Reach),
    "count": (ANY, *(each.value for each in Count)),
    "counted": tuple(each.value for each in Count),
    "sort": SORTS,
    "writing": WRITINGS,
    "near": NEAR,
    "part": PARTS,
    "what": tuple(each.value for each in What),
    "detail": tuple(each.value for each in Strength),
}
FILTERS = ("key", "mode", "section", "style", "tags", "level", "metre", "tempo", "value")
_ADDRESS, _LEFT = "address as written", "values as left"


def begin() -> None:
    """Brings the remembered values up to date at the start of a run.

    The address is followed where it, and nothing on the page, was changed since the last run: on the first one, and
    where the reader went back or forward.
    """
    state = st.session_state
    for name, default in (DEFAULTS | UNADDRESSED).items():
        # Assigning keeps Streamlit from forgetting what belongs to widgets that this run may not show.
        state[name] = state.get(name, default)
    # A segmented control can be left with nothing chosen; a view is always shown.
    for name, allowed in _ALLOWED.items():
        if state[name] not in allowed:
            state[name] = state.get(_LEFT, DEFAULTS)[name]
    address = st.query_params.to_dict()
    if address != state.get(_ADDRESS) and state.get(_LEFT) in (None, _values()):
        for name, value in read_address(address).items():
            state[name] = value
    state[_LEFT] = _values()


def finish() -> None:
    """Writes the address at the end of a run."""
    state = st.session_state
    state[_LEFT] = _values()
    state[_ADDRESS] = written_address(_values())
    if st.query_params.to_dict() != state[_ADDRESS]:
        st.query_params.from_dict(state[_ADDRESS])


def _values() -> dict[str, Any]:
    return {name: st.session_state[name] for name in DEFAULTS}


def written_address(values: Mapping[str, Any]) -> dict[str, str]:
    """The values that differ from their defaults, as they stand in the address.

    >>> written_address(DEFAULTS | {"find": "1 4", "rotate": True, "tags": ["waltz", "spring"]})
    {'find': '1 4', 'rotate': 'yes', 'tags': 'waltz,spring'}
    """
    address = {}
    for name, default in DEFAULTS.items():
        value = values[name]
        if value == default:
            continue
        if isinstance(default, bool):
            address[name] = "yes"
        elif isinstance(default, list):
            address[name] = ",".join(value)
        else:
            address[name] = str(value)
    return address


def read_address(address: Mapping[str, str]) -> dict[str, Any]:
    """All values as an address has them; what is missing from it, or means nothing, is the default.

    >>> read_address({"find": "1 4", "strength": "fuzzy", "limit": "40"})["limit"]
    40
    """
    values: dict[str, Any] = {}
    for name, default in DEFAULTS.items():
        text = address.get(name)
        if text is None or text not in _ALLOWED.get(name, (text,)):
            values[name] = list(default) if isinstance(default, list) else default
        elif isinstance(default, bool):
            values[name] = text == "yes"
        elif isinstance(default, list):
            values[name] = [each for each in text.split(",") if each]
        elif isinstance(default, int):
            values[name] = int(text) if text.isdecimal() and len(text) < 10 else default
        else:
            values[name] = text
    return values


def go(**values: Any) -> None:
    """Sets values, as from a button: a callback for ``on_click``."""
    for name, value in values.items():
        st.session_state[name] = value


def clear_filters() -> None:
    """Takes every filter away."""
    for name in (*FILTERS, "header"):
        default = DEFAULTS[name]
        st.session_state[name] = list(default) if isinstance(default, list) else default

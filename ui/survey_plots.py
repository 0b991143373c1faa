"""Surveys as plots: ranked bars with intervals, transitions as a heat map, two groups as dots.

Conventions: everything can be told apart in grey, by shade, shape and place; no chord has a colour of its own. Shares
are in percent. Plots are Altair charts, drawn by the page and, without a browser, as SVG.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from search.survey_counts import What
from search.survey_tables import ITEM_COLUMNS
from search.survey_tokens import ROMAN_ROOTS, ROOTS
from shared.pattern import Strength
from ui.survey_text import counted_things, item_text, shown_rows
from ui.text_answers import plural

if TYPE_CHECKING:
    import pandas as pd

    from search.survey import Surveyed

#: The most rows that a plot of bars or dots has, chords along the side of a heat map, and plots side by side.
MOST_ROWS, MOST_CHORDS, MOST_PANELS = 100, 16, 6
INK, LIGHT_INK, PAPER, _EDGE = "#222222", "#e8e8e8", "#ffffff", "#8a8a8a"
#: Bars are mid grey, so that lines show on them in either ink.
_BARS = {INK: "#a8a8a8", LIGHT_INK: "#5f5f5f"}
_ROW, _CELL, _WIDE_CELL, _WIDTH = 20, 34, 48, 540


def plot(made: Surveyed, limit: int, ink: str = INK) -> Any:
    """The plot of a survey: an Altair chart.

    Args:
        made: A survey with at least one row.
        limit: Rows shown, of each group; 0 for as many as a plot holds.
        ink: The colour of lines and letters outside the bars and cells: ``INK``, or ``LIGHT_INK`` on a dark screen.
    """
    import altair as alt

    if made.question.against is not None:
        drawn = _dots(alt, made, limit, ink)
    elif made.question.what is What.TRANSITIONS:
        drawn = _panels(alt, made, lambda table: _heat(alt, made, table, ink))
    else:
        drawn = _panels(alt, made, lambda table: _bars(alt, made, table, limit, ink))
    return (
        drawn.properties(background="transparent")
        .configure_view(stroke=None)
        .configure_axis(
            labelColor=ink,
            titleColor=ink,
            labelFontSize=13,
            titleFontSize=12,
            titleFontWeight="normal",
            titlePadding=8,
            labelLimit=260,
            gridColor=_EDGE,
            gridOpacity=0.25,
            domainColor=_EDGE,
            tickColor=_EDGE,
        )
        .configure_legend(labelColor=ink, labelFontSize=13)
        .configure_title(color=ink, subtitleColor=ink)
    )


def svg(made: Surveyed, limit: int) -> str:
    """The plot of a survey as an SVG file, drawn on white."""
    import vl_convert

    drawn = plot(made, limit).properties(background=PAPER, title=_title(made))
    return str(vl_convert.vegalite_to_svg(drawn.to_json(), vl_version=_version(vl_convert.get_vegalite_versions())))


def _version(known: Sequence[str]) -> str:
    """The release of Vega-Lite that plots are drawn with: the newest known of the one that Altair writes for."""
    from altair import SCHEMA_VERSION

    major = SCHEMA_VERSION.lstrip("v").split(".")[0]
    return max((each for each in known if each.split(".")[0] == major), key=lambda each: int(each.split(".")[1]))


def _title(made: Surveyed) -> dict[str, Any]:
    return {
        "text": made.question.sentence,
        "subtitle": f"{plural(made.charts, 'tune')} asked",
        "anchor": "start",
        "fontSize": 14,
        "fontWeight": "bold",
        "offset": 12,
    }


def _panels(alt: Any, made: Surveyed, draw: Any) -> Any:
    """One plot, or one for each of the first groups, under its name."""
    if "group" not in made.table.columns:
        return draw(made.table)
    panels: list[Any] = []
    for name, charts in made.groups.items():
        own = made.table[made.table["group"] == name]
        if len(own) and len(panels) < MOST_PANELS:
            title = {"text": f"{made.question.by} {name}, {plural(charts, 'tune')}", "anchor": "start"}
            panels.append(draw(own).properties(title=title))
    # Shares are read across the panels; the chords of heat maps are each panel's own.
    heat = made.question.what is What.TRANSITIONS
    return alt.vconcat(*panels).resolve_scale(x="independent" if heat else "shared", y="independent")


def _labels(made: Surveyed, table: pd.DataFrame) -> list[str]:
    """What each row is called along the side of a plot."""
    first, *more = ITEM_COLUMNS[made.question.what]
    names = [item_text(value) for value in table[first]]
    if made.question.what is What.CADENCES:
        return [f"{a} {b}  {name}" for a, b, name in zip(names, table["to"], table["cadence"], strict=True)]
    return [f"{a} → {b}" for a, b in zip(names, table["to"], strict=True)] if more else names


def _bars(alt: Any, made: Surveyed, table: pd.DataFrame, limit: int, ink: str) -> Any:
    """Ranked bars with intervals: of tunes for sequences and for what tunes are, else of everything counted."""
    import pandas as pd

    what = made.question.what
    of_tunes = what.of_tunes or what is What.SEQUENCES
    columns = ("share", "low", "high") if what.of_tunes else ("of_tunes", "low", "high")
    columns = columns if of_tunes else ("share", "share_low", "share_high")
    shown = table.head(min(limit or MOST_ROWS, MOST_ROWS))
    data = pd.DataFrame({"item": _labels(made, shown)})
    for name, column in zip(("share", "low", "high"), columns, strict=True):
        data[name] = 100 * shown[column].to_numpy()
    interval = "Wilson interval" if of_tunes else "bootstrap over tunes"
    whole = "tunes" if of_tunes else f"all {counted_things(what)}"
    title = f"% of {whole}; lines: 95%, {interval}"
    base = alt.Chart(data).encode(
        y=alt.Y("item:N", sort=None, title=None, axis=alt.Axis(ticks=False, domain=False, labelPadding=6))
    )
    x = alt.X("share:Q", title=title, scale=alt.Scale(zero=True))
    tooltip = [
        alt.Tooltip("item:N", title=ITEM_COLUMNS[what][0]),
        *(alt.Tooltip(f"{name}:Q", format=".1f", title=f"{name}, %") for name in ("share", "low", "high")),
    ]
    bars = base.mark_bar(color=_BARS[ink], size=_ROW * 0.65).encode(x=x, tooltip=tooltip)
    lines = base.mark_rule(color=ink, strokeWidth=1.5).encode(x="low:Q", x2="high:Q")
    return (bars + lines).properties(width=_WIDTH, height=alt.Step(_ROW))


def _heat(alt: Any, made: Surveyed, table: pd.DataFrame, ink: str) -> Any:
    """Transitions: how many in a hundred chords on the left go on to the chord above, the darker the more."""
    import pandas as pd

    order = _chords(made, table)
    counted = {(row["from"], row["to"]): row for row in table.to_dict("records")}
    grid = [(one, other) for one in order for other in order]
    data = pd.DataFrame(grid, columns=["from", "to"])
    data["times"] = [counted[pair]["times"] if pair in counted else 0 for pair in grid]
    data["share"] = [100 * counted[pair]["from_share"] if pair in counted else 0.0 for pair in grid]
    data["said"] = [f"{share:.0f}" if share >= 0.5 else "" for share in data["share"]]
    base = alt.Chart(data).encode(
        x=alt.X(
            "to:N",
            sort=order,
            scale=alt.Scale(domain=order),
            title="to",
            axis=alt.Axis(orient="top", labelAngle=0, ticks=False, domain=False),
        ),
        y=alt.Y(
            "from:N",
            sort=order,
            scale=alt.Scale(domain=order),
            title="from, in % of its transitions",
            axis=alt.Axis(ticks=False, domain=False),
        ),
        tooltip=[
            alt.Tooltip("from:N"),
            alt.Tooltip("to:N"),
            alt.Tooltip("times:Q", format=","),
            alt.Tooltip("share:Q", format=".1f", title="% of from"),
        ],
    )
    shade = alt.Scale(domain=[0, 60], range=[PAPER, "#1a1a1a"], clamp=True)
    cells = base.mark_rect(stroke=_EDGE, strokeWidth=0.5).encode(color=alt.Color("share:Q", scale=shade, legend=None))
    dark = alt.condition(alt.datum.share > 28, alt.value(PAPER), alt.value("#111111"))
    words = base.mark_text(fontSize=11).encode(text="said:N", color=dark)
    wide = _CELL if made.question.strength is Strength.LOOSE else _WIDE_CELL
    return (cells + words).properties(width=alt.Step(wide), height=alt.Step(_CELL * 0.8))


def _chords(made: Surveyed, table: pd.DataFrame) -> list[str]:
    """The chords along both sides: roots in their order, else the commonest chords."""
    if made.question.strength is Strength.LOOSE:
        used = {*table["from"], *table["to"]}
        return [root for root in (*ROOTS, *ROMAN_ROOTS) if root in used]
    times = table.groupby("from")["times"].sum().add(table.groupby("to")["times"].sum(), fill_value=0)
    return [str(name) for name in times.sort_values(ascending=False, kind="stable").head(MOST_CHORDS).index]


def _dots(alt: Any, made: Surveyed, limit: int, ink: str) -> Any:
    """Two groups, the clearest differences on top: a dot and a diamond on one line."""
    import pandas as pd

    shown = shown_rows(made, min(limit or MOST_ROWS, MOST_ROWS))
    names = [f"{name} ({plural(charts, 'tune')})" for name, charts in made.groups.items()]
    labels = _labels(made, shown)
    ends = pd.DataFrame({"item": labels, "first": 100 * shown["share_1"], "second": 100 * shown["share_2"]})
    parts = [
        pd.DataFrame({"item": labels, "group": name, "share": 100 * shown[f"share_{side}"]})
        for side, name in enumerate(names, 1)
    ]
    what = made.question.what
    title = (
        f"% of {'tunes' if what.of_tunes else f'all {counted_things(what)}'} of the group; clearest difference first"
    )
    y = alt.Y("item:N", sort=labels, title=None, axis=alt.Axis(ticks=False, domain=False, labelPadding=14))
    lines = alt.Chart(ends).mark_rule(color=_EDGE, strokeWidth=1.5).encode(x="first:Q", x2="second:Q", y=y)
    legend = alt.Legend(title=None, orient="top", symbolStrokeWidth=1.5, labelLimit=320)
    dots = (
        alt.Chart(pd.concat(parts))
        .mark_point(size=90, opacity=1, stroke=ink, strokeWidth=1.5)
        .encode(
            x=alt.X("share:Q", title=title, scale=alt.Scale(zero=True)),
            y=y,
            shape=alt.Shape("group:N", scale=alt.Scale(domain=names, range=["circle", "diamond"]), legend=legend),
            fill=alt.Fill(
                "group:N", scale=alt.Scale(domain=names, range=[ink, PAPER if ink == INK else INK]), legend=legend
            ),
            tooltip=["item:N", "group:N", alt.Tooltip("share:Q", format=".1f", title="%")],
        )
    )
    return (lines + dots).properties(width=_WIDTH, height=alt.Step(_ROW + 2))

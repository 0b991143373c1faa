"""A tune as another notation brought it: the chart made of it, or why there is none.

Conventions: a source holds one tune or several; they are numbered as the source numbers them, a lone tune is ``1``. A
chord that cannot be read costs only itself: silence stands in its place and a remark says where and why. Lines and
columns are those of the source.
"""

from __future__ import annotations

from dataclasses import dataclass

from shared.chart import Chart
from shared.errors import Fault


@dataclass(frozen=True, slots=True)
class ForeignTune:
    """One tune of a source in another notation.

    Attributes:
        number: Its number in the source, ``1`` for a source of one tune.
        title: Its title, None where the source gives none.
        chart: The chart; None where the tune cannot be read at all.
        faults: Why there is no chart; empty where there is one.
        remarks: What was left out or read otherwise than written, in the order of the text.
    """

    number: str
    title: str | None
    chart: Chart | None
    faults: tuple[Fault, ...] = ()
    remarks: tuple[Fault, ...] = ()

"""What is remarked on the written key of a chart, of the tune that it stands for."""

from __future__ import annotations

from corpus.key_remarks import InOneKey, key_remarks
from shared.chart import Chart
from shared.errors import Fault
from shared.tune import Tune


def key_remark(chart: Chart, tune: Tune) -> Fault | None:
    """What is worth saying about the written key of a chart that is played as ``tune``; None where nothing is."""
    if len(tune.segments) != 1:
        return None
    first, last = (event.chord.root.pitch_class for event in (tune.events[0], tune.events[-1]))
    (remark,) = key_remarks([InOneKey(chart, len(tune.events), first, last)])
    return remark

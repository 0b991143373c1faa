"""What is remarked on the written key of a chart, of the tune that it stands for."""

from __future__ import annotations

import numpy as np

from corpus.key_remarks import key_remarks
from shared.chart import Chart
from shared.errors import Fault
from shared.tune import Tune


def key_remark(chart: Chart, tune: Tune) -> Fault | None:
    """What is worth saying about the written key of a chart that is played as ``tune``; None where nothing is."""
    if len(tune.segments) != 1:
        return None
    ends = [event.chord.root.pitch_class for event in (tune.events[0], tune.events[-1])]
    (remark,) = key_remarks([chart], np.array([len(tune.events)]), np.array([ends]), np.array([np.nan]))
    return remark

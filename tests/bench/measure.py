"""Prints what the main job costs, as ratios within one run; nothing is asserted.

    python tests/bench/measure.py --charts 5000 --library 100000

Read the ratios, not the seconds: they hold from one machine to another far better.
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from grammar.bench_access import bare_parse
from grammar.charts import read_chart
from search.asking import answer, ask

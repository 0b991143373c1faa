"""The helper process of ``corpus.gathering``: reads what it is told to, until its pipe is closed.

Conventions: standard input brings the library with the folder of the parsers'
tables, and then lists of files, standard output takes what became of them, one
pickle each; whatever else would be printed goes to standard error.
"""

from __future__ import annotations

import gc
import os
import pickle
import sys
from contextlib import suppress

from corpus.gathering import gather
from grammar.parsers import keep_in


def help_out() -> None:
    """Reads files until there are no more."""
    gc.disable()
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    library, folder = pickle.load(sys.stdin.buffer)
    if folder is not None:
        keep_in(folder)
    # A pipe that is closed, at either end, means that nobody waits for an answer any more.
    with suppress(EOFError, BrokenPipeError):
        while True:
            files = pickle.load(sys.stdin.buffer)
            pickle.dump(gather(library, files), answers, pickle.HIGHEST_PROTOCOL)
            answers.flush()

"""The options of ``find`` that widen or narrow a question by more than filters: near versions and other patterns."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from shared.errors import SamechangesError

if TYPE_CHECKING:
    from search.asking import Asked
    from shared.pattern import Pattern


def widened(asked: Asked, options: dict[str, Any]) -> Asked:
    """A question with its near versions, the patterns asked for and ruled out beside it, and the bars of context.

    Raises:
        ReadingError: If a pattern cannot be read, or has no near versions.
        SamechangesError: If a rule that no pattern says is asked for in this way.
    """
    near, context = options["near"], options["context"] or 0
    if near:
        from search.nearness import refuse_open

        if not asked.question.pattern.parts:
            raise SamechangesError("near versions are of patterns; this progression is told by a rule")
        refuse_open(asked.question.pattern)
    also, without = (tuple(_counted(text, asked) for text in options[name]) for name in ("also", "without"))
    if (also or without) and not asked.question.pattern.parts:
        raise SamechangesError("--and and --not go with patterns; this progression is told by a rule")
    question = replace(asked.question, near=near, also=also, without=without, totals=options["totals"], context=context)
    return replace(asked, question=question)


def _counted(text: str, asked: Asked) -> Pattern:
    """Another pattern of the same question: one of chord names is counted in the key that the first was."""
    from grammar.patterns import read_pattern

    pattern = read_pattern(text).pattern
    if not pattern.named:
        return pattern
    if asked.key is None:
        raise SamechangesError(f"“{text}” has chord names: give numbers, or chord names in the first pattern too")
    return replace(pattern, parts=pattern.counted(asked.key.tonic).parts, named=False)

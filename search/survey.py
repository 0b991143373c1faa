"""The survey: how common chords, progressions, keys and forms are in a library, by group, and two groups compared.

Conventions:
    * Tables are pandas data frames. ``times`` counts as played, ``charts`` counts tunes.
    * ``share`` is the share of everything counted: of all chords, sequences, transitions (of those before or after the
      chord asked about) or cadences in the group; for keys, modes, lengths and metres the share of its tunes.
      ``share_low`` and ``share_high`` are its 95% interval by the bootstrap over tunes, for the commonest items.
    * ``of_tunes`` is the share of the group's tunes that have the item at all; ``low`` and ``high`` are its 95% Wilson
      interval.
    * Shares lie between 0 and 1.

    >>> from search.survey import survey                                             # doctest: +SKIP
    >>> survey("charts", "sequences", length=4, by="style")                          # doctest: +SKIP
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from corpus.library import Library
from corpus.reading import OpenIndex, open_index
from grammar.patterns import read_pattern
from search.filters import Filters
from search.survey_counts import ALL, MOST_ITEMS, Counting, Tallies, What
from search.survey_groups import IN_ORDER, Grouped, grouped, in_order, values_by
from search.survey_tables import compared, counted
from search.survey_tokens import Tokens
from shared.errors import ChoiceError, SamechangesError, nearest
from shared.pattern import Item, Strength
from shared.pitch import Degree

if TYPE_CHECKING:
    import pandas as pd

SHORTEST, LONGEST, USUAL_LENGTH = 1, 8, 4
#: A survey of fewer tunes than this says so.
FEW_TUNES = 20
#: Whats that know strengths.
STRENGTHS = (What.SEQUENCES, What.TRANSITIONS, What.BEFORE, What.AFTER, What.CADENCES)
_NEIGHBOURS = (What.BEFORE, What.AFTER)
_TITLES = {
    What.ROOTS: "Chords by root",
    What.FAMILIES: "Chords by family",
    What.TRANSITIONS: "Transitions from chord to chord",
    What.CADENCES: "Cadences, as sections end",
    What.KEYS: "Keys",
    What.MODES: "Modes",
    What.LENGTHS: "Lengths in bars as written",
    What.METRES: "Metres",
}
_COMPARED = {
    Strength.LOOSE: "by roots",
    Strength.FAMILY: "by roots and families",
    Strength.EXACT: "by the very chords",
}


@dataclass(frozen=True, slots=True)
class SurveyQuestion:
    """What is surveyed.

    Attributes:
        what: What is counted.
        length: How many chords a sequence has, 1 to 8.
        strength: What counts as one chord: its root, its root and family, or the very chord.
        chord: For what comes before or after, the chord; else None.
        by: What tunes are grouped by, as the user says it; None for all in one group.
        against: Two values of ``by`` that are compared; None where groups are told side by side.
        filters: Which charts are asked.
    """

    what: What
    length: int = USUAL_LENGTH
    strength: Strength = Strength.LOOSE
    chord: Item | None = None
    by: str | None = None
    against: tuple[str, str] | None = None
    filters: Filters = field(default_factory=Filters)

    @property
    def title(self) -> str:
        """What is counted, in words."""
        if self.what is What.SEQUENCES:
            title = "Single chords" if self.length == 1 else f"Sequences of {self.length} chords"
        elif self.what in _NEIGHBOURS:
            title = f"Chords just {self.what.value} {self.chord.text if self.chord else ''}"
        else:
            title = _TITLES[self.what]
        return f"{title}, {_COMPARED[self.strength]}" if self.what in STRENGTHS else title

    @property
    def sentence(self) -> str:
        """The question as a plain sentence."""
        return ", ".join([self.title, *self.filters.sentences()])


@dataclass(frozen=True, slots=True)
class Surveyed:
    """The answer to a survey.

    Attributes:
        question: What was asked.
        charts: Tunes asked.
        groups: Tunes of each group, by its name; of the two compared, the first first. ``{"": charts}`` for one group.
        table: The counts (see ``survey``); all rows, the commonest first.
        notes: What a reader should know before trusting it, in sentences.
    """

    question: SurveyQuestion
    charts: int
    groups: dict[str, int]
    table: pd.DataFrame
    notes: tuple[str, ...]


def survey_question(
    what: str,
    *,
    length: int | None = None,
    strength: str | None = None,
    chord: str | None = None,
    by: str | None = None,
    against: Sequence[str] | None = None,
    filters: Filters | None = None,
) -> SurveyQuestion:
    """Makes a question of what a user says.

    Args:
        what: One of ``What``: roots, families, sequences and so on.
        length: For sequences, how many chords, 1 to 8; 4 where None.
        strength: For sequences, transitions, neighbours and cadences: loose (roots, where None), family or exact.
        chord: For before and after: the chord, as an item of a pattern; 1 where None. One with a quality is counted by
            families, one with a bass exactly, unless ``strength`` says otherwise.
        by: What tunes are grouped by: style, level, decade, key, mode, metre, tag or the name of a header.
        against: Two of its values, to be compared.
        filters: Which charts are asked.

    Raises:
        ChoiceError: If a name is none of those known.
        ReadingError: If the chord cannot be read.
        SamechangesError: If an option does not go with what is asked.
    """
    kind = _known(what, [each.value for each in What], "survey of")
    asked = What(kind)
    if length is not None and asked is not What.SEQUENCES:
        raise SamechangesError(f"a length is for sequences, not for {kind}")
    if length is not None and not SHORTEST <= length <= LONGEST:
        close = SHORTEST if length < SHORTEST else LONGEST
        raise ChoiceError(f"a sequence has {SHORTEST} to {LONGEST} chords, not {length}", [str(close)])
    if strength is not None and asked not in STRENGTHS:
        known = ", ".join(each.value for each in STRENGTHS)
        raise SamechangesError(f"a strength is for {known}, not for {kind}")
    if chord is not None and asked not in _NEIGHBOURS:
        raise SamechangesError(f"a chord is for before and after, not for {kind}")
    if against is not None and by is None:
        raise SamechangesError("two groups are compared by something: say by what, such as style or decade")
    chosen = Strength(_known(strength, [each.value for each in Strength], "strength")) if strength else None
    item = None
    if asked in _NEIGHBOURS:
        item, least = _chord(chord or "1")
        chosen = chosen or least
        if least is Strength.EXACT and chosen is not least:
            raise SamechangesError("a bass is looked at only at exact strength; leave the bass out, or ask for exact")
    pair = None if against is None else (against[0], against[1])
    return SurveyQuestion(asked, length or USUAL_LENGTH, chosen or Strength.LOOSE, item, by, pair, filters or Filters())


def _known(name: str, known: Sequence[str], kind: str) -> str:
    folded = name.strip().casefold()
    if folded not in known:
        raise ChoiceError(f"there is no {kind} “{name}”", nearest(name, known, 1) or known)
    return folded


def _chord(text: str) -> tuple[Item, Strength]:
    """The one chord that a text asks for, and the least strength that tells it from others on its root.

    Raises:
        ReadingError: If it cannot be read.
        SamechangesError: If it is not one chord, counted.
    """
    pattern = read_pattern(text).pattern
    items = list(pattern.items())
    if pattern.named or pattern.bars or len(pattern.parts) != 1 or len(items) != 1:
        raise SamechangesError(f"“{text}” is not one chord; expected a number or numeral, such as 1, 57 or ii")
    (item,) = items
    if not all(isinstance(one.root, Degree) for one in item.alternatives):
        raise SamechangesError(f"“{text}” names no root; expected a number or numeral, such as 1, 57 or ii")
    if any(one.bass is not None for one in item.alternatives):
        return item, Strength.EXACT
    plain = all(one.quality is None and one.third is None for one in item.alternatives)
    return item, Strength.LOOSE if plain else Strength.FAMILY


def answer_survey(index: OpenIndex, question: SurveyQuestion) -> Surveyed:
    """Surveys an index.

    Raises:
        ReadingError: If a filter cannot be read.
        ChoiceError: If tunes cannot be grouped so.
    """
    tokens = Tokens(question.strength)
    counting = Counting(index, question.filters, question.what, tokens, question.length, question.chord)
    groups = None if question.by is None else grouped(counting, question.by, question.against)
    grouping = ALL if groups is None else groups.grouping
    tallies = counting.tallies(grouping)
    if groups is not None and groups.names:
        # A group whose tunes are all in the other one too is empty.
        tallies.groups = {name: tallies.groups.get(name, 0) for name in groups.names}
        table = compared(counting, question, tokens, grouping, tallies)
    else:
        if groups is not None and groups.by in IN_ORDER:
            tallies.groups = dict(sorted(tallies.groups.items(), key=lambda each: in_order(each[0])))
        table = counted(counting, question, tokens, grouping, tallies, by=groups is not None)
    return Surveyed(question, tallies.charts, tallies.groups, table, tuple(_notes(question, tallies, groups)))


def group_values(index: OpenIndex, by: str, filters: Filters | None = None) -> list[str]:
    """The groups that tunes make, the largest first.

    Raises:
        ReadingError: If a filter cannot be read.
        ChoiceError: If tunes cannot be grouped so.
    """
    return values_by(Counting(index, filters or Filters(), What.ROOTS, Tokens(Strength.LOOSE)), by)


def _notes(question: SurveyQuestion, tallies: Tallies, groups: Grouped | None) -> list[str]:
    """What a reader should know before trusting the counts."""
    notes = []
    few = {name: charts for name, charts in tallies.groups.items() if charts < FEW_TUNES}
    if few and tallies.charts:
        said = ", ".join(f"{name} {charts}" for name, charts in list(few.items())[:8] if name)
        which = f"Few tunes ({said}{', …' if len(few) > 8 else ''})" if said else f"Few tunes ({tallies.charts})"
        notes.append(f"{which}: under {FEW_TUNES}, a tune more or less changes much; go by the intervals.")
    if groups is not None:
        notes += _left_out(tallies, groups)
    if tallies.items > MOST_ITEMS:
        notes.append(f"The {MOST_ITEMS:,} commonest of {tallies.items:,} are told.")
    if question.against is not None and len(tallies.rows):
        notes.append(
            "q is p corrected for the number of rows compared (Benjamini and Hochberg). Both take every count for "
            "itself, but the chords of one tune go together, and so do tunes by one writer: p and q are surer than "
            "they should be. The interval of the difference comes from drawing whole tunes anew (bootstrap); trust a "
            "difference where q is small and that interval leaves out 0."
        )
    return notes


def _left_out(tallies: Tallies, groups: Grouped) -> list[str]:
    """Notes on tunes that are in no group."""
    notes = []
    if groups.names:
        if groups.in_both:
            notes.append(f"{groups.in_both:,} tunes are both {' and '.join(groups.names)}; they are left out of both.")
        return notes
    if tallies.more_groups:
        notes.append(f"The {len(tallies.groups)} largest groups are told; {tallies.more_groups} smaller ones are not.")
    without = tallies.charts - groups.having
    if without:
        notes.append(f"{without:,} of {tallies.charts:,} tunes have no {groups.by} and are left out.")
    return notes


def survey(
    library: OpenIndex | str | Path,
    what: str,
    *,
    length: int | None = None,
    strength: str | None = None,
    chord: str | None = None,
    by: str | None = None,
    against: Sequence[str] | None = None,
    filters: Filters | None = None,
) -> pd.DataFrame:
    """Surveys a library; for notebooks.

    Args:
        library: An open index, or the folder of a library (its index is made where there is none).
        what: roots, families, sequences, transitions, before, after, cadences, keys, modes, lengths or metres.
        length: For sequences, how many chords, 1 to 8; 4 where None.
        strength: loose (roots, where None), family or exact: what counts as one chord.
        chord: For before and after, the chord; 1 where None.
        by: What tunes are grouped by: style, level, decade, key, mode, metre, tag or the name of a header.
        against: Two of its values, to be compared.
        filters: Which charts are asked.

    Returns:
        One row an item (and group), the commonest first. The columns of an item are ``root``; ``family``; ``numbers``
        (a list); ``from`` and ``to``; ``chord``; ``from``, ``to`` and ``cadence``; ``key``; ``mode``; ``bars``;
        ``metre``. Beside them

        ================================  =============================================================================
        ``group``, ``group_charts``       with ``by``: the group, and its tunes
        ``times``                         how often, as played (not for keys, modes, lengths, metres)
        ``share``                         share of everything counted in the group, 0 to 1
        ``share_low``, ``share_high``     its 95% interval, bootstrap over tunes, for the 200 commonest
        ``from_share``                    for transitions: the share of what follows ``from``
        ``charts``                        tunes that have it
        ``of_tunes``                      their share of the group's tunes, 0 to 1
        ``low``, ``high``                 its 95% Wilson interval
        ================================  =============================================================================

        With ``against``, counts have ``_1`` and ``_2`` behind their names for the two groups, and there are

        ================================  =============================================================================
        ``difference``                    share in the first group less share in the second
        ``difference_low`` and ``_high``  its 95% interval, bootstrap over tunes, for the 200 commonest
        ``g2``, ``p``, ``q``              G² of the counts, its chance, and that corrected by Benjamini and Hochberg
        ``log_odds``, ``z``               log-odds ratio with a Dirichlet prior of 0.5 an item, and its z-score
        ================================  =============================================================================

        ``attrs`` holds ``charts`` (tunes asked), ``groups`` (tunes of each) and ``notes`` (what to know before
        trusting it).

    Raises:
        ReadingError: If a filter or the chord cannot be read.
        ChoiceError: If a name is none of those known.
        SamechangesError: If an option does not go with what is asked, or the library cannot be read.
    """
    question = survey_question(
        what, length=length, strength=strength, chord=chord, by=by, against=against, filters=filters
    )
    if isinstance(library, OpenIndex):
        made = answer_survey(library, question)
    else:
        with open_index(Library(Path(library))) as opened:
            made = answer_survey(opened, question)
    made.table.attrs.update(charts=made.charts, groups=made.groups, notes=list(made.notes))
    return made.table

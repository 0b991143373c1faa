"""Answers as plain text, as a teacher reads them in a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from grammar.symbols import read_numeral
from shared.errors import Fault
from shared.match import Answer, Count, Hit, Place, Reach
from ui.concordance import concordance_lines

if TYPE_CHECKING:
    from corpus.adding import Added
    from corpus.index import PlacedFault, Report
    from search.asking import Asked
    from ui.showing import Finding, ShownBar, ShownChord, ShownTune

_BARS_A_LINE = 4
_REMARKS = 10
_COUNTS = {Count.TONIC: "", Count.RELATIVE: ", counted from the relative major"}


def plural(number: int, one: str, many: str = "") -> str:
    """A number with its noun: ``1 tune``, ``3 tunes``."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def fault_text(fault: Fault, path: str = "") -> str:
    """A fault with its place, the line, a mark under the place, and what would have been right."""
    place = ":".join(str(each) for each in (path, fault.line, fault.column) if each) if path else ""
    lines = [f"{place}: {fault.message}" if place else fault.message]
    lines += [f"    {line}" for line in fault.drawn().splitlines()]
    if fault.expected:
        lines.append(f"    expected {fault.expected}")
    if fault.nearest:
        lines.append(f"    nearest: {fault.nearest}")
    return "\n".join(lines)


def index_text(report: Report, every_remark: bool) -> str:
    """The summary of an index run."""
    done = f"{report.read} read, {report.unchanged} unchanged, {report.removed} removed"
    lines = [f"{plural(report.charts, 'chart')} in the index ({done}) in {report.seconds:.1f} s."]
    if report.charts == 0 and not report.faults:
        lines.append("The folder holds no charts yet: every .txt file in it is read as one.")
    if report.faults:
        files = len({each.path for each in report.faults})
        lines += ["", f"{plural(files, 'chart')} left out, with {plural(len(report.faults), 'fault')}:"]
        lines += _faults(report.faults)
    if report.remarks:
        lines += ["", f"{plural(len(report.remarks), 'remark')} on charts that were read:"]
        few = report.remarks if every_remark else report.remarks[:_REMARKS]
        lines.append(remarks_text(few))
        if len(few) < len(report.remarks):
            lines.append(f"… and {len(report.remarks) - len(few)} more (--remarks shows all)")
    return "\n".join(lines)


def remarks_text(remarks: Iterable[PlacedFault]) -> str:
    """Remarks, a line each."""
    places = ((each, f"{each.path}:{each.fault.line}" if each.fault.line else each.path) for each in remarks)
    return "\n".join(f"{place}: {each.fault.sentence}" for each, place in places)


def add_text(done: Added) -> str:
    """What adding did."""
    counts = ((done.added, "added"), (done.replaced, "replaced"), (done.skipped, "in the library already"))
    lines = [", ".join(f"{plural(count, 'tune')} {what}" for count, what in counts if count) or "No tune was added"]
    lines[0] += "."
    lines += done.charts
    if done.faults:
        lines += ["", f"{plural(len(done.faults), 'fault')}:", *_faults(done.faults)]
    if done.remarks:
        lines += ["", f"{plural(len(done.remarks), 'remark')} on tunes that were added:", remarks_text(done.remarks)]
    return "\n".join(lines)


def _faults(placed: Iterable[PlacedFault]) -> list[str]:
    return [fault_text(each.fault, each.path) for each in placed]


def find_text(asked: Asked, answer: Answer, roman: bool = False, by: str = "best", wider: bool = True) -> str:
    """An answer to a search: what was searched first, then every tune with its places.

    Args:
        asked: The question.
        answer: The answer.
        roman: Whether Roman numerals stand under the chords.
        by: The order of concordance lines, where context is asked for.
        wider: Whether options that find more are offered where nothing is found.
    """
    lines = [answer.said]
    if answer.key is not None:
        others = f" It could also be read in {_listed(map(str, answer.others))}." if answer.others else ""
        numbers = " ".join(item_numbers(asked))
        lines.append(f"Counted in {answer.key}: {numbers}.{others}")
    lines += [fault.sentence[:1].upper() + fault.sentence[1:] + "." for fault in asked.remarks]
    if not answer.charts:
        lines.append("No tune has it.")
        if wider and asked.question.reach is Reach.KEY and asked.question.pattern.parts:
            lines.append("About any tonal centre: --anywhere. By roots alone: --strength loose.")
        return "\n".join(lines)
    lines.append(f"{plural(answer.charts, 'tune')}, {plural(answer.matches, 'time')} as played.")
    if asked.question.totals:
        return "\n".join(lines)
    if asked.question.context:
        lines += ["", *concordance_lines(answer, by, roman)]
    else:
        for hit in answer.hits:
            lines += ["", *_hit(hit, roman)]
    hidden = answer.charts - len({hit.path for hit in answer.hits})
    if hidden:
        lines += ["", f"… and {plural(hidden, 'tune')} more (--limit 0 shows all)"]
    return "\n".join(lines)


def item_numbers(asked: Asked) -> list[str]:
    """The items of a pattern of chord names, counted."""
    from shared.pitch import Degree
    from shared.quality_names import quality_name

    numbers = []
    for item in asked.question.pattern.items():
        one = item.alternatives[0]
        root = str(one.root) if isinstance(one.root, Degree) else ""
        quality = quality_name(one.quality) if one.quality is not None else ""
        numbers.append(f"{root}{quality}{f'/{one.bass}' if one.bass else ''}" or "_")
    return numbers


def _listed(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


def _hit(hit: Hit, roman: bool) -> list[str]:
    lines = [f"{hit.title}, in {hit.key}{_COUNTS[hit.count]}   ({hit.path})"]
    lines += [f"  {', '.join(hit.why)}"] if hit.why else []
    for place in hit.places:
        lines.append(f"  {place_words(place)}")
        numbers = [read_numeral(number).roman for number in place.numbers] if roman else place.numbers
        lines += [f"    {line}" for line in aligned([place.chords, numbers])]
        lines += [f"    {difference}" for difference in place.differs]
    return lines


def place_words(place: Place) -> str:
    """Where a place is, in words: ``A, bars 1 to 4, 3 times``."""
    bars = f"bar {place.from_bar}" if place.from_bar == place.to_bar else f"bars {place.from_bar} to {place.to_bar}"
    section = f"{place.section}, " if place.section else ""
    if place.to_bar < place.from_bar:
        bars = f"bar {place.from_bar} on into bar {place.to_bar}"
    return f"{section}{bars}{f', {place.times} times' if place.times > 1 else ''}"


def aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows of words in columns."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  ".join(word.ljust(width) for word, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def show_text(tune: ShownTune, style: str, facts: Sequence[str], in_rival: bool = False) -> str:
    """A whole tune as written: four bars a line, numbers or numerals under the chords.

    Args:
        tune: The tune.
        style: ``numbers``, ``roman`` or ``chords`` (letters alone).
        facts: What stands behind the key in the second line.
        in_rival: Whether it is read in the rival of the key that was found.
    """
    option = "leave --rival out" if in_rival else "--rival"
    lines = [tune.title, ", ".join([f"in {tune.key}{_found_said(tune.finding, option)}", *facts])]
    key, metre = tune.key, tune.bars[0].metre if tune.bars else ""
    for (label, _), bars in groupby(tune.bars, key=lambda bar: (bar.section, bar.measured)):
        block: list[str | list[ShownBar]] = ["", f"[{label}]"] if label else [""]
        for bar in bars:
            changed = [f"key: {bar.key}{_found_said(bar.finding)}"] if bar.key != key else []
            changed += [f"time: {bar.metre}"] if bar.metre != metre else []
            key, metre = bar.key, bar.metre
            run = block[-1]
            if isinstance(run, str) or changed or len(run) == _BARS_A_LINE or not bar.measured:
                block += [*changed, run := []]
            run.append(bar)
            if bar.words:
                block += [f"     {line}" for line in bar.words.splitlines()]
        lines += _block_lines(block, style)
    return "\n".join(lines)


def _found_said(finding: Finding | None, option: str = "") -> str:
    """How sure a key is that was found, and the next likeliest, with what shows the tune in it."""
    if finding is None:
        return ""
    way = f": {option}" if option else ""
    rival = f"; next {finding.rival}{way}" if finding.rival else ""
    return f" (found, {finding.chance:.0%} likely{rival})"


def _block_lines(block: Sequence[str | list[ShownBar]], style: str) -> list[str]:
    """The lines of a section; its bars stand in columns."""
    widths = [0] * _BARS_A_LINE
    for run in block:
        if not isinstance(run, str) and run[0].measured:
            for column, bar in enumerate(run):
                widths[column] = max(widths[column], *map(len, _bar_cells(bar, style)))
    lines: list[str] = []
    for run in block:
        lines += [run] if isinstance(run, str) else _bar_lines(run, style, widths)
    return lines


def _bar_lines(bars: Sequence[ShownBar], style: str, widths: Sequence[int]) -> list[str]:
    cells = [_bar_cells(bar, style) for bar in bars]
    lines = []
    for row in range(len(cells[0])):
        lead = f"{bars[0].bar:>4} " if row == 0 else " " * 5
        if bars[0].measured:
            inner = " | ".join(cell[row].ljust(width) for cell, width in zip(cells, widths, strict=False))
            lines.append(f"{lead}| {inner} |")
        else:
            lines.append(f"{lead}{cells[0][row]}".rstrip())
    return lines


def _bar_cells(bar: ShownBar, style: str) -> list[str]:
    if not bar.chords:
        return ["N.C."] if style == "chords" else ["N.C.", ""]
    names = [each.name for each in bar.chords]
    return aligned([names]) if style == "chords" else _padded(aligned([names, counted(bar.chords, style)]))


def _padded(lines: list[str]) -> list[str]:
    width = max(map(len, lines))
    return [line.ljust(width) for line in lines]


def counted(chords: Sequence[ShownChord], style: str) -> list[str]:
    """The chords as numbers or Roman numerals."""
    return [each.numeral.roman if style == "roman" else each.numeral.number for each in chords]

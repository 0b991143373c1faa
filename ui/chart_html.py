"""Bars, chords and faults as HTML.

Conventions: every text that comes from a chart, a file name or a user is escaped here and nowhere else; callers pass
plain text. Class names begin with ``sc-`` and are styled in ``ui.page_style``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from html import escape
from itertools import groupby

from shared.errors import Fault


@dataclass(frozen=True, slots=True)
class ChordBox:
    """A chord as it is drawn.

    Attributes:
        name: Its name; “N.C.” for silence.
        number: The number or Roman numeral under it; empty under silence.
        notes: Its notes, spelled, the bass first; empty where they are not shown.
        beats: How long it lasts, in beats.
        held: Whether it is carried into the bar.
        taken: Whether a match takes it.
        column: Its column above words, from 1; else 0.
    """

    name: str
    number: str = ""
    notes: str = ""
    beats: Fraction = Fraction(1)
    held: bool = False
    taken: bool = False
    column: int = 0


@dataclass(frozen=True, slots=True)
class BarBox:
    """A bar as it is drawn.

    Attributes:
        bar: Its number as written.
        chords: What sounds in it.
        label: The label of a section that begins here; empty elsewhere.
        signs: What is said at its head: a new key or metre, “%”, the number of an ending.
        opens: Whether a repeat begins with it.
        closes: How often the repeat that ends with it is played; 0 where none ends.
        words: The words under it.
        measured: Whether the lengths of the chords are known; where not, the bar is a line of chords above words.
        starts_line: Whether it stands first on its line.
        matched: Whether a match goes through it.
        match_starts: Whether a match begins in it.
        match_ends: Whether a match ends in it.
    """

    bar: int
    chords: tuple[ChordBox, ...]
    label: str = ""
    signs: tuple[str, ...] = ()
    opens: bool = False
    closes: int = 0
    words: str = ""
    measured: bool = True
    starts_line: bool = False
    matched: bool = False
    match_starts: bool = False
    match_ends: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a line of words and the chord above its first letter, if any."""

    text: str
    chord: ChordBox | None = field(default=None)


def element(tag: str, text: str, style: str = "") -> str:
    """One element holding plain text."""
    return f'<{tag} class="{style}">{escape(text)}</{tag}>' if style else f"<{tag}>{escape(text)}</{tag}>"


def bars_html(boxes: Sequence[BarBox], columns: int = 4) -> str:
    """Bars in rows of ``columns``, fewer where the screen is narrow."""
    inner = "".join(_bar(box) + _words_below(box) for box in boxes)
    return f'<div class="sc-strip"><div class="sc-bars sc-cols-{columns}">{inner}</div></div>'


def columns_for(boxes: Sequence[BarBox]) -> tuple[int, bool]:
    """How many bars make a row, and whether rows follow the lines of the chart.

    Lines of three to six bars are kept; longer ones are broken after four, and shorter ones are joined.
    """
    lengths: list[int] = []
    for box in boxes:
        if box.starts_line or not lengths:
            lengths.append(0)
        lengths[-1] += 1
    longest = max(lengths, default=0)
    return (longest if 3 <= longest <= 6 else 4), longest >= 3


def _bar(box: BarBox) -> str:
    marks = {
        "sc-open": box.opens,
        "sc-close": bool(box.closes),
        "sc-wide": not box.measured,
        "sc-line": box.starts_line,
        "sc-match": box.matched,
        "sc-from": box.match_starts,
        "sc-to": box.match_ends,
    }
    classes = " ".join(("sc-bar", *(name for name, on in marks.items() if on)))
    label = element("span", box.label, "sc-label") if box.label else ""
    signs = "".join(element("span", sign, "sc-sign") for sign in box.signs)
    closing = element("span", f"×{box.closes}", "sc-sign sc-end") if box.closes > 2 else ""
    said = element("span", "in the match", "sc-unseen") if box.matched else ""
    number = element("span", str(box.bar), "sc-number")
    head = f'<div class="sc-head">{label}{number}{signs}{said}{closing}</div>'
    body = _line_above_words(box) if box.words and not box.measured else _cells(box)
    return f'<div class="{classes}">{head}{body}</div>'


def _cells(box: BarBox) -> str:
    cells = "".join(
        f'<span class="sc-cell" style="flex-grow:{float(c.beats):g}">{_chord(c)}</span>' for c in box.chords
    )
    return f'<div class="sc-cells">{cells}</div>'


def _chord(chord: ChordBox) -> str:
    marks = ("sc-chord", *(["sc-held"] if chord.held else []), *(["sc-taken"] if chord.taken else []))
    notes = element("span", chord.notes, "sc-notes") if chord.notes else ""
    number = element("span", chord.number or "\xa0", "sc-degree")
    return f'<span class="{" ".join(marks)}">{_name(chord.name)}{number}{notes}</span>'


def _name(name: str) -> str:
    """A chord's name; where it is too long for its bar, it is broken before its bass."""
    return f'<span class="sc-name">{escape(name).replace("/", "<wbr>/")}</span>'


def _words_below(box: BarBox) -> str:
    return element("div", box.words, "sc-words") if box.measured and box.words else ""


def _line_above_words(box: BarBox) -> str:
    """A line of chords above its words: pieces that begin where a chord stands, kept together within a word."""
    first, _, rest = box.words.partition("\n")
    pieces = pieces_of(first, box.chords)
    runs = []
    for _, run in groupby(enumerate(_runs(pieces)), key=lambda each: each[1]):
        runs.append("".join(_piece(pieces[number]) for number, _ in run))
    inner = "".join(f'<span class="sc-run">{run}</span>' for run in runs)
    return f'<div class="sc-sung">{inner}{element("div", rest, "sc-words") if rest else ""}</div>'


def pieces_of(words: str, chords: Iterable[ChordBox]) -> list[Piece]:
    """A line of words cut where chords stand above it.

    >>> [piece.text for piece in pieces_of("Silent night", [ChordBox("Bb", column=8)])]
    ['Silent ', 'night']
    """
    chords = sorted(chords, key=lambda chord: chord.column)
    lead = words[: max(0, chords[0].column - 1)] if chords else words
    pieces = [Piece(lead)] if lead.strip() else []
    for chord, after in zip(chords, [*chords, None][1:], strict=True):
        start = max(0, chord.column - 1)
        pieces.append(Piece(words[start:] if after is None else words[start : max(0, after.column - 1)], chord))
    return pieces


def _runs(pieces: Sequence[Piece]) -> Iterable[int]:
    """For each piece the run it belongs to: pieces that meet inside a word are one run."""
    run = 0
    for number, piece in enumerate(pieces):
        before = pieces[number - 1].text if number else ""
        joined = bool(before and piece.text and not before[-1].isspace() and not piece.text[0].isspace())
        run += not joined
        yield run


def _piece(piece: Piece) -> str:
    chord = piece.chord or ChordBox("\xa0", held=True)
    return f'<span class="sc-piece">{_chord(chord)}{element("span", piece.text or " ", "sc-text")}</span>'


def chords_html(chords: Sequence[tuple[str, str, str]]) -> str:
    """A list of chords: name, numbers, notes."""
    items = "".join(
        f"<li>{_name(name)} {element('span', numbers, 'sc-degree')}{element('span', notes, 'sc-notes')}</li>"
        for name, numbers, notes in chords
    )
    return f'<ul class="sc-list">{items}</ul>'


def fault_html(fault: Fault, kind: str = "fault", path: str = "") -> str:
    """A fault or remark: the line with a mark under the place, and what would have been right.

    Args:
        fault: The fault.
        kind: ``fault`` or ``remark``.
        path: Its file, named with line and column; empty for a single line that the reader has just typed.
    """
    line = f", line {fault.line}" if fault.line else ""
    column = f", column {fault.column}" if fault.column else ""
    where = element("div", f"{path}{line}{column}", "sc-place") if path else ""
    drawn = element("pre", fault.drawn(), "sc-drawn") if fault.text else ""
    return f'<div class="sc-notice sc-{kind}">{where}{drawn}{_said(fault)}</div>'


def _said(fault: Fault) -> str:
    said = [element("span", _sentence(fault.message))]
    if fault.expected:
        said.append(f"Expected: {escape(_sentence(fault.expected, False))}")
    if fault.nearest:
        said.append(f"Nearest: {element('code', fault.nearest)}")
    return f'<div class="sc-said">{" ".join(said)}</div>'


def _sentence(text: str, capital: bool = True) -> str:
    text = text[:1].upper() + text[1:] if capital else text
    return text if text.endswith((".", "!", "?")) else f"{text}."


def notice_html(text: str, kind: str = "note") -> str:
    """A message of one or more lines."""
    return f'<div class="sc-notice sc-{kind}">{element("div", text, "sc-said")}</div>'


def listing_html(text: str, faults: Sequence[Fault], remarks: Sequence[Fault] = ()) -> str:
    """A text with its lines numbered and what is wrong marked under the place."""
    by_line: dict[int, list[tuple[Fault, str]]] = {}
    for kind, each in (("fault", faults), ("remark", remarks)):
        for fault in each:
            by_line.setdefault(fault.line, []).append((fault, kind))
    rows = [_marked_under("", fault, kind) for fault, kind in by_line.get(0, [])]
    for number, line in enumerate(text.splitlines(), 1):
        here = by_line.get(number, [])
        style = "sc-row sc-bad" if here else "sc-row"
        row = f"{element('span', str(number), 'sc-no')}{element('span', line or ' ', 'sc-src')}"
        rows.append(f'<div class="{style}">{row}</div>')
        rows += [_marked_under(line, fault, kind) for fault, kind in here]
    return f'<div class="sc-listing">{"".join(rows)}</div>'


def _marked_under(line: str, fault: Fault, kind: str) -> str:
    caret = ""
    if fault.column and line:
        lead = "".join("\t" if sign == "\t" else " " for sign in line[: fault.column - 1])
        room = max(1, min(fault.length, len(line) - fault.column + 1))
        caret = (
            f'<div class="sc-row">{element("span", "", "sc-no")}{element("span", lead + "^" * room, "sc-src")}</div>'
        )
    word = element("span", "Fault" if kind == "fault" else "Remark", "sc-kind")
    return f'{caret}<div class="sc-under sc-{kind}">{word} {_said(fault)}</div>'

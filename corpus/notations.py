"""The notations that can be added to a library: what they are called, how they are told apart, and their readers.

Conventions: a notation is told from the content of a file; its name serves only where the content leaves it open.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import PurePosixPath

from grammar.chart_text import write_chart
from shared.chart import Chart
from shared.foreign import ForeignTune

_HEAD = 20_000


@dataclass(frozen=True, slots=True)
class Notation:
    """A notation that is read.

    Attributes:
        name: What ``--as`` calls it.
        title: What it is, in words.
        suffixes: Endings of file names that usually hold it.
        looks: Whether the beginning of a file looks like it.
        read: Reads a file's bytes; never raises for anything in them.
    """

    name: str
    title: str
    suffixes: tuple[str, ...]
    looks: Callable[[bytes], bool]
    read: Callable[[bytes], tuple[ForeignTune, ...]]


def _text(content: bytes) -> str:
    """The text of a file: UTF-8, else the Western code page that older files are in."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def _lines(pattern: str) -> Callable[[bytes], bool]:
    compiled = re.compile(pattern.encode(), re.MULTILINE)
    return lambda content: compiled.search(content) is not None


def _read_abc(content: bytes) -> tuple[ForeignTune, ...]:
    from grammar.abc_tunes import read_abc

    return read_abc(_text(content))


def _read_billboard(content: bytes) -> tuple[ForeignTune, ...]:
    from grammar.billboard import read_billboard

    return read_billboard(_text(content))


def _read_roman_text(content: bytes) -> tuple[ForeignTune, ...]:
    from grammar.roman_text import read_roman_text

    return read_roman_text(_text(content))


def _read_musicxml(content: bytes) -> tuple[ForeignTune, ...]:
    from grammar.musicxml_reading import read_musicxml

    return read_musicxml(content)


def _read_jams(content: bytes) -> tuple[ForeignTune, ...]:
    from grammar.jams import read_jams

    return read_jams(_text(content))


NOTATIONS = (
    Notation(
        "musicxml",
        "MusicXML, plain or compressed",
        (".musicxml", ".mxl", ".xml"),
        lambda content: (
            content.startswith(b"PK\x03\x04") or re.search(rb"<score-(partwise|timewise)", content) is not None
        ),
        _read_musicxml,
    ),
    Notation(
        "jams",
        "JAMS, chord annotations in JSON",
        (".jams",),
        lambda content: content.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"{") and b'"annotations"' in content,
        _read_jams,
    ),
    Notation("abc", "ABC tune books", (".abc",), _lines(r"^X:\s*\d+"), _read_abc),
    Notation(
        "harte",
        "Harte chords in the text of the Billboard annotations",
        (),
        _lines(r"^# (tonic|metre):|^\d+(\.\d+)?\t.*\|"),
        _read_billboard,
    ),
    Notation("roman", "Roman text of harmonic analyses", (), _lines(r"^\s*\[[A-G][#b]?\]\s"), _read_roman_text),
)


#: Our own chart files: they are told apart so that nobody adds one by mistake.
CHART = Notation("chart", "chart files", (), _lines(r"^[^#\n]*\||^\[[^\]\n]+\]\s*$"), lambda _: ())


#: What a chart can be written out as.
WRITTEN = ("chart", "harte", "abc", "musicxml")


def written(chart: Chart, notation: str) -> str:
    """A chart as a text in one of the notations of ``WRITTEN``.

    Raises:
        ValueError: If the chart holds something that has no writing there.
    """
    if notation == "harte":
        from grammar.harte_text import write_harte_text

        return write_harte_text(chart)
    if notation == "abc":
        from grammar.abc_text import write_abc

        return write_abc(chart)
    if notation == "musicxml":
        from grammar.musicxml_text import write_musicxml

        return write_musicxml(chart)
    return write_chart(chart)


def sniffed(name: str, content: bytes) -> Notation | None:
    """The notation that a file is in, by its content first, else by its name; None where neither tells."""
    head = content[:_HEAD]
    for notation in (*NOTATIONS, CHART):
        if notation.looks(head):
            return notation
    suffix = PurePosixPath(name.casefold()).suffix
    return next((notation for notation in NOTATIONS if suffix in notation.suffixes), None)

"""Opens a MusicXML file, plain or compressed, without trusting it.

Conventions:
    * XML entities and external references are refused, a document type that only names the standard's is not read.
    * A compressed file is a zip archive whose ``META-INF/container.xml`` names the score. It is refused where it holds
      too much, is packed suspiciously tightly, or has a path that leads out of it; nothing is ever written to disk.
    * Every element knows its line in the XML text, from 1. Names are kept without their namespace.

Sources: W3C, MusicXML 4.0, "Compressed .MXL files"; the dangers are those listed by the documentation of defusedxml.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from io import BytesIO
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml.common import DefusedXmlException, EntitiesForbidden
from defusedxml.ElementTree import DefusedXMLParser

from shared.errors import Fault, ReadingError

#: The longest XML text, in bytes; the most elements; the deepest nesting.
MOST_BYTES = 16 * 1024 * 1024
MOST_ELEMENTS = 1_000_000
DEEPEST = 100
#: The most files in an archive, their size when unpacked, in bytes, and how many times smaller they may be packed.
MOST_ENTRIES = 500
MOST_UNPACKED = 64 * 1024 * 1024
TIGHTEST = 200
_CONTAINER = "META-INF/container.xml"
_SCORE_TYPES = ("", "application/vnd.recordare.musicxml+xml", "application/vnd.recordare.musicxml", "text/xml")
_ZIP = b"PK\x03\x04"
#: An archive smaller than this is never too tightly packed.
_SMALL = 1024 * 1024


class PlacedElement(Element):
    """An element that knows its line in the text, from 1."""

    line: int = 0


class _PlacedBuilder(TreeBuilder):
    """Builds the tree, and counts."""

    def __init__(self) -> None:
        super().__init__(element_factory=PlacedElement)
        self.position: object = None
        self._depth = self._count = 0

    def start(self, tag: str, attrs: dict[str, str], /) -> Element:
        """An element begins."""
        self._depth += 1
        self._count += 1
        if self._depth > DEEPEST or self._count > MOST_ELEMENTS:
            what = f"nested more than {DEEPEST} deep" if self._depth > DEEPEST else f"more than {MOST_ELEMENTS:,}"
            raise ReadingError([Fault(f"the elements of the file are {what}", line=self._line)])
        element = super().start(tag.rpartition("}")[2], attrs)
        assert isinstance(element, PlacedElement)
        element.line = self._line
        return element

    def end(self, tag: str, /) -> Element:
        """An element ends."""
        self._depth -= 1
        return super().end(tag.rpartition("}")[2])

    @property
    def _line(self) -> int:
        return int(getattr(self.position, "CurrentLineNumber", 0))


def line_of(element: Element) -> int:
    """The line on which an element begins, 0 where that is not known."""
    return element.line if isinstance(element, PlacedElement) else 0


def score_of(content: bytes) -> Element:
    """The root element of the score that a file holds.

    Args:
        content: The bytes of the file, plain or compressed.

    Raises:
        ReadingError: If there is none, or the file is not to be trusted.

    >>> score_of(b"<score-partwise/>").tag
    'score-partwise'
    """
    return _parsed(_unpacked(content) if content.startswith(_ZIP) else content)


def _parsed(text: bytes) -> Element:
    if len(text) > MOST_BYTES:
        raise _refused(f"the score has {len(text):,} bytes", f"at most {MOST_BYTES:,}")
    builder = _PlacedBuilder()
    parser = DefusedXMLParser(target=builder, forbid_dtd=False, forbid_entities=True, forbid_external=True)
    builder.position = parser.parser
    try:
        parser.feed(text)
        root = parser.close()
    except EntitiesForbidden as error:
        message = f"the file declares the XML entity “{str(error.name)[:40]}”, and such files are refused"
        raise ReadingError([Fault(message, line=parser.parser.CurrentLineNumber)]) from None
    except DefusedXmlException:
        message = "the file refers to something outside itself, and such files are refused"
        raise ReadingError([Fault(message, line=parser.parser.CurrentLineNumber)]) from None
    except ParseError as error:
        line, column = error.position
        reason = str(error).rpartition(":")[0]
        raise ReadingError([Fault(f"this is no well-formed XML: {reason}", line, column + 1)]) from None
    except (ValueError, LookupError) as error:
        raise _refused(f"this is no XML that can be read: {error}", "UTF-8 or UTF-16") from None
    assert isinstance(root, Element)
    return root


def _unpacked(content: bytes) -> bytes:
    """The text of the score in an archive."""
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            _check(archive)
            return _entry(archive, _rootfile(archive))
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError) as error:
        raise _refused(f"the archive cannot be unpacked: {error}", "a zip archive as MusicXML describes it") from None


def _check(archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    if len(entries) > MOST_ENTRIES:
        raise _refused(f"the archive holds {len(entries)} files", f"at most {MOST_ENTRIES}")
    for entry in entries:
        path = entry.orig_filename.replace("\\", "/")
        if path.startswith("/") or ".." in path.split("/") or ":" in path.split("/")[0] or "\0" in path:
            raise _refused(f"“{entry.orig_filename[:80]}” is a path that leads out of the archive")
    unpacked = sum(entry.file_size for entry in entries)
    packed = sum(entry.compress_size for entry in entries)
    if unpacked > MOST_UNPACKED:
        raise _refused(f"the archive unpacks to {unpacked:,} bytes", f"at most {MOST_UNPACKED:,}")
    if unpacked > max(_SMALL, packed * TIGHTEST):
        raise _refused(f"the archive is packed {unpacked // max(1, packed)} times smaller", f"at most {TIGHTEST} times")


def _rootfile(archive: zipfile.ZipFile) -> str:
    """The path of the score: the first root file of a type that a score has."""
    if _CONTAINER not in archive.namelist():
        raise _refused(f"the archive holds no {_CONTAINER}", "a compressed MusicXML file")
    container = _parsed(_entry(archive, _CONTAINER))
    for rootfile in container.iter("rootfile"):
        if rootfile.get("media-type", "") in _SCORE_TYPES and rootfile.get("full-path"):
            path = rootfile.get("full-path", "")
            if path not in archive.namelist():
                raise _refused(f"{_CONTAINER} names “{path[:80]}”, which the archive does not hold")
            return path
    raise _refused(f"{_CONTAINER} names no score", "a rootfile with a full-path")


def _entry(archive: zipfile.ZipFile, path: str) -> bytes:
    with archive.open(path) as file:
        text = file.read(MOST_BYTES + 1)
    if len(text) > MOST_BYTES:
        raise _refused(f"“{path[:80]}” unpacks to more than {MOST_BYTES:,} bytes")
    return text


def _refused(message: str, expected: str = "") -> ReadingError:
    return ReadingError([Fault(message, expected=expected)])


def texts(element: Element, path: str) -> Iterator[str]:
    """The texts of all elements at a path below an element, without white space at their ends, empty ones left out."""
    for found in element.iterfind(path):
        if text := " ".join("".join(found.itertext()).split()):
            yield text


def text_at(element: Element, path: str) -> str:
    """The first of these texts, empty where there is none."""
    return next(texts(element, path), "")

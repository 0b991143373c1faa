"""Tags, written into the chart files themselves: the ``tags:`` line changes and no other byte.

Conventions:
    * A tag is text without a comma; tags are compared without regard to case.
    * A new tag goes behind the last one, after a comma and a space. Where there is no ``tags:`` line, one is put in
      behind the last header, with that line's own ending; in a ``tags:`` line that says nothing, the tag follows the
      colon at once, so that it can be told from a line that was put in.
    * Taking a tag away takes the comma before it; taking away the only tag of a line that could have been put in takes
      the line. So ``untag`` leaves a file as it was before ``tag``, byte for byte.
    * Only charts without faults are tagged, and a change that alters anything but the tags is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from corpus.chart_files import read_bytes
from corpus.library import Library
from corpus.rewriting import rewrite
from corpus.saving import SavingError, refusal
from grammar.headers import Head, Named, named_line
from grammar.lines import sort_lines, split_lines
from shared.chart import Chart
from shared.errors import Fault, SamechangesError

LONGEST_TAG = 80
_LINE = re.compile(r"([^\r\n]*)(\r\n|\n|\r|$)")
_NAME = "tags"


class TaggingError(SamechangesError):
    """A tag cannot be written, or is none."""


@dataclass(frozen=True, slots=True)
class Tagged:
    """What tagging did.

    Attributes:
        changed: Paths of the charts that were changed.
        unchanged: Paths of those that had the tag already, or did not have it.
        faults: Paths of those that could not be changed, and why.
    """

    changed: tuple[str, ...]
    unchanged: tuple[str, ...]
    faults: tuple[tuple[str, Fault], ...]


def checked_tag(text: str) -> str:
    """A tag as typed, without spaces round it.

    Raises:
        TaggingError: If it cannot stand in a ``tags:`` line.

    >>> checked_tag("  spring recital ")
    'spring recital'
    """
    tag = text.strip().removeprefix("\ufeff").strip()
    if not tag:
        raise TaggingError("a tag needs letters, such as “spring recital”")
    if "," in tag:
        raise TaggingError(f"“{tag}” has a comma in it, and commas separate tags; write each tag by itself")
    if not all(sign.isprintable() for sign in tag):
        raise TaggingError(f"“{tag!a}” has signs in it that cannot stand in a line of text")
    if len(tag) > LONGEST_TAG:
        raise TaggingError(f"“{tag[:20]}…” has {len(tag)} letters, and {LONGEST_TAG} are the most")
    return tag


def tag_charts(library: Library, tags: Mapping[str, Sequence[str]]) -> Tagged:
    """Gives charts tags; see ``Tagged``.

    Args:
        library: The library.
        tags: For each chart, by path, the tags that it gets.

    Raises:
        SavingError: If the library can only be read; nothing has been tried then.
        TaggingError: If a tag is none.
    """
    return _each(library, tags, with_tag)


def untag_charts(library: Library, tags: Mapping[str, Sequence[str]]) -> Tagged:
    """Takes tags from charts; see ``tag_charts``."""
    return _each(library, tags, without_tag)


def _each(library: Library, tags: Mapping[str, Sequence[str]], change: Callable[[bytes, str], bytes]) -> Tagged:
    checked = {path: [checked_tag(tag) for tag in wanted] for path, wanted in tags.items()}
    if reason := refusal(library):
        raise SavingError(reason)
    changed: list[str] = []
    unchanged: list[str] = []
    faults: list[tuple[str, Fault]] = []
    for path, wanted in checked.items():

        def all_of(content: bytes, wanted: Sequence[str] = wanted) -> bytes:
            for tag in wanted:
                content = change(content, tag)
            return content

        try:
            (changed if rewrite(library, path, all_of) else unchanged).append(path)
        except SamechangesError as error:
            faults.append((path, Fault(str(error))))
    return Tagged(tuple(changed), tuple(unchanged), tuple(faults))


def with_tag(content: bytes, tag: str) -> bytes:
    """The content of a chart file with one more tag.

    Raises:
        TaggingError: If the chart has faults.

    >>> with_tag(b"title: A\\n\\n| C |", "easy")
    b'title: A\\ntags: easy\\n\\n| C |'
    """
    head = _read(content)
    if tag.casefold() in (each.casefold() for each in head.tags):
        return content
    if head.line is None:
        after = head.put_in(tag)
    elif not head.line.value:
        colon = head.starts[head.number] + head.texts[head.number].index(":") + 1
        after = f"{head.text[:colon]}{tag}{head.text[colon:]}"
    else:
        _, end = head.value_at
        after = f"{head.text[:end]}, {tag}{head.text[end:]}"
    return _checked(content, after)


def without_tag(content: bytes, tag: str) -> bytes:
    """The content of a chart file with one tag less.

    Raises:
        TaggingError: If the chart has faults.

    >>> without_tag(b"title: A\\ntags: easy\\n\\n| C |", "Easy")
    b'title: A\\n\\n| C |'
    """
    head = _read(content)
    if head.line is None or tag.casefold() not in (each.casefold() for each in head.tags):
        return content
    begin, end = head.value_at
    parts = head.text[begin:end].split(",")
    kept = [part for part in parts if part.strip().casefold() != tag.casefold()]
    if any(part.strip() for part in kept):
        # The first of those that stay keeps no space before it that stood behind a comma.
        first = kept[0] if kept[0] is parts[0] else kept[0].lstrip()
        after = head.text[:begin] + ",".join([first, *kept[1:]]) + head.text[end:]
    elif head.texts[head.number].lstrip("\ufeff") == f"{_NAME}: {head.line.value}":
        after = head.text[: head.starts[head.number] + head.mark] + head.text[head.starts[head.number + 1] :]
    else:
        after = head.text[:begin] + head.text[end:]
    return _checked(content, after)


@dataclass(frozen=True, slots=True)
class _ReadHead:
    """The head of a chart file.

    Attributes:
        text: The whole file.
        texts: Its lines, without their ends.
        starts: Where each of them starts, and the end of the file.
        number: The number of the ``tags:`` line, from 0, or of the last header; -1 where there is no header.
        line: The ``tags:`` line; None where there is none.
        mark: How many signs stand before the text proper in the line: 1 for a byte-order mark in the first one.
    """

    text: str
    texts: tuple[str, ...]
    starts: tuple[int, ...]
    number: int
    line: Named | None
    mark: int

    @property
    def tags(self) -> list[str]:
        value = "" if self.line is None else self.line.value
        return [tag.strip() for tag in value.split(",") if tag.strip()]

    @property
    def value_at(self) -> tuple[int, int]:
        """Where the value of the ``tags:`` line begins and ends."""
        assert self.line is not None
        begin = self.starts[self.number] + self.mark + self.line.value_at.column - 1
        return begin, begin + len(self.line.value)

    def put_in(self, tag: str) -> str:
        """The text with a ``tags:`` line behind the last header."""
        if self.number < 0:
            begin = self.text.startswith("\ufeff")
            return f"{self.text[:begin]}{_NAME}: {tag}{_ending(self.text)}{self.text[begin:]}"
        end = self.starts[self.number + 1]
        line = self.text[self.starts[self.number] : end]
        ending = line[len(self.texts[self.number]) :]
        if ending:
            return f"{self.text[:end]}{_NAME}: {tag}{ending}{self.text[end:]}"
        return f"{self.text}{_ending(self.text)}{_NAME}: {tag}"


def _ending(text: str) -> str:
    """How the first line of a text ends."""
    found = re.search(r"\r\n|\n|\r", text)
    return found.group() if found else "\n"


def _read(content: bytes) -> _ReadHead:
    reading = read_bytes(content)
    if reading.chart is None:
        faults = "; ".join(fault.sentence for fault in reading.faults[:1])
        raise TaggingError(f"it has faults, and is tagged when they are mended: {faults}")
    text = content.decode("utf-8")
    texts, starts = [], []
    for found in _LINE.finditer(text):
        texts.append(found.group(1))
        starts.append(found.start())
    head = Head()
    sort_lines(split_lines(text), head)
    awaited = list(head.headers)
    last, tagged, line = -1, -1, None
    for number, written in enumerate(texts):
        if not awaited:
            break
        read = named_line(number + 1, written.removeprefix("\ufeff"))
        if read is not None and (read.key, read.value) == awaited[0]:
            awaited.pop(0)
            last = number
            if read.key == _NAME:
                tagged, line = number, read
    number = last if line is None else tagged
    mark = 1 if number == 0 and text.startswith("\ufeff") else 0
    return _ReadHead(text, tuple(texts), (*starts, len(text)), number, line, mark)


def _checked(before: bytes, text: str) -> bytes:
    """The new content, if it says the same but for its tags.

    Raises:
        TaggingError: If it does not.
    """
    after = text.encode("utf-8")
    charts = [read_bytes(content).chart for content in (before, after)]
    if charts[1] is None or _untagged(charts[0]) != _untagged(charts[1]):
        raise TaggingError("a tags: line cannot be put in without changing how the chart is read; write it by hand")
    return after


def _untagged(chart: Chart | None) -> str:
    """What a chart says but for its tags and the numbers of its lines."""
    assert chart is not None
    headers = tuple(header for header in chart.headers if header[0] != _NAME)
    return re.sub(r"\bline=\d+", "", repr(replace(chart, headers=headers)))

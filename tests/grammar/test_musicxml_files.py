"""MusicXML files that are not to be trusted, compressed files, and bytes that are nothing at all."""

from __future__ import annotations

import zipfile
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar import musicxml_files
from grammar.musicxml_reading import read_musicxml
from shared.errors import Fault
from tests.helpers.musicxml_scores import CONTAINER, FOUR, archive, harmony, note, score, written_of

SCORE = score(FOUR + harmony("C") + note(4))
LAUGHS = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 10))


def fault(content: bytes) -> Fault:
    (tune,) = read_musicxml(content)
    assert tune.chart is None
    (found,) = tune.faults
    return found


def with_doctype(doctype: str, body: str = "<score-partwise/>") -> bytes:
    return f'<?xml version="1.0"?>\n<!DOCTYPE score-partwise {doctype}>\n{body}'.encode()


#: Content, the line, and what the message says.
REFUSED = [
    (with_doctype(f'[<!ENTITY l0 "ha">{LAUGHS}]', "<score-partwise>&l9;</score-partwise>"), 2, "XML entity “l0”"),
    (
        with_doctype('[<!ENTITY x SYSTEM "file:///etc/passwd">]', "<score-partwise>&x;</score-partwise>"),
        2,
        "entity “x”",
    ),
    (with_doctype('[<!ENTITY % p SYSTEM "http://x.org/x.dtd"> %p;]'), 2, "XML entity “p”"),
    (b"<score-partwise>&undefined;</score-partwise>", 1, "no well-formed XML"),
    (b"<score-partwise><part></score-partwise>", 1, "no well-formed XML: mismatched tag"),
    (b"", 1, "no well-formed XML: no element found"),
    (b"\xff\xfe\x00", 1, "no well-formed XML"),
    (b'<?xml version="1.0" encoding="no-such"?><a/>', 0, "XML"),
    (b"<html/>", 1, "“html” is no MusicXML score"),
    (b"<a>" * 101 + b"</a>" * 101, 1, "nested more than 100 deep"),
]


@pytest.mark.parametrize(("content", "line", "message"), REFUSED)
def test_refused(content: bytes, line: int, message: str) -> None:
    found = fault(content)
    assert message in found.message
    assert found.line == line or not line


def test_a_document_type_that_is_only_named_is_not_read() -> None:
    (tune,) = read_musicxml(SCORE)
    assert written_of(tune) == "| C |\n"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_encodings(encoding: str) -> None:
    text = SCORE.decode().replace('encoding="UTF-8"', 'encoding="UTF-16"' if encoding == "utf-16" else "")
    (tune,) = read_musicxml(text.encode(encoding))
    assert written_of(tune) == "| C |\n"


def test_a_namespace_is_no_hindrance() -> None:
    (tune,) = read_musicxml(
        SCORE.replace(b'<score-partwise version="4.0">', b'<score-partwise xmlns="http://x.org/m">')
    )
    assert written_of(tune) == "| C |\n"


def test_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(musicxml_files, "MOST_ELEMENTS", 10)
    assert "more than 10" in fault(SCORE).message
    monkeypatch.setattr(musicxml_files, "MOST_BYTES", 100)
    assert f"{len(SCORE):,} bytes" in fault(SCORE).message
    assert "unpacks to more than 100 bytes" in fault(archive(("score.xml", SCORE))).message


def test_compressed() -> None:
    (tune,) = read_musicxml(archive(("other.xml", b"<html/>"), ("score.xml", SCORE), ("pictures/a.png", b"x")))
    assert written_of(tune) == "| C |\n"
    (tune,) = read_musicxml(archive(("in/deep.musicxml", SCORE), rootfile="in/deep.musicxml"))
    assert written_of(tune) == "| C |\n"


def test_the_first_root_file_that_is_a_score_is_read() -> None:
    inner = '<rootfile full-path="a.pdf" media-type="application/pdf"/><rootfile full-path="b.xml"/>'
    container = f"<container><rootfiles>{inner}</rootfiles></container>".encode()
    (tune,) = read_musicxml(archive(("a.pdf", b"%PDF"), (CONTAINER, container), ("b.xml", SCORE), rootfile=None))
    assert written_of(tune) == "| C |\n"


BOMB = b"<score-partwise>" + b" " * 4_000_000 + b"</score-partwise>"
#: Archive, and what the message says.
ARCHIVES = [
    (archive(("../score.xml", SCORE), rootfile="../score.xml"), "“../score.xml” is a path that leads out"),
    (archive(("score.xml", SCORE), ("a/../../b", b"")), "leads out"),
    (archive(("score.xml", SCORE), ("/etc/x", b"")), "leads out"),
    (archive(("score.xml", SCORE), ("C:/x", b"")), "leads out"),
    (archive(("score.xml", SCORE), ("..\\x", b"")), "leads out"),
    (archive(("score.xml", BOMB)), "times smaller"),
    (archive(("score.xml", SCORE), *((f"f{i}", b"") for i in range(600))), "602 files"),
    (archive(("score.xml", SCORE), rootfile=None), f"no {CONTAINER}"),
    (archive(("score.xml", SCORE), rootfile="gone.xml"), "names “gone.xml”, which the archive does not hold"),
    (archive((CONTAINER, b"<container/>"), rootfile=None), "names no score"),
    (archive((CONTAINER, b"<container>"), rootfile=None), "no well-formed XML"),
    (archive((CONTAINER, with_doctype('[<!ENTITY a "b">]', "<c>&a;</c>")), rootfile=None), "XML entity “a”"),
    (archive(("score.xml", SCORE))[:-30], "cannot be unpacked"),
    (b"PK\x03\x04", "cannot be unpacked"),
]


@pytest.mark.parametrize(("content", "message"), ARCHIVES)
def test_archives_that_are_refused(content: bytes, message: str) -> None:
    assert message in fault(content).message


def test_too_much_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(musicxml_files, "MOST_UNPACKED", 50)
    assert "unpacks to" in fault(archive(("score.xml", SCORE))).message


def test_a_locked_archive() -> None:
    content = bytearray(archive(("score.xml", SCORE)))
    with zipfile.ZipFile(BytesIO(bytes(content))) as packed:
        offset = packed.infolist()[0].header_offset
    content[offset + 6] |= 1
    directory = content.index(b"PK\x01\x02")
    content[directory + 8] |= 1
    assert "cannot be unpacked" in fault(bytes(content)).message


@given(st.binary(max_size=300))
def test_any_bytes(content: bytes) -> None:
    for each in (content, b"PK\x03\x04" + content, b"<score-partwise>" + content):
        (tune,) = read_musicxml(each)
        assert (tune.chart is None) == bool(tune.faults)


RICH = score(FOUR + harmony("C", "dominant") + note(2) + harmony("F") + note(2), harmony("G") + note(4))
PACKED = archive(("score.xml", RICH))


@given(st.integers(0, len(RICH) - 1), st.integers(0, 12), st.binary(max_size=4), st.booleans())
@settings(max_examples=400, deadline=None)
def test_damaged_files(place: int, length: int, instead: bytes, packed: bool) -> None:
    whole = PACKED if packed else RICH
    place %= len(whole)
    (tune,) = read_musicxml(whole[:place] + instead + whole[place + length :])
    assert (tune.chart is None) == bool(tune.faults)

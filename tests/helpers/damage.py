"""Damages an index so that it still opens, and shows the damage only where its charts are read."""

from __future__ import annotations

from pathlib import Path

import duckdb


def damage(place: Path) -> None:
    """Overwrites a block of the file, trying one after the other, until charts can no longer be read.

    The index must be so large (some 1500 charts) that what is known of their files fills no block with all the rest.
    """
    content = place.read_bytes()
    for block in range(0, len(content), 16_384):
        torn = bytearray(content)
        for at in range(block + 100, min(block + 16_384, len(torn) - 8), 512):
            torn[at : at + 8] = b"\xde\xad\xbe\xef" * 2
        place.write_bytes(torn)
        if _opens(place) and not _reads(place):
            return
    raise AssertionError("no block of this index holds its charts alone")


def _opens(place: Path) -> bool:
    return _answers(place, "SELECT * FROM index.about, index.files")


def _reads(place: Path) -> bool:
    return _answers(place, "SELECT * FROM index.charts")


def _answers(place: Path, sql: str) -> bool:
    with duckdb.connect() as connection:
        try:
            connection.execute(f"ATTACH '{place}' AS index (READ_ONLY)")
            connection.execute(sql).fetchall()
        except duckdb.Error:
            return False
    return True

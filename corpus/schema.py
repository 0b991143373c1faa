"""The version of the index's tables, and how a damaged file shows. The tables themselves are in ``schema.sql``."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb

#: Raised with every change of a table or of what stands in it: an index of another version is made again.
SCHEMA_VERSION = 7


def damaged(error: duckdb.Error) -> bool:
    """Whether an error says that a file is damaged inside; DuckDB has no class of its own for a wrong checksum."""
    import duckdb

    kinds = (duckdb.IOException, duckdb.InternalException, duckdb.FatalException, duckdb.SerializationException)
    return isinstance(error, kinds) or type(error) is duckdb.Error

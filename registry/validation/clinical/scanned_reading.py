"""Scanned codes for rules: a function that the rules' engine can call, because SQL cannot read GS1."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from registry.schema.udi import What, read_udi

if TYPE_CHECKING:
    import duckdb

DATES = ("produced_on", "expires_on")
TEXTS = ("device_identifier", "lot", "serial", "issuer")
FLAGS: tuple[What, ...] = ("check_digit", "date", "unreadable", "no_identifier", "repeated")


def add_scanned(engine: duckdb.DuckDBPyConnection) -> None:
    """Teach an engine ``scanned(text, day)``: what a code says, as a struct, null of null.

    Its fields: those of ``registry.schema.udi.Udi`` that stand in TEXTS and DATES, and ``wrong_<kind>`` for each kind
    of problem in FLAGS.
    """
    import duckdb

    fields = dict.fromkeys(TEXTS, duckdb.sqltype("VARCHAR")) | dict.fromkeys(DATES, duckdb.sqltype("DATE"))
    fields |= dict.fromkeys([f"wrong_{kind}" for kind in FLAGS], duckdb.sqltype("BOOLEAN"))
    text, day = duckdb.sqltype("VARCHAR"), duckdb.sqltype("DATE")
    # A code without a day is read too, so nulls are handed over.
    made = duckdb.struct_type(fields)
    # The stubs know only the enumeration, which has moved between releases; the engine takes the word.
    engine.create_function("scanned", _scanned, [text, day], made, null_handling="special")  # type: ignore[call-overload]


def _scanned(text: str | None, day: date | None) -> dict[str, Any] | None:
    return None if text is None else _read(text, day)


@lru_cache(maxsize=4096)
def _read(text: str, day: date | None) -> dict[str, Any]:
    read = read_udi(text, day)
    said = {name: getattr(read, name) for name in (*TEXTS, *DATES)}
    return said | {f"wrong_{kind}": read.has(kind) for kind in FLAGS}

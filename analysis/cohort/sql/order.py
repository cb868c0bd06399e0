"""What SQL needs so that an answer never depends on the order in which rows are met."""

from __future__ import annotations

from registry.schema.codes import CodeList


def rank(codes: type[CodeList], column: str) -> str:
    """An expression for the place of a column's code in its list, from 1."""
    listed = ", ".join(f"'{code}'" for code in codes.codes())
    return f"list_position([{listed}], {column})"


def exact(column: str) -> str:
    """An expression for the sum of a measured column, added up in millionths so that no order rounds differently."""
    return f"CAST(sum(CAST({column} AS DECIMAL(18, 6))) AS DOUBLE)"

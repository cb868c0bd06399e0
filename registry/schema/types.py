"""Column types that hold on both engines.

SQLite's strict tables know TEXT, INTEGER and REAL alone; PostgreSQL has dates and time stamps of its own.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import BigInteger, Date, DateTime, Double, Integer, Text
from sqlalchemy.dialects.sqlite import REAL
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine

from registry.schema.codes import CodeList


class PlainText(TypeDecorator[str]):
    """Text."""

    impl = Text
    cache_ok = True


class WholeNumber(TypeDecorator[int]):
    """A 64-bit whole number (SQLite's own INTEGER, so that a key is the row's own)."""

    impl = BigInteger
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Integer() if dialect.name == "sqlite" else BigInteger())


class RealNumber(TypeDecorator[float]):
    """A double."""

    impl = Double
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(REAL() if dialect.name == "sqlite" else Double())


class CodeText(TypeDecorator[CodeList]):
    """A value of one code list, stored as its code."""

    impl = Text
    cache_ok = True

    def __init__(self, codes: type[CodeList]) -> None:
        super().__init__()
        self.codes = codes

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:
        return None if value is None else str(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> CodeList | None:
        return None if value is None else self.codes(value)


class CalendarDay(TypeDecorator[date]):
    """A date without a time, ISO text on SQLite."""

    impl = Date
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Text() if dialect.name == "sqlite" else Date())

    def process_bind_param(self, value: Any, dialect: Dialect) -> Any:
        if isinstance(value, datetime):
            raise TypeError(f"a calendar date was expected, not the time stamp {value!r}")
        if isinstance(value, str):
            value = date.fromisoformat(value)
        return value.isoformat() if value is not None and dialect.name == "sqlite" else value

    def process_result_value(self, value: Any, dialect: Dialect) -> date | None:
        return date.fromisoformat(value) if isinstance(value, str) else value


class UtcMoment(TypeDecorator[datetime]):
    """A moment in UTC, to the microsecond. A time without a zone is refused: nobody can say when it was."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Text() if dialect.name == "sqlite" else DateTime(timezone=True))

    def process_bind_param(self, value: Any, dialect: Dialect) -> Any:
        if isinstance(value, str):
            value = datetime.fromisoformat(value)
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"the time {value!r} has no time zone")
        value = value.astimezone(UTC)
        return value.isoformat(timespec="microseconds") if dialect.name == "sqlite" else value

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        moment = datetime.fromisoformat(value) if isinstance(value, str) else value
        return moment.astimezone(UTC)

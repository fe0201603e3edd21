"""The few kinds of column that a book has, the same on SQLite and PostgreSQL.

Each compiles to a type name that SQLite allows in a STRICT table (TEXT, INTEGER, BLOB). None is REAL:
STRICT would store an infinity there, and numbers are kept as text, as they were typed.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import TIMESTAMP, Dialect, Integer, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

from lightoff.records.shapes import shape_of
from lightoff.terms.entry import Json


def canonical(value: Json) -> str:
    """JSON text that is the same for the same value, whoever writes it."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


class UtcTime(TypeDecorator[datetime]):
    """An aware time, kept in UTC: text of one width on SQLite, which drops zones; it sorts as text."""

    impl = Text
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        kind: TypeEngine[Any] = TIMESTAMP(timezone=True) if dialect.name == "postgresql" else Text()
        return dialect.type_descriptor(kind)

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without zone never enters the book")
        moment = value.astimezone(UTC)
        return (
            moment if dialect.name == "postgresql" else moment.isoformat(timespec="microseconds")[:-6] + "Z"
        )

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        moment: datetime = value if isinstance(value, datetime) else datetime.fromisoformat(value)
        return moment if moment.tzinfo is UTC else moment.astimezone(UTC)


class Day(TypeDecorator[date]):
    """A calendar day as ISO 8601 text."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: date | None, dialect: Dialect) -> str | None:
        return None if value is None else value.isoformat()

    def process_result_value(self, value: Any, dialect: Dialect) -> date | None:
        return None if value is None else date.fromisoformat(value)


class Number(TypeDecorator[Decimal]):
    """A number as it was typed: 4.80 stays 4.80."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        return None if value is None else format(value, "f")

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        return None if value is None else Decimal(value)


class Truth(TypeDecorator[bool]):
    """Yes or no, as 1 or 0."""

    impl = Integer
    cache_ok = True

    def process_bind_param(self, value: bool | None, dialect: Dialect) -> int | None:
        return None if value is None else int(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> bool | None:
        return None if value is None else bool(value)


class Word(TypeDecorator[StrEnum]):
    """One word of an enumeration."""

    impl = Text
    cache_ok = True

    def __init__(self, words: type[StrEnum]) -> None:
        super().__init__()
        self.words = words
        self._known = {each.value: each for each in words}

    def process_bind_param(self, value: StrEnum | None, dialect: Dialect) -> str | None:
        return None if value is None else value.value

    def process_result_value(self, value: Any, dialect: Dialect) -> StrEnum | None:
        if value is None:
            return None
        return self._known.get(value) or self.words(value)  # a word that is none is told as such


class Written(TypeDecorator[Any]):
    """A small table or list inside a noun, as canonical JSON."""

    impl = Text
    cache_ok = True

    def __init__(self, hint: Any) -> None:
        super().__init__()
        self.hint = hint

    def process_bind_param(self, value: Any, dialect: Dialect) -> str:
        return canonical(shape_of(self.hint).write(value))

    def process_result_value(self, value: Any, dialect: Dialect) -> Any:
        return None if value is None else shape_of(self.hint).read(json.loads(value), "value")

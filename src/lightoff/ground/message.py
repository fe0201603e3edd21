"""What the pure floors say: a key and its values, which a face turns into words and units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import date, datetime
from decimal import Decimal
from types import MappingProxyType
from typing import TypeAlias

from lightoff.ground.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """A number in the SI unit of its dimension, to be shown in the reader's unit.

    `dimension` is a key of `units.DIMENSIONS`; `half_width` is an expanded uncertainty or None. A round
    number, chosen and not read, has its `significant` digits and is rounded to them in every unit.
    """

    value: float
    dimension: str
    half_width: float | None = None
    significant: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AsWritten:
    """A number exactly as a person wrote it, with its unit: shown back unchanged."""

    value: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class DayOf:
    """The day of a moment, by the clock of whom it is told to. A bare moment is told as its time of day."""

    moment: datetime


Value: TypeAlias = "Amount | AsWritten | DayOf | Message | str | int | date | datetime | tuple[Message, ...]"


@dataclass(frozen=True, slots=True)
class Message:
    """One sentence to be said: `key` names its template in `texts/`, `values` fill it.

    A `str` value that begins with `@` is a key of `texts/` itself ("@reading.flue_o2").
    """

    key: str
    values: Mapping[str, Value] = field(default_factory=lambda: MappingProxyType({}))


def message(key: str, /, **values: Value) -> Message:
    """The sentence `key` with its values."""
    return Message(key, MappingProxyType(values))

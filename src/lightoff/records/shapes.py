"""How one value of a noun is written in JSON and read back, by its type."""

from __future__ import annotations

import re
import types
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.terms.entry import Json

LONGEST_TEXT = 10_000
MOST_ITEMS = 1_000
# One separator, no grouping, no exponent: what a meter shows. Twenty figures before the point outlast any
# instrument; after it, the smallest float written out in full has its place.
_NUMBER = re.compile(r"[+-]?\d{1,20}(\.\d{1,1100})?", re.ASCII)
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)", re.ASCII)
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
# Control characters other than tab and line ends; halves of a surrogate pair cannot be stored at all.
_UNSTORABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_YEARS = range(1900, 3000)


@dataclass(frozen=True, slots=True)
class Shape:
    """`write` turns a value into JSON, `read(json, name)` back; `read` raises Refusal naming the part."""

    write: Callable[[Any], Json]
    read: Callable[[Json, str], Any]


def refused(key: str, name: str, /, **values: str | int) -> Refusal:
    """A refusal that marks the part `name` of a body."""
    return Refusal(message(key, key=name, **values), field=name)


def shown(value: object) -> str:
    """What was sent, in quotation marks where it is text, short enough to stand in a sentence."""
    try:
        text = _UNSTORABLE.sub("?", value if isinstance(value, str) else repr(value))
    except (ValueError, RecursionError):  # an integer of thousands of digits, a list within a list within
        return "something huge"
    text = text if len(text) <= 60 else text[:57] + "..."
    return f"“{text}”" if isinstance(value, str) else text


def written_time(moment: datetime) -> str:
    """An aware time as ISO 8601 in UTC."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def read_text(value: Json, name: str) -> str:
    """A text of at most LONGEST_TEXT characters."""
    if not isinstance(value, str):
        raise refused("records.not_text", name, got=shown(value))
    if len(value) > LONGEST_TEXT:
        raise refused("records.text_too_long", name, length=len(value), longest=LONGEST_TEXT)
    if _UNSTORABLE.search(value):
        raise refused("records.text_unstorable", name)
    return value


def read_number(value: Json, name: str) -> Decimal:
    """A finite number, sent as text."""
    if not isinstance(value, str) or not _NUMBER.fullmatch(value):
        raise refused("records.not_a_number", name, got=shown(value))
    return Decimal(value)


def read_time(value: Json, name: str) -> datetime:
    """A moment in UTC; a time without zone is refused."""
    if not isinstance(value, str) or not _TIME.fullmatch(value):
        raise refused("records.not_a_time", name, got=shown(value))
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        raise refused("records.not_a_time", name, got=shown(value)) from None
    if moment.year not in _YEARS:
        raise refused("records.year", name, got=shown(value), low=_YEARS[0], high=_YEARS[-1])
    return moment.astimezone(UTC)


def read_day(value: Json, name: str) -> date:
    """A calendar day."""
    try:
        if isinstance(value, str) and _DAY.fullmatch(value):
            return date.fromisoformat(value)
    except ValueError:
        pass
    raise refused("records.not_a_day", name, got=shown(value))


def _read_bool(value: Json, name: str) -> bool:
    if not isinstance(value, bool):
        raise refused("records.not_yes_or_no", name, got=shown(value))
    return value


def _read_count(value: Json, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or abs(value) > 2**31 - 1:
        raise refused("records.not_a_count", name, got=shown(value))
    return value


def _write_float(value: float) -> str:
    return format(Decimal(repr(value)), "f")


def _write_decimal(value: Decimal) -> str:
    return format(value, "f")


_PLAIN: dict[object, Shape] = {
    str: Shape(write=lambda value: value, read=read_text),
    bool: Shape(write=lambda value: value, read=_read_bool),
    int: Shape(write=lambda value: value, read=_read_count),
    Decimal: Shape(write=_write_decimal, read=read_number),
    float: Shape(write=_write_float, read=lambda value, name: float(read_number(value, name))),
    datetime: Shape(write=written_time, read=read_time),
    date: Shape(write=date.isoformat, read=read_day),
}


@cache
def shape_of(hint: Any) -> Shape:
    """The shape of a type that stands in a noun."""
    plain = _PLAIN.get(hint)
    if plain is not None:
        return plain
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return _optional(shape_of(next(each for each in arguments if each is not types.NoneType)))
    if origin is tuple:
        return _several(shape_of(arguments[0]))
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return _word(hint)
    if is_dataclass(hint) and isinstance(hint, type):
        return _table(hint)
    raise TypeError(f"no shape for {hint!r}")


def _optional(inner: Shape) -> Shape:
    return Shape(
        write=lambda value: None if value is None else inner.write(value),
        read=lambda value, name: None if value is None else inner.read(value, name),
    )


def _word(words: type[StrEnum]) -> Shape:
    known = {word.value: word for word in words}

    def read(value: Json, name: str) -> StrEnum:
        word = known.get(value) if isinstance(value, str) else None
        if word is None:
            raise refused("records.word_unknown", name, got=shown(value), possible=", ".join(known))
        return word

    return Shape(write=lambda value: value.value, read=read)


def _several(inner: Shape) -> Shape:
    def read(value: Json, name: str) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise refused("records.not_a_list", name, got=shown(value))
        if len(value) > MOST_ITEMS:
            raise refused("records.list_too_long", name, length=len(value), longest=MOST_ITEMS)
        return tuple(inner.read(each, f"{name}.{index}") for index, each in enumerate(value))

    return Shape(write=lambda value: [inner.write(each) for each in value], read=read)


def _table(noun: type) -> Shape:
    hints = get_type_hints(noun)
    parts = {each.name: (shape_of(hints[each.name]), each.default) for each in fields(noun)}

    def write(value: Any) -> Json:
        return {
            name: shape.write(getattr(value, name))
            for name, (shape, default) in parts.items()
            if default is MISSING or getattr(value, name) != default
        }

    def read(value: Json, name: str) -> Any:
        if not isinstance(value, dict):
            raise refused("records.not_a_table", name, got=shown(value))
        faults = [
            Refusal(
                message(
                    "records.key_unknown", key=shown(f"{name}.{key}"), noun=name, possible=", ".join(parts)
                ),
                field=f"{name}.{key}"[:100],
            )
            for key in value.keys() - parts.keys()
        ]
        found = {}
        for part, (shape, default) in parts.items():
            if part not in value and default is not MISSING:
                continue
            try:
                if part not in value:
                    raise refused("records.key_missing", f"{name}.{part}", noun=name)
                found[part] = shape.read(value[part], f"{name}.{part}")
            except Refusal as fault:
                faults.append(fault)
        if faults:
            raise faults[0] if len(faults) == 1 else Refusals(tuple(faults))
        return noun(**found)

    return Shape(write=write, read=read)

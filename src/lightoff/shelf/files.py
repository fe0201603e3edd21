"""Reads one TOML file with numbers as typed, and says in a sentence what is wrong with it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal, InvalidOperation
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

import tomli

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Value, message
from lightoff.ground.values import dataclass

LARGEST_FILE_BYTES = 5_000_000
# A number that a person writes has no more digits and no larger exponent than these.
# Basis: common practice, no source.
LARGEST_DIGITS = 30
LARGEST_EXPONENT = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of a file: its values, and where it stands for a sentence."""

    file: str
    place: str
    values: Mapping[str, Any]

    def refuse(self, key: str, field: str, **values: Value) -> Refusal:
        """A refusal that names file, place and field."""
        return Refusal(
            message(f"shelf.{key}", file=self.file, place=self.place, field=field, **values),
            field=f"{self.file}: {self.place}.{field}",
        )

    def known(self, allowed: Iterable[str]) -> None:
        """Raises Refusal for a field that means nothing here."""
        allowed = set(allowed)
        for field in self.values:
            if field not in allowed:
                raise self.refuse("unknown_field", field, possible=", ".join(sorted(allowed)))

    def text(self, field: str, default: str | None = None) -> str:
        """A text. Raises Refusal if it is missing or blank without a default, or no text."""
        value = self.values.get(field, default)
        if value is None:
            raise self.refuse("missing", field)
        if not isinstance(value, str) or (default is None and field != "unit" and not value.strip()):
            raise self.refuse("not_text", field, value=shown(value))
        return value

    def texts(self, field: str) -> tuple[str, ...]:
        """A list of texts, empty if it is not there."""
        value = self.values.get(field, [])
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            raise self.refuse("not_texts", field, value=shown(value))
        return tuple(value)

    def number(self, field: str) -> Decimal:
        """A finite number as typed. Raises Refusal if it is missing or none."""
        found = self.number_or_none(field)
        if found is None:
            raise self.refuse("missing", field)
        return found

    def number_or_none(self, field: str) -> Decimal | None:
        """A finite number as typed, or None if it is not there."""
        value = self.values.get(field)
        return None if value is None else self.decimal(field, value)

    def decimal(self, field: str, value: object) -> Decimal:
        """Any value of a file as a decimal, finite and of a size that people write."""
        number = _number(value)
        if number is None:
            raise self.refuse("not_number", field, value=shown(value))
        return number

    def whole(self, field: str, low: int, high: int) -> int:
        """A whole number from `low` to `high`."""
        number = self.number(field)
        if number != number.to_integral_value() or not low <= number <= high:
            raise self.refuse("out_of_bounds", field, value=str(number), low=str(low), high=str(high))
        return int(number)

    def truth(self, field: str) -> bool:
        """True or false; false if it is not there."""
        value = self.values.get(field, False)
        if not isinstance(value, bool):
            raise self.refuse("not_truth", field, value=shown(value))
        return value

    def chosen(self, field: str, possible: Iterable[str], default: str | None = None) -> str:
        """A text out of a list. Raises Refusal that names the list."""
        value, possible = self.text(field, default), list(possible)
        if value not in possible:
            raise self.refuse("not_chosen", field, value=value, possible=", ".join(possible))
        return value

    def each_of(self, field: str, possible: Collection[str]) -> tuple[str, ...]:
        """A list of texts, each out of a list. Raises Refusal that names the list."""
        found = self.texts(field)
        for each in found:
            if each not in possible:
                raise self.refuse("not_chosen", field, value=each, possible=", ".join(possible))
        return found

    def within(self, field: str, low: float, high: float, default: float | None = None) -> float:
        """A number from `low` to `high`. Raises Refusal for one outside, or none without a default."""
        if default is not None and field not in self.values:
            return default
        return self.bounded(field, float(self.number(field)), low, high)

    def bounded(self, field: str, value: float, low: float, high: float) -> float:
        """The value, if it lies from `low` to `high`. Raises Refusal."""
        if not low <= value <= high:
            raise self.refuse("outside", field, value=f"{value:g}", low=f"{low:g}", high=f"{high:g}")
        return value

    def tables(self, field: str) -> tuple[Table, ...]:
        """The tables of an array `[[field]]`, each with its own place."""
        value = self.values.get(field, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            raise self.refuse("not_tables", field)
        return tuple(
            Table(file=self.file, place=f"{field} {each.get('key', index + 1)}", values=each)
            for index, each in enumerate(value)
        )

    def named_tables(self, field: str) -> tuple[tuple[str, Table], ...]:
        """The tables `[field.name]` by name."""
        value = self.values.get(field, {})
        if not isinstance(value, dict) or not all(isinstance(each, dict) for each in value.values()):
            raise self.refuse("not_tables", field)
        return tuple(
            (name, Table(file=self.file, place=f"{field}.{name}", values=each))
            for name, each in value.items()
        )

    def named_numbers(self, field: str) -> tuple[tuple[str, Decimal], ...]:
        """The numbers of a table `[field]` by name."""
        value = self.values.get(field, {})
        if not isinstance(value, dict):
            raise self.refuse("not_tables", field)
        return tuple((name, self.decimal(f"{field}.{name}", each)) for name, each in value.items())


def read_table(path: Path | Traversable) -> Table:
    """A whole file as a Table. Raises Refusal for what is no TOML, too large or not UTF-8."""
    whole = Table(file=path.name, place="file", values={})
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise whole.refuse("unreadable", "", error=str(error.strerror)) from None
    if len(data) > LARGEST_FILE_BYTES:
        raise whole.refuse("too_large", "", largest=LARGEST_FILE_BYTES)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise whole.refuse("not_utf8", "") from None
    try:
        values = tomli.loads(text, parse_float=Decimal)
    except (ValueError, InvalidOperation, RecursionError) as error:
        raise whole.refuse("not_toml", "", error=shown(error)) from None
    return Table(file=path.name, place="file", values=values)


def _number(value: object) -> Decimal | None:
    """The decimal that a person typed, or None if it is none that people write."""
    if isinstance(value, bool) or not isinstance(value, (str, int, Decimal)) or "_" in str(value):
        return None
    try:
        number = Decimal(value)
    except (InvalidOperation, ValueError):
        return None
    if not number.is_finite() or len(number.as_tuple().digits) > LARGEST_DIGITS:
        return None
    return None if number and abs(number.adjusted()) > LARGEST_EXPONENT else number


def shown(value: object) -> str:
    """What stands there, short enough for a sentence."""
    text = str(value)
    return text if len(text) <= 80 else f"{text[:77]}..."


def hash_of(*parts: object) -> str:
    """A hash of what was read; comments and blanks of a file do not enter it, every value does."""
    text = json.dumps(parts, sort_keys=True, default=str, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()

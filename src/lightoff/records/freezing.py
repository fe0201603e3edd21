"""Frozen nouns as bytes, and back: nothing but nouns of ours, plain values and numbers comes out."""

from __future__ import annotations

import io
import pickle
import zlib
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date, datetime, timedelta, timezone
from decimal import Decimal
from enum import Enum
from functools import cache
from operator import attrgetter
from types import MappingProxyType
from typing import Any

from lightoff.records.making import Put, puts

_VALUES = {each.__name__: each for each in (date, datetime, timedelta, timezone)}
_QUICK = 1


class NotOurs(Exception):
    """Bytes that are no frozen noun of ours."""


def frozen(noun: object) -> bytes:
    """The bytes of a noun: of dataclasses of ours, enumerations, mappings, tuples and plain values."""
    into = io.BytesIO()
    _Freezer(into, protocol=5).dump(noun)
    return zlib.compress(into.getvalue(), _QUICK)


def thawed(body: bytes) -> Any:
    """The noun that was frozen. Raises NotOurs; bytes that a stranger made can run nothing."""
    try:
        return _Thawer(io.BytesIO(zlib.decompress(body))).load()
    except NotOurs:
        raise
    except Exception as trouble:
        raise NotOurs(repr(trouble)) from trouble


class _Freezer(pickle.Pickler):
    def reducer_override(self, noun: object) -> Any:
        kind: type = type(noun)
        values_of = _values_of(kind)
        if values_of is not None:
            return _made, (kind, *values_of(noun))
        if isinstance(noun, Enum):
            return kind, (noun.value,)  # Python 3.11.2 would write a call of getattr
        if isinstance(noun, MappingProxyType):
            return _read_only, (dict(noun),)
        return NotImplemented


class _Thawer(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        """A class of ours that holds data, or a value of time or number; anything else is refused."""
        if module == __name__ and name in _MAKERS:
            return _MAKERS[name]
        if module == "datetime" and name in _VALUES:
            return _VALUES[name]
        if (module, name) == ("decimal", "Decimal"):
            return Decimal
        if module.startswith("lightoff.") and "." not in name:
            found = super().find_class(module, name)
            if isinstance(found, type) and (is_dataclass(found) or issubclass(found, Enum)):
                return found
        raise NotOurs(f"{module}.{name}")


def _read_only(known: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(known)


def _made(kind: type, *values: object) -> object:
    """A noun as it was, unchecked."""
    put = _puts(kind)
    if len(put) != len(values):
        raise NotOurs(f"{kind.__name__} has other fields now")
    noun: object = _new(kind)
    for each, value in zip(put, values):  # noqa: B905 as many by the line above, and this is where time goes
        each(noun, value)
    return noun


@cache
def _puts(kind: type) -> tuple[Put, ...]:
    if not is_dataclass(kind):
        raise NotOurs(repr(kind))
    return puts(kind)


@cache
def _values_of(kind: type) -> Callable[[object], tuple[object, ...]] | None:
    """What reads all fields of a noun; None for what is no dataclass."""
    if not is_dataclass(kind):
        return None
    names = [each.name for each in fields(kind)]
    if len(names) < 2:  # an attrgetter of one name gives the value bare
        return lambda noun: tuple(getattr(noun, name) for name in names)
    return attrgetter(*names)


_new = object.__new__
_MAKERS: dict[str, Any] = {each.__name__: each for each in (_read_only, _made)}

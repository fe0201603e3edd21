"""From a row to its noun: the columns bear the names of the noun's fields."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, fields
from functools import cache, partial
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, Select, Table

Noun = TypeVar("Noun")
_new = object.__new__


@cache
def names(noun: type, table: Table) -> tuple[str, ...]:
    """The fields of a noun that its table holds."""
    return tuple(each.name for each in fields(noun) if each.name in table.c)


def made(noun: type[Noun], table: Table, row: Row[Any]) -> Noun:
    """The noun of a row of all columns of its table."""
    kind: type = noun
    read, otherwise = _fillers(kind, table)
    one: Noun = _new(noun)
    for put, value in zip(read, row, strict=True):
        put(one, value)
    for put, default in otherwise:
        put(one, default)
    return one


def many(connection: Connection, noun: type[Noun], table: Table, query: Select[Any]) -> tuple[Noun, ...]:
    """All nouns that a query of its table finds, in the query's order."""
    return tuple(made(noun, table, row) for row in connection.execute(query).all())


Put = Callable[[Any, Any], None]
Fillers = tuple[tuple[Put, ...], tuple[tuple[Put, object], ...]]


@cache
def _fillers(noun: type, table: Table) -> Fillers:
    """What takes in each column, in their order, and what stands in a field that has none."""
    named = names(noun, table)
    put = dict(zip((each.name for each in fields(noun)), puts(noun), strict=True))
    otherwise = tuple((put[each.name], each.default) for each in fields(noun) if each.name not in named)
    if any(default is MISSING for _, default in otherwise):
        raise TypeError(f"table {table.name} lacks what every {noun.__name__} has")
    return tuple(put.get(each.key, _leave) for each in table.c), otherwise


def _leave(noun: object, value: object) -> None:
    """Of a column that the noun does not have."""


@cache
def puts(noun: type) -> tuple[Put, ...]:
    """What fills each field of a new noun unchecked: its slots' own writers, past what keeps it frozen.

    What a dataclass does by itself takes twice to five times as long.
    """
    return tuple(
        getattr(getattr(noun, each.name, None), "__set__", None) or partial(_put, name=each.name)
        for each in fields(noun)
    )


def _put(noun: object, value: object, *, name: str) -> None:
    object.__setattr__(noun, name, value)

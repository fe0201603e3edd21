"""From a row to its noun: the columns bear the names of the noun's fields."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from operator import itemgetter
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, Select, Table

Noun = TypeVar("Noun")


@cache
def names(noun: type, table: Table) -> tuple[str, ...]:
    """The fields of a noun that its table holds."""
    return tuple(each.name for each in fields(noun) if each.name in table.c)


def made(noun: type[Noun], table: Table, row: Row[Any]) -> Noun:
    """The noun of a row of all columns of its table."""
    kind: type = noun
    named, places = _places(kind, table)
    return noun(**dict(zip(named, places(row), strict=True)))


def many(connection: Connection, noun: type[Noun], table: Table, query: Select[Any]) -> tuple[Noun, ...]:
    """All nouns that a query of its table finds, in the query's order."""
    return tuple(made(noun, table, row) for row in connection.execute(query))


@cache
def _places(noun: type, table: Table) -> tuple[tuple[str, ...], itemgetter[Any]]:
    named = names(noun, table)
    columns = table.c.keys()
    return named, itemgetter(*map(columns.index, named))

"""What nouns say, as hashes: made once for each noun, however often it is judged.

A heater's page judges the same visits again and again, each as the past of the later ones. Nouns never
change, so the hash of one is remembered for the very object it was made from.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from datetime import datetime
from decimal import Decimal
from json import JSONEncoder
from operator import attrgetter
from typing import Any, TypeVar

from lightoff.physics.fuel import Fuel
from lightoff.terms.case import Case
from lightoff.terms.visit import Visit

# Each keeps its noun in memory; the book keeps as many visits for itself.
MOST = 1024
_MADE: dict[int, tuple[object, str]] = {}
Noun = TypeVar("Noun")


def visit_hash(visit: Visit) -> str:
    """The hash of all that a visit says; it does not depend on order of entry."""
    return noun_hash(visit, lambda each: _AS_JSON(_in_order(each)))


def sealed_content(case: Case) -> str:
    """The hash of what a closed visit is judged from, the shelf apart: a seal holds while it stands.

    Readings, moments and the clock of their days, fuel and place; the heater, the kind of vehicle, what
    contradicts itself, and the instruments that read. Photographs, parts and words may come later.
    """
    visit = _in_order(case.visit)
    read_with = sorted({each.instrument for each in visit.readings if each.instrument})
    told: tuple[object, ...] = (
        visit.id,
        visit.started_at,
        visit.closed_at,
        visit.fuel,
        visit.place,
        visit.readings,
        visit.events,
    )
    if visit.utc_offset_minutes is not None:  # older seals know of none
        told = (*told, visit.utc_offset_minutes)
    meters = [case.instruments.get(each) for each in read_with]
    return hash_of(repr(told), repr((case.heater, case.vehicle.kind, case.conflicts)), repr(meters))


def fuel_hash(fuel: Fuel | None) -> str:
    """The hash of all that is known of a fuel."""
    return noun_hash(fuel, repr)


def hash_of(*texts: str) -> str:
    """The hash of several texts, each apart."""
    digest = hashlib.sha256()
    for text in texts:
        digest.update(text.encode())
        digest.update(b"\0")
    return digest.hexdigest()


def noun_hash(noun: Noun, told: Callable[[Noun], str]) -> str:
    """The hash of what is told of a noun that never changes, remembered for the very object."""
    known = _MADE.get(id(noun))
    if known is not None and known[0] is noun:
        return known[1]
    made = hash_of(told(noun))
    if len(_MADE) >= MOST:
        _MADE.clear()
    _MADE[id(noun)] = (noun, made)  # holding the noun keeps its id taken
    return made


def _plain(value: object) -> object:
    """What JSON has no word for, as lists: a noun by its fields, and nothing that a text could say too."""
    kind = type(value)
    if kind not in _PLAIN:
        _PLAIN[kind] = _fields_of(kind) if is_dataclass(kind) else lambda each: [repr(each)]
    return _PLAIN[kind](value)


def _fields_of(kind: type) -> Callable[[Any], object]:
    names = [each.name for each in fields(kind)]
    return attrgetter(*names) if len(names) > 1 else lambda noun: [getattr(noun, each) for each in names]


_PLAIN: dict[type, Callable[[Any], object]] = {
    datetime: lambda moment: [moment.timestamp()],  # apart to the microsecond until the year 2242
    Decimal: lambda number: [str(number)],
}
# `repr` takes half as long again, and a heater's first page hashes all its visits.
_AS_JSON = JSONEncoder(default=_plain, check_circular=False).encode


def _in_order(visit: Visit) -> Visit:
    return replace(
        visit,
        readings=tuple(sorted(visit.readings, key=lambda each: each.id)),
        events=tuple(sorted(visit.events, key=lambda each: each.id)),
        photos=tuple(sorted(visit.photos, key=lambda each: each.id)),
    )

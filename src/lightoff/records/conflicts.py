"""Which live entries contradict each other: two devices that did not know of each other.

Four ways lead to one. A noun has two live entries, neither of which takes the place of the other; so has
a visit two closes. Two entries take the place of the same earlier one, be one of them a withdrawal. Two
live readings fill one place of a visit. Two live answers end one step of it. What says the same twice is no
conflict.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, bindparam, func, select

from lightoff.records.codec import noun_of
from lightoff.records.entries import WITHDRAWN
from lightoff.records.projecting import chunks, is_live
from lightoff.records.tables import NOUN_TABLES, entry, step
from lightoff.terms.conflict import Candidate, Conflict
from lightoff.terms.visit import Visit

# Of these one entry alone can hold for a subject; of a visit's other parts there may be many.
_ONE_EACH = (*NOUN_TABLES, "close")


def _of_both(of_all: Select[Any], subject: ColumnElement[str]) -> tuple[Select[Any], Select[Any]]:
    """A question about everything, and the same about some subjects alone."""
    return of_all, of_all.where(subject.in_(bindparam("among", expanding=True)))


def _repeated(answers: Select[Any]) -> Select[Any]:
    each = answers.subquery()
    return select(each).where(each.c.answers > 1)


_LIVE = _of_both(
    select(entry.c.id, entry.c.field, entry.c.subject).where(entry.c.field.in_(_ONE_EACH), is_live()),
    entry.c.subject,
)
_CORRECTING = _of_both(
    select(
        *(entry.c.id, entry.c.field, entry.c.subject, entry.c.corrects),
        (entry.c.value == WITHDRAWN).label("gone"),
    ).where(entry.c.corrects.is_not(None)),
    entry.c.subject,
)
_OF_ONE_STEP = (step.c.visit, step.c.heater, step.c.step)
_ANSWERS = select(step.c.id, *_OF_ONE_STEP, func.count().over(partition_by=_OF_ONE_STEP).label("answers"))
_REPEATED = tuple(_repeated(each) for each in _of_both(_ANSWERS, step.c.visit))


def conflicts(
    connection: Connection, subjects: Iterable[str] | None, visits: Sequence[Visit]
) -> tuple[Conflict, ...]:
    """The conflicts of these subjects, oldest first; of every subject where `subjects` is None.

    `visits` are those of the subjects with their live readings.
    """
    groups = [*_filling_one_place(visits)]
    for among in [None] if subjects is None else chunks(subjects):
        groups += _twice_live(connection, among)
        groups += _answered_twice(connection, among)
        groups += _forked(connection, among)
    groups = [each for each in groups if len(each) > 1]
    ids = {each for group in groups for each in group}
    rows: dict[str, Row[Any]] = {}
    for some in chunks(ids):
        rows.update((row.id, row) for row in connection.execute(select(entry).where(entry.c.id.in_(some))))
    found = [_conflict([rows[each] for each in group]) for group in _joined(groups)]
    real = [each for each in found if each.parts and any(one.says for one in each.candidates)]
    return tuple(sorted(real, key=lambda each: (each.candidates[0].at, each.candidates[0].entry)))


def _asked(
    connection: Connection, of_both: Sequence[Select[Any]], among: Sequence[str] | None
) -> Sequence[Row[Any]]:
    of_all, of_some = of_both
    asked = connection.execute(of_all) if among is None else connection.execute(of_some, {"among": among})
    return asked.all()


def _twice_live(connection: Connection, among: Sequence[str] | None) -> list[set[str]]:
    groups: dict[tuple[str, str], set[str]] = defaultdict(set)
    for row in _asked(connection, _LIVE, among):
        groups[row.field, row.subject].add(row.id)
    return list(groups.values())


def _answered_twice(connection: Connection, among: Sequence[str] | None) -> list[set[str]]:
    """Live answers that end one and the same step of a visit."""
    groups: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for row in _asked(connection, _REPEATED, among):
        groups[row.visit, row.heater, row.step].add(row.id)
    return list(groups.values())


def _forked(connection: Connection, among: Sequence[str] | None) -> Iterator[set[str]]:
    """Entries that take the place of one and the same, directly or by way of others, and all stand.

    A withdrawal counts beside what corrects the same entry directly: whoever corrected once more, or
    chose, has seen it.
    """
    nouns: dict[tuple[str, str], list[Row[Any]]] = defaultdict(list)
    for row in _asked(connection, _CORRECTING, among):
        nouns[row.field, row.subject].append(row)
    for corrections in nouns.values():
        before = {row.id: row.corrects for row in corrections}
        replaced = set(before.values())
        standing = [row for row in corrections if row.id not in replaced]
        by_root: dict[str, set[str]] = defaultdict(set)
        for row in standing:
            if row.gone:
                yield {row.id, *(each.id for each in standing if each.corrects == row.corrects)}
            else:
                by_root[_first(row.id, before)].add(row.id)
        yield from by_root.values()


def _first(entry_id: str, before: Mapping[str, str]) -> str:
    """The entry that a chain of corrections began with."""
    while entry_id in before:
        entry_id = before[entry_id]
    return entry_id


def _filling_one_place(visits: Sequence[Visit]) -> Iterator[set[str]]:
    for visit in visits:
        places: dict[object, set[str]] = defaultdict(set)
        for reading in visit.readings:
            places[reading.heater, reading.slot].add(reading.id)
        yield from places.values()


def _joined(groups: Iterable[set[str]]) -> list[set[str]]:
    """Groups that share an entry are one."""
    joined: list[set[str]] = []
    for group in groups:
        apart = [each for each in joined if not each & group]
        joined = [*apart, group.union(*(each for each in joined if each & group))]
    return joined


def _conflict(rows: Sequence[Row[Any]]) -> Conflict:
    ordered = sorted(rows, key=lambda row: (row.at, row.id))
    return Conflict(
        noun=ordered[0].field,
        subject=ordered[0].subject,
        candidates=tuple(_candidate(row) for row in ordered),
    )


def _candidate(row: Row[Any]) -> Candidate:
    part_of_visit = row.field not in NOUN_TABLES
    noun_id = row.id if part_of_visit else row.subject
    says = None if row.value == WITHDRAWN else noun_of(row.field, noun_id, json.loads(row.value))
    return Candidate(entry=row.id, author=row.author, at=row.at, says=says)

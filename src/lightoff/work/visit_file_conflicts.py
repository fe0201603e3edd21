"""Conflicts in a visit file: written with the case, so that a file proves no more than the book it came from.

A body stands as the same JSON text that the book keeps.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, time
from typing import TYPE_CHECKING, Any

from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.message import Message, message
from lightoff.judging.disputed import of_this_visit
from lightoff.terms.case import Case
from lightoff.terms.conflict import Candidate, Conflict

if TYPE_CHECKING:
    # Writing a file needs none of what checks one.
    from lightoff.work.visit_file_faults import Path
    from lightoff.work.visit_file_shape import CandidateTable, ConflictTable

_PARTS_OF_A_VISIT = frozenset(("reading", "event", "photo", "move", "step", "close", "accept"))


def tables_of_conflicts(case: Case) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Head and content of each table for the conflicts of the visit's own nouns."""
    for conflict in of_this_visit(case):
        yield "[[conflict]]", {"noun": conflict.noun, "subject": conflict.subject}
        for each in conflict.candidates:
            told: dict[str, Any] = {"entry": each.entry}
            if each.author:
                told["author"] = each.author
            told["at"] = each.at
            if each.says is not None:
                from lightoff.records import body_of  # the book's floor; most files have no conflict

                told["says"] = json.dumps(body_of(each.says), ensure_ascii=False)
            yield "[[conflict.candidate]]", told


def conflicts_in(
    rows: list[ConflictTable],
    *,
    note: Callable[[Path, Message], None],
    when: Callable[[Path, datetime | time], datetime | None],
) -> tuple[Conflict, ...]:
    """The conflicts that a file tells; `note` takes each fault, `when` makes a time of the file aware."""
    found = []
    for index, row in enumerate(rows):
        path: Path = ("conflict", index)
        candidates = [
            _candidate(row, each, path=(*path, "candidate", number), note=note, when=when)
            for number, each in enumerate(row.candidate)
        ]
        good = tuple(each for each in candidates if each is not None)
        if len(good) == len(candidates):
            found.append(Conflict(noun=row.noun, subject=row.subject, candidates=good))
    return tuple(found)


def _candidate(
    row: ConflictTable,
    said: CandidateTable,
    *,
    path: Path,
    note: Callable[[Path, Message], None],
    when: Callable[[Path, datetime | time], datetime | None],
) -> Candidate | None:
    from lightoff.records import noun_of

    at = when((*path, "at"), said.at)
    says = None
    if said.says is not None:
        noun_id = said.entry if row.noun in _PARTS_OF_A_VISIT else row.subject
        try:
            says = noun_of(row.noun, noun_id, json.loads(said.says))
        except (ValueError, RecursionError):
            note((*path, "says"), message("visit_file.conflict_says", noun=row.noun))
            return None
        except Refusal as fault:
            for each in fault.refusals if isinstance(fault, Refusals) else (fault,):
                note((*path, "says"), each.message)
            return None
    return None if at is None else Candidate(entry=said.entry, author=said.author, at=at, says=says)

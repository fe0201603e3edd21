"""Read a visit file: one case, or every fault that keeps it from being one."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from typing import Any

from pydantic import ValidationError

from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.values import dataclass
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.work.visit_file_case import case_of
from lightoff.work.visit_file_faults import Path, faults_of
from lightoff.work.visit_file_shape import VisitFile
from lightoff.work.visit_file_text import tables_of

_DEEPEST = 3  # a value of the head in a table of a table
_ROWS = ("reading", "event", "instrument", "photo", "fitted")


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFileRead:
    """What a file gave: the case of its good rows (None if its head is bad), and every fault.

    `earlier_visits` is how many of this heater's the book held that the file came from; None where the file
    names the entry of a book as its visit and does not say how many came before.
    """

    case: Case | None
    faults: tuple[Refusal, ...]
    earlier_visits: int | None = 0


def read_visit_file(data: bytes, name: str, shelf: Shelf) -> Case:
    """The case that a visit file tells.

    Raises Refusal for a file that is none; Refusals with every fault at once for one that has faults.
    """
    read = read_good_rows(data, name, shelf)
    if read.faults or read.case is None:
        raise Refusals(read.faults)
    return read.case


def read_good_rows(data: bytes, name: str, shelf: Shelf) -> VisitFileRead:
    """The case of the good rows beside all faults. Raises Refusal for a file that is no visit file."""
    tables = tables_of(data, name)
    file, origins, found = _shaped(tables)
    if file is None:
        return VisitFileRead(case=None, faults=tuple(fault for _, fault in found))
    case, more = case_of(file, shelf, tables=tables, origins=origins)
    faults = (*(fault for _, fault in found), *more)
    if any(_row(path) is None for path, _ in found):
        case = None  # its head was read without what is bad in it, only to find the other faults too
    return VisitFileRead(case=case, faults=faults, earlier_visits=_earlier_visits(file))


def _earlier_visits(file: VisitFile) -> int | None:
    """As counted in the file; of a visit that no book has named there are none."""
    if file.earlier_visits is not None:
        return file.earlier_visits
    return None if file.visit.id else 0


def _shaped(
    tables: dict[str, Any],
) -> tuple[VisitFile | None, dict[Path, Path], list[tuple[Path, Refusal]]]:
    """The file without its bad rows, where each kept row stood, and the faults."""
    try:
        return VisitFile.model_validate(tables), {}, []
    except ValidationError as error:
        found = faults_of(error, tables)
    bad = {row for path, _ in found if (row := _row(path)) is not None}
    head = [path for path, _ in found if _row(path) is None]
    trimmed, origins = _without(tables, bad)
    for parents in range(_DEEPEST):
        try:
            return VisitFile.model_validate(_pruned(trimmed, head, parents)), origins, found
        except ValidationError:
            if not head:
                break
    return None, origins, found  # what is bad in the head cannot be done without


def _pruned(tables: dict[str, Any], head: Iterable[Path], parents: int) -> dict[str, Any]:
    """The tables without what is bad in the head: each bad value, or what holds it so many steps up."""
    pruned = deepcopy(tables)
    for path in head:
        *way, last = path[: max(len(path) - parents, 2)]
        holder: Any = pruned
        for step in way:
            holder = holder.get(step) if isinstance(holder, dict) else None
        if isinstance(holder, dict):
            holder.pop(last, None)
    return pruned


def _row(path: Path) -> Path | None:
    """The row that a fault stands in, or None for one in the head of the file."""
    match path:
        case ("set", int(), "reading", int(), *_):
            return path[:4]
        case (str() as table, int(), *_) if table in (*_ROWS, "set"):
            return path[:2]
        case _:
            return None


def _without(tables: dict[str, Any], bad: Iterable[Path]) -> tuple[dict[str, Any], dict[Path, Path]]:
    bad = set(bad)
    kept, origins = dict(tables), dict[Path, Path]()
    for table in (*_ROWS, "set"):
        rows = tables.get(table)
        if isinstance(rows, list):
            indices = [index for index in range(len(rows)) if (table, index) not in bad]
            origins.update({(table, new): (table, old) for new, old in enumerate(indices)})
            kept[table] = [rows[index] for index in indices]
    for new, group in enumerate(kept.get("set") or []):
        old = origins["set", new][1]
        rows = group.get("reading") if isinstance(group, dict) else None
        if isinstance(rows, list):
            good = [index for index in range(len(rows)) if ("set", old, "reading", index) not in bad]
            for place, index in enumerate(good):
                origins["set", new, "reading", place] = ("set", old, "reading", index)
            kept["set"][new] = {**group, "reading": [rows[index] for index in good]}
    return kept, origins

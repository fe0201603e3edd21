"""The pieces of a heater as a visit file tells them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal

from lightoff.ground.message import Message, message
from lightoff.terms.part import FittedPart
from lightoff.terms.shelf import PartType
from lightoff.work.visit_file_faults import Path
from lightoff.work.visit_file_shape import FittedTable

_MOST = {"months": Decimal(1_200), "run_hours": Decimal(500_000), "starts": Decimal(5_000_000)}
"""A hundred years, and what a heater could run and start in them at most. Judgement, no source."""


def fitted_in(
    rows: Sequence[FittedTable],
    *,
    note: Callable[[Path, Message], None],
    known: Callable[[Path, str, Iterable[str]], bool],
    part_types: Mapping[str, PartType],
) -> tuple[FittedPart, ...]:
    """The good rows. Of a part type that is not on the shelf, and an age that cannot be, `note` is told."""
    found = []
    for index, row in enumerate(rows):
        good = known(("fitted", index, "kind"), row.kind, part_types)
        for clock, most in _MOST.items():
            age = getattr(row, clock)
            if age is not None and not 0 <= age <= most:
                said = message("visit_file.age_not_possible", got=str(age), most=f"{most:,}")
                note(("fitted", index, clock), said)
                good = False
        if good:
            found.append(FittedPart(**{name: getattr(row, name) for name in FittedTable.model_fields}))
    return tuple(found)

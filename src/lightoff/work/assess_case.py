"""Judge a case that is already in hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.message import message
from lightoff.judging.assess import Asked, assess_each, with_gate
from lightoff.judging.assessment import Assessment, GateResult, Judgement
from lightoff.physics.fuel import Fuel
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.shelf import Sheet


def assess_case(case: Case, shelf: Shelf, now: datetime) -> Assessment:
    """The judgement of a case by the limits, the fuel and the heater's sheet on the shelf.

    Where a stricter limit of the shop could not be read, nothing is proven by what ships instead.
    Raises NotFound for a heater whose sheet is not on the shelf.
    """
    return assess_cases([case], shelf, now)[0]


def assess_cases(cases: Sequence[Case], shelf: Shelf, now: datetime) -> tuple[Assessment, ...]:
    """The judgements of several visits, each as `assess_case` gives it. Raises NotFound."""
    assessments = assess_each(
        [Asked(case=case, sheet=sheet_of(case, shelf), fuel=fuel_of(case, shelf)) for case in cases],
        limits=shelf.limits,
        catalogue=shelf.catalogue,
        now=now,
    )
    if not shelf.limits_in_doubt:
        return assessments
    gate = GateResult(
        gate="limits of the shop", judgement=Judgement.NOT_PROVEN, said=message("shop.limits_in_doubt")
    )
    return tuple(with_gate(each, gate) for each in assessments)


def sheet_of(case: Case, shelf: Shelf) -> Sheet:
    """The sheet of the case's heater. Raises NotFound."""
    sheet = shelf.sheets.get(case.heater.sheet)
    if sheet is None:
        possible = ", ".join(shelf.sheets)
        raise NotFound(message("shop.no_such_sheet", sheet=case.heater.sheet, possible=possible))
    return sheet


def fuel_of(case: Case, shelf: Shelf) -> Fuel | None:
    """The fuel of the visit; None where nobody said, or where the shelf no longer knows it."""
    return shelf.fuels.get(case.visit.fuel)


def with_set_aside(assessment: Assessment, faults: Sequence[Refusal]) -> Assessment:
    """The judgement of the good rows of a file whose bad rows were set aside: never fit.

    A row that could not be read may have held the worst reading of the visit.
    """
    if not faults:
        return assessment
    gate = GateResult(
        gate="belongs here",
        judgement=Judgement.NOT_PROVEN,
        said=message(f"visit_file.set_aside{'_one' if len(faults) == 1 else ''}", count=len(faults)),
    )
    return with_gate(assessment, gate)

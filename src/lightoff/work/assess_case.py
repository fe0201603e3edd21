"""Judge a case that is already in hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.judging.assess import Asked, assess_each, with_gate
from lightoff.judging.assessment import Assessment, GateResult, Judgement
from lightoff.judging.sealing import as_sealed
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import Stage
from lightoff.work.asked_about import unanswered
from lightoff.work.expect_readings import expect_readings
from lightoff.work.rated import fuel_of, sheet_of


def assess_case(case: Case, shelf: Shelf, now: datetime) -> Assessment:
    """The judgement of a case by the limits, the fuel, the heater's sheet and what it should read here.

    Where a stricter limit of the shop could not be read, nothing is proven by what ships instead.
    Raises NotFound for a heater whose sheet is not on the shelf.
    """
    return assess_cases([case], shelf, now)[0]


def assess_cases(cases: Sequence[Case], shelf: Shelf, now: datetime) -> tuple[Assessment, ...]:
    """The judgements of several visits, each as `assess_case` gives it. Raises NotFound."""
    asked, broke = [], dict[int, GateResult]()
    for at, case in enumerate(cases):
        sheet, fuel = sheet_of(case, shelf), fuel_of(case, shelf)
        try:
            bands = {stage: expect_readings(case, shelf, stage=stage) for stage in Stage}
        except Exception as error:  # noqa: BLE001 - an error beside the gates is not proven and hides no stop
            bands, broke[at] = {}, _broke(error)
        asked.append(Asked(case=case, sheet=sheet, fuel=fuel, bands=bands))
    assessments = assess_each(asked, limits=shelf.limits, catalogue=shelf.catalogue, now=now)
    assessments = tuple(
        with_gate(each, broke[at]) if at in broke else each for at, each in enumerate(assessments)
    )
    gates = [_suspicion(each, shelf) for each in cases]
    assessments = tuple(
        with_gate(each, gate) if gate else each for each, gate in zip(assessments, gates, strict=True)
    )
    assessments = tuple(as_sealed(each, case) for each, case in zip(assessments, cases, strict=True))
    if not shelf.limits_in_doubt:
        return assessments
    gate = GateResult(
        gate="limits of the shop", judgement=Judgement.NOT_PROVEN, said=message("shop.limits_in_doubt")
    )
    return tuple(with_gate(each, gate) for each in assessments)


def _suspicion(case: Case, shelf: Shelf) -> GateResult | None:
    """What looks mistaken and nobody answered proves nothing."""
    try:
        return unanswered(case, shelf)
    except Exception as error:  # noqa: BLE001 - an error beside the gates is not proven and hides no stop
        return _broke(error, "belongs here")


def _broke(error: Exception, gate: str = "expected") -> GateResult:
    said = message("judging.gate_broke", gate=f"@gate.{gate.replace(' ', '_')}", error=repr(error))
    return GateResult(gate=gate, judgement=Judgement.NOT_PROVEN, said=said)


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

"""What this very heater's good visits have taught: its baseline, for bands and for fault finding."""

from __future__ import annotations

from dataclasses import replace

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Verdict
from lightoff.judging.content import visit_hash
from lightoff.plant.baseline import Baseline, renewed, unknown_unit
from lightoff.plant.good_visit import after_good_visit
from lightoff.shelf import REPAIR, Shelf
from lightoff.terms.case import Case
from lightoff.terms.part import Outcome
from lightoff.terms.procedure import Phase
from lightoff.terms.visit import NOT_HAD, Stage, Visit
from lightoff.work.last_few import LastFew
from lightoff.work.rated import fuel_of, sheet_of
from lightoff.work.read_numbers import conditions_of, numbers_read

_taught: LastFew[Baseline] = LastFew(256)
NEEDED = "flue_co"
"""Without it as left no visit ends fit, and so none teaches."""


def unit_baseline(case: Case, shelf: Shelf, *, stage: Stage = Stage.AS_FOUND) -> Baseline:
    """The baseline from the earlier visits that ended fit as tested, oldest first; the priors without any.

    What was taught of a part is forgotten on the visit that renews it, before its readings as left teach
    anew. On the case's own visit what was found tells of the old piece. What each visit taught is kept.
    Raises NotFound for a sheet that is not on the shelf.
    """
    baseline = unknown_unit()
    for at in range(len(case.history)):
        past = replace(case, visit=case.history[at], history=case.history[:at])
        baseline = _kept(past, shelf, _forgotten(baseline, past.visit, shelf))
    return _forgotten(baseline, case.visit, shelf) if stage is Stage.AS_LEFT else baseline


def _forgotten(baseline: Baseline, visit: Visit, shelf: Shelf) -> Baseline:
    for part in sorted(parts_renewed(visit, shelf)) if baseline.visits else ():
        baseline = renewed(baseline, part)
    return baseline


def parts_renewed(visit: Visit, shelf: Shelf) -> frozenset[str]:
    """Parts that a visit renewed, by its steps and by the repairs that were tried."""
    steps = {each.key: each for procedure in shelf.procedures.values() for each in procedure.steps}
    done = (steps.get(each.step) for each in visit.steps if each.outcome is Outcome.DONE)
    by_step = {each.part for each in done if each and each.phase is Phase.RENEW and not each.states}
    faults = (
        shelf.faults.get(each.key.removeprefix(REPAIR))
        for each in visit.readings
        if each.key.startswith(REPAIR) and each.state not in (None, NOT_HAD)
    )
    return frozenset(by_step | {each.part for each in faults if each}) - {""}


def _kept(past: Case, shelf: Shelf, before: Baseline) -> Baseline:
    visit = past.visit
    if visit.closed_at is None or not any(
        each.key == NEEDED and each.stage is Stage.AS_LEFT for each in visit.readings
    ):
        return before
    known = (
        shelf.sha256,
        sheet_of(past, shelf).sha256,
        past.heater,
        past.vehicle.kind,
        visit_hash(visit),
        tuple(sorted(past.instruments.items())),
        tuple(each for each in past.conflicts if each.subject in {visit.id, past.heater.id}),
        before.mean.tobytes(),
        before.covariance.tobytes(),
        before.times.tobytes(),
    )
    return _taught.of(known, lambda: _after(past, shelf, before))


def _after(past: Case, shelf: Shelf, before: Baseline) -> Baseline:
    """The baseline after one visit; one that was not fit as tested by itself teaches nothing.

    It is judged without bands: what a unit taught must not decide what it may teach.
    """
    found = assess(
        past,
        sheet=sheet_of(past, shelf),
        fuel=fuel_of(past, shelf),
        limits=shelf.limits,
        catalogue=shelf.catalogue,
        now=past.visit.closed_at or past.visit.started_at,
    )
    fit = found.verdict.verdict is Verdict.FIT and not shelf.limits_in_doubt
    return _learned(before, past, shelf) if fit else before


def _learned(before: Baseline, past: Case, shelf: Shelf) -> Baseline:
    """The baseline taught by the as-left numbers of a good visit."""
    numbers = numbers_read(past, shelf.catalogue, stage=Stage.AS_LEFT)
    conditions = conditions_of(past, shelf, stage=Stage.AS_LEFT)
    return after_good_visit(before, numbers, sheet=sheet_of(past, shelf), conditions=conditions)

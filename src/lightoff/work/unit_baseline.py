"""What this very heater's good visits have taught: its baseline, for bands and for fault finding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lightoff.judging.assessment import Verdict
from lightoff.plant.band import linearised
from lightoff.plant.baseline import Baseline, taught, unknown_unit
from lightoff.plant.quantities import COLUMN, QUANTITIES, compared
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import Stage
from lightoff.work.assess_case import assess_case, sheet_of
from lightoff.work.last_few import LastFew
from lightoff.work.read_numbers import conditions_of, numbers_read

_taught: LastFew[Baseline] = LastFew(64)


def unit_baseline(case: Case, shelf: Shelf) -> Baseline:
    """The baseline from the earlier visits that ended fit as tested, oldest first; the priors without any.

    The last few are kept. Raises NotFound for a sheet that is not on the shelf.
    """
    known = (
        shelf.sha256,
        sheet_of(case, shelf).sha256,
        case.heater,
        case.vehicle.kind,
        case.history,
        tuple(sorted(case.instruments.items())),
        case.conflicts,
    )
    return _taught.of(known, lambda: _learned(case, shelf))


def _learned(case: Case, shelf: Shelf) -> Baseline:
    baseline = unknown_unit()
    for at, visit in enumerate(case.history):
        past = replace(case, visit=visit, history=case.history[:at])
        # An open visit or one that a conflict touches teaches nothing: its verdict is not fit.
        if visit.closed_at is None:
            continue
        if assess_case(past, shelf, visit.closed_at).verdict.verdict is Verdict.FIT:
            baseline = _after(baseline, past, shelf)
    return baseline


def _after(baseline: Baseline, past: Case, shelf: Shelf) -> Baseline:
    """The baseline taught by the as-left numbers of one good visit."""
    numbers = numbers_read(past, shelf.catalogue, stage=Stage.AS_LEFT)
    keys = [key for key in QUANTITIES if key in numbers]
    if not keys:
        return baseline
    columns = [COLUMN[key] for key in keys]
    middle, slopes = linearised(
        sheet_of(past, shelf), conditions_of(past, shelf, stage=Stage.AS_LEFT), unknown_unit()
    )
    read = np.zeros((3, len(QUANTITIES)))
    for key, column in zip(keys, columns, strict=True):
        number = numbers[key]
        read[:, column] = number.value, number.value + number.spread, number.value - number.spread
    scaled = compared(read)[:, columns]
    slack = np.array([QUANTITIES[key].slack for key in keys])
    return taught(
        baseline,
        jacobian=slopes[columns],
        residual=scaled[0] - middle[columns],
        noise=np.hypot(slack, 0.5 * np.abs(scaled[1] - scaled[2])),
    )

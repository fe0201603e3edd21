"""What one good visit teaches of a unit: its readings against what the model says of it by then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from lightoff.plant.band import linearised
from lightoff.plant.baseline import Baseline, on_that_day, taught
from lightoff.plant.conditions import Conditions
from lightoff.plant.number import Number, Side
from lightoff.plant.quantities import COLUMN, DOUBT, QUANTITIES, compared
from lightoff.terms.shelf import Sheet

ROUNDS = 3
"""How often the model is laid straight again at what was learned: near the smoke point it bends."""


def after_good_visit(
    baseline: Baseline, numbers: Mapping[str, Number], *, sheet: Sheet, conditions: Conditions
) -> Baseline:
    """The baseline after one more visit that ended fit. `numbers` by key of what the model predicts, SI.

    One of which only a side is known teaches nothing. A reading lies further from the model than it repeats;
    so much is not laid to the unit.
    Basis: common practice (Bayes' rule, the model laid straight again at its answer).
    """
    keys = [key for key in QUANTITIES if key in numbers and numbers[key].side is Side.EXACT]
    columns = np.array([COLUMN[key] for key in keys], dtype=np.intp)
    read = np.zeros((3, len(QUANTITIES)))
    for key, column in zip(keys, columns, strict=True):
        number = numbers[key]
        read[:, column] = number.value, number.value + number.spread, number.value - number.spread
    values = compared(read)[:, columns]
    repeats = DOUBT * np.array([QUANTITIES[key].slack for key in keys])
    noise = np.hypot(repeats, 0.5 * np.abs(values[1] - values[2]))
    on_the_day = baseline
    for _ in range(ROUNDS):
        middle, slopes = linearised(sheet, conditions, on_the_day)
        jacobian = slopes[columns]
        residual = values[0] - middle[columns] + jacobian @ on_the_day.mean
        told = {"jacobian": jacobian, "residual": residual, "noise": noise}
        on_the_day = replace(baseline, mean=on_that_day(baseline, **told)[0])
    after = taught(baseline, **told)
    times = baseline.times.copy()
    times[columns] += 1
    return replace(after, times=times)

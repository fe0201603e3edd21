"""How likely what was read, seen and tried is, given what the model says of one heater in one state.

The same for the nodes of the bank and for single rows of the model.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import repair_key
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.ground.values import dataclass
from lightoff.physics.normal import log_cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.number import Side
from lightoff.plant.quantities import COLUMN, QUANTITIES, compared

REPAIR_FAILS = 0.04
"""A repair that was done and did not cure its own fault. Judgement, no source."""
CURED_BY_CHANCE = 0.02
LEAST_CHANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Read:
    """Numbers read, on the scale compared: those told exactly, and `beyond` those of which only a side is."""

    columns: NDArray[np.intp]
    values: Array
    noise: Array
    beyond: tuple[tuple[int, float, float, Side], ...]  # column, value, noise, side


def read(bank: Bank, evidence: Evidence) -> Read:
    """The numbers of this evidence in the order of the quantities."""
    known = [key for key in QUANTITIES if key in evidence.numbers]
    exact = [key for key in known if evidence.numbers[key].side is Side.EXACT]
    return Read(
        np.array([COLUMN[key] for key in exact], dtype=np.intp),
        np.array([on_scale(key, evidence.numbers[key].value) for key in exact]),
        np.array([read_spread(bank, key, evidence) for key in exact]),
        tuple(
            (COLUMN[key], on_scale(key, number.value), read_spread(bank, key, evidence), number.side)
            for key in known
            if (number := evidence.numbers[key]).side is not Side.EXACT
        ),
    )


def read_spread(bank: Bank, key: str, evidence: Evidence) -> float:
    """Standard deviation of one number as read, on the scale compared: repeat and instrument together."""
    quantity, number = QUANTITIES[key], evidence.numbers.get(key)
    scale = 1.0
    if quantity.floor > 0.0:
        scale = 1.0 / (max(number.value, 0.0) + quantity.floor) if number else 0.0
    return float(np.hypot(bank.doubt(key) * quantity.slack, number.spread * scale if number else 0.0))


def on_scale(key: str, value: float) -> float:
    """A number on the scale on which it is compared."""
    row = np.full(len(QUANTITIES), value)
    return float(compared(row)[COLUMN[key]])


def side_log(mean: Array, spread: Array, value: float, side: Side) -> Array:
    """Log chance that a number lies beyond `value`."""
    off = (mean - value) / spread
    return log_cumulative(off if side is Side.ABOVE else -off)


def fit_log(chances: Array, fits: Mapping[str, float]) -> Array:
    """Log chance of what was seen; an unsure look weighs several states."""
    weights = list(fits.values())
    sure = [at for at, weight in enumerate(weights) if weight > 0.0]
    seen = chances[..., sure[0]] * weights[sure[0]] if len(sure) == 1 else chances @ np.asarray(weights)
    return np.log(np.maximum(seen, LEAST_CHANCE))


def gates(evidence: Evidence, lit: Array, runs: Array, asked: Array) -> Array:
    """Log chance that the numbers could be read at all: no flue gas without a flame."""
    log = np.zeros(lit.shape)
    needs_flame = any(QUANTITIES[key].needs_flame for key in evidence.numbers if key in QUANTITIES)
    needs_trial = any(QUANTITIES[key].needs_trial for key in evidence.numbers if key in QUANTITIES)
    if needs_trial and not needs_flame:
        log = log + np.log(np.maximum(asked, 1e-4))
    if needs_flame:
        # Some are read in the minutes before it dies.
        log = log + np.log(np.maximum(lit * (0.3 + 0.7 * runs), 1e-4))
    elif "time_to_light" in evidence.numbers:
        log = log + np.log(np.maximum(lit, 1e-4))
    if "run_time_before_stop" in evidence.numbers:
        log = log + np.log(np.maximum(lit * (1.0 - runs), 1e-4))
    return log


def tried(bank: Bank, evidence: Evidence) -> list[tuple[str, bool]]:
    """Trials done, and whether it ran well."""
    return [
        (key, outcome is Outcome.CURED)
        for key, outcome in sorted(evidence.trials.items())
        if outcome is not Outcome.NOT_DONE and key in bank.trials
    ]


def repaired_log(bank: Bank, evidence: Evidence, sets: Sequence[tuple[str, ...]]) -> Array:
    """Log chance of how the repairs done ended, given each set of faults that may have been wrong, (sets,).

    A repair takes away every fault that it mends: a new igniter is neither open nor weak. Of several faults
    the heater runs well only after the last of their repairs.
    """
    done: dict[str, Outcome] = {}
    for key, outcome in sorted(evidence.repairs.items()):
        if outcome is not Outcome.NOT_DONE and key in bank.faults:
            repair = repair_key(bank.faults[key])
            done[repair] = Outcome.CURED if Outcome.CURED in (outcome, done.get(repair)) else outcome
    if not done:
        return np.zeros(len(sets))
    mends = {key: repair_key(fault) for key, fault in bank.faults.items()}
    by_chance = {repair: _ended(outcome, CURED_BY_CHANCE) for repair, outcome in done.items()}
    surely = {repair: _ended(outcome, 1.0 - REPAIR_FAILS) for repair, outcome in done.items()}
    known, every, sound = done.keys(), sum(by_chance.values()), sum(surely.values())
    logs = []
    for faults in sets:
        needed = {mends[key] for key in faults}
        if not needed or not needed <= known:
            logs.append(every if needed else sound)
            continue
        last = max(needed, key=lambda repair: (done[repair] is Outcome.CURED, repair))
        logs.append(every - by_chance[last] + surely[last])
    return np.array(logs)


def _ended(outcome: Outcome, cured: float) -> float:
    return float(np.log(cured if outcome is Outcome.CURED else 1.0 - cured))

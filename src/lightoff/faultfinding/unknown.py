"""What is held of a fault that nobody wrote down: it may put any reading anywhere."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.densities import log_student
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.observed import CURED_BY_CHANCE, fit_log, on_scale, read_spread, side_log, tried
from lightoff.physics.uncertain import Array
from lightoff.plant.number import Side
from lightoff.plant.quantities import COLUMN, QUANTITIES

UNKNOWN_WIDTH = 6.0
"""How much wider than a sound heater's the spread of a fault nobody wrote down is taken. Judgement."""
UNKNOWN_TAIL = 3.0
"""Such a fault may put any number anywhere: a far heavier tail than that of the known ones. Judgement."""
UNLIKE_ANY = 0.2
"""Share of its looks that no known fault shows, as likely one as another. Judgement."""
UNKNOWN_KEY = "unknown"


def unknown_log(bank: Bank, evidence: Evidence) -> float:
    """Log weight of a fault that nobody wrote down, with all that is known."""
    log = float(np.log(bank.beliefs.unknown)) + sum(unknown_said(bank, evidence).values())
    for key, outcome in sorted(evidence.repairs.items()):
        if key in bank.faults and outcome is not Outcome.NOT_DONE:
            log += float(np.log(CURED_BY_CHANCE if outcome is Outcome.CURED else 1.0 - CURED_BY_CHANCE))
    return log


def unknown_said(bank: Bank, evidence: Evidence) -> Mapping[str, float]:
    """Log chance of each number, state and trial under such a fault: a sound heater's numbers, far wider;
    mean states."""
    said = {key: _number_log(bank, evidence, key) for key in sorted(evidence.numbers) if key in QUANTITIES}
    for reading in sorted(evidence.states):
        if reading in bank.singles.chances:
            fits = evidence.states[reading]
            said[reading] = float(fit_log(states_of_unknown(bank, reading), fits))
    for key, well in tried(bank, evidence):
        cured = cured_of_unknown(bank, key)
        said[key] = float(np.log(cured if well else 1.0 - cured))
    return said


def number_of_unknown(bank: Bank, evidence: Evidence, key: str) -> tuple[float, float]:
    """Middle and width of a number under such a fault, on the scale compared."""
    nodes, at = bank.singles, COLUMN[key]
    width = np.hypot(nodes.widths[0, at] * UNKNOWN_WIDTH, read_spread(bank, key, evidence))
    # What the known faults reach, an unknown one reaches too.
    return float(nodes.mean[0, 0, at]), float(np.hypot(width, 0.7 * np.std(nodes.mean[:, :, at])))


def states_of_unknown(bank: Bank, reading: str) -> Array:
    """Chance of each state of a look under such a fault, (states,)."""
    chances = bank.singles.chances[reading]
    mean = chances.mean(axis=(0, 1, 2))
    return np.asarray((1.0 - UNLIKE_ANY) * mean + UNLIKE_ANY / chances.shape[3])


def cured_of_unknown(bank: Bank, trial: str) -> float:
    """Chance that a heater with such a fault runs well in a trial."""
    return float(bank.singles.cured[trial].mean())


def _number_log(bank: Bank, evidence: Evidence, key: str) -> float:
    middle, width = number_of_unknown(bank, evidence, key)
    value, side = on_scale(key, evidence.numbers[key].value), evidence.numbers[key].side
    if side is not Side.EXACT:
        return float(side_log(np.array([middle]), np.array([width]), value, side)[0])
    off = np.array([(value - middle) / width])
    return float(log_student(off**2, np.log([width]), count=1, tail=UNKNOWN_TAIL)[0])

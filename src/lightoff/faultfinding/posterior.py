"""From evidence to the chance of each suspicion.

First every node of the bank by its linear model, then the likely sets again with rows of the model itself.
Everything is a sum over readings in the catalogue's order, so that the order of entry cannot matter.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.densities import log_student
from lightoff.faultfinding.evidence import Evidence, Outcome, Side
from lightoff.faultfinding.observed import CURED_BY_CHANCE, fit_log, on_scale, read_spread, side_log, tried
from lightoff.faultfinding.sharpening import sharpened
from lightoff.faultfinding.weighing import PAIRS_LOOKED_AT, Weighed, weigh
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, QUANTITIES

__all__ = ["UNKNOWN_KEY", "Posterior", "Weighed", "posterior", "read_spread", "unknown_log"]

UNKNOWN_WIDTH = 6.0
"""How much wider than a sound heater's the spread of a fault nobody wrote down is taken. Judgement."""
UNKNOWN_TAIL = 3.0
"""Such a fault may put any number anywhere: a far heavier tail than that of the known ones. Judgement."""
UNLIKE_ANY = 0.2
"""Share of its looks that no known fault shows, as likely one as another. Judgement."""
UNKNOWN_KEY = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Chance of each set; the empty set is "nothing wrong", the last one what the catalogue lacks."""

    sets: tuple[tuple[str, ...], ...]
    chances: Array
    log_score: float
    weighed: tuple[Weighed, ...]

    def of(self, key: str) -> float:
        """Chance that this fault is there, alone or with another."""
        return float(sum(chance for each, chance in zip(self.sets, self.chances, strict=True) if key in each))

    def faults(self) -> Mapping[str, float]:
        """Chance of each fault, alone or with another; "unknown" for what the catalogue lacks."""
        found: dict[str, float] = {}
        for each, chance in zip(self.sets, self.chances, strict=True):
            for key in each:
                found[key] = found.get(key, 0.0) + float(chance)
        return found

    @property
    def sound(self) -> float:
        """Chance that nothing is wrong."""
        return float(self.chances[self.sets.index(())])


def posterior(bank: Bank, evidence: Evidence, *, pairs: bool = True, sharp: bool = True) -> Posterior:
    """Chances of all suspicions. `pairs=False` answers at once, before pairs of faults are looked at;
    `sharp=False` by the linear model alone, for comparing many evidences with each other."""
    parts = [weigh(bank, bank.singles, evidence)]
    if pairs:
        parts.append(weigh(bank, bank.pairs, evidence, most=PAIRS_LOOKED_AT))
    unknown = unknown_log(bank, evidence)
    if sharp:
        logs = sharpened(bank, evidence, parts, unknown)
        parts = [replace(part, log_evidence=log) for part, log in zip(parts, logs, strict=True)]
    every = np.concatenate([*(part.log_evidence for part in parts), [unknown]])
    top = float(every.max())
    weights = np.exp(every - top)
    return Posterior(
        sets=(*(each for part in parts for each in part.sets), (UNKNOWN_KEY,)),
        chances=weights / weights.sum(),
        log_score=top + float(np.log(weights.sum())),
        weighed=tuple(parts),
    )


def unknown_log(bank: Bank, evidence: Evidence) -> float:
    """Log weight of a fault that nobody wrote down: a sound heater's numbers, far wider; mean states."""
    nodes = bank.singles
    log = float(np.log(bank.beliefs.unknown))
    for key in sorted(evidence.numbers):
        if key not in QUANTITIES:
            continue
        at = COLUMN[key]
        width = np.hypot(nodes.widths[0, at] * UNKNOWN_WIDTH, read_spread(bank, key, evidence))
        # What the known faults reach, an unknown one reaches too.
        width = float(np.hypot(width, 0.7 * np.std(nodes.mean[:, :, at])))
        value, side = on_scale(key, evidence.numbers[key].value), evidence.numbers[key].side
        middle = nodes.mean[0, 0, at : at + 1]
        if side is not Side.EXACT:
            log += float(side_log(middle, np.array([width]), value, side)[0])
            continue
        off = (value - middle) / width
        log += float(log_student(off**2, np.log([width]), count=1, tail=UNKNOWN_TAIL)[0])
    for reading in sorted(evidence.states):
        if reading in nodes.chances:
            chances = nodes.chances[reading]
            mean = chances.mean(axis=(0, 1, 2))
            mean = (1.0 - UNLIKE_ANY) * mean + UNLIKE_ANY / chances.shape[3]
            log += float(fit_log(mean, evidence.states[reading]))
    for key, outcome in sorted(evidence.repairs.items()):
        if key in bank.faults and outcome is not Outcome.NOT_DONE:
            log += float(np.log(CURED_BY_CHANCE if outcome is Outcome.CURED else 1.0 - CURED_BY_CHANCE))
    for key, well in tried(bank, evidence):
        cured = float(nodes.cured[key].mean())
        log += float(np.log(cured if well else 1.0 - cured))
    return log

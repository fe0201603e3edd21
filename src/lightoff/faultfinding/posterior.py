"""From evidence to the chance of each suspicion.

First every node of the bank by its linear model, then the likely sets again with rows of the model itself.
Everything is a sum over readings in the catalogue's order, so that the order of entry cannot matter.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.observed import read_spread
from lightoff.faultfinding.sharpening import sharpened
from lightoff.faultfinding.unknown import UNKNOWN_KEY, unknown_log
from lightoff.faultfinding.weighing import PAIRS_LOOKED_AT, Weighed, weigh
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array

__all__ = ["UNKNOWN_KEY", "Posterior", "Weighed", "posterior", "read_spread", "unknown_log"]


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

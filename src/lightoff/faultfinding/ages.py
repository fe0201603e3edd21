"""How old a part is, as a prior of the faults that wear brings about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.terms.part import FittedPart
from lightoff.terms.shelf import Fault, PartType

TYPICAL_OF_LIFE = 0.5
"""The age at which a fault is met as often as its weight says, as a share of the part's life: somewhere
between new and worn out. Judgement, no source."""
MOST = 4.0
"""How many times likelier or less likely an age makes a fault at most: it moves the ranking and never settles
it, lives being known far worse than what is read. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Age:
    """The age of the piece that a fault is one of. `used` and `life` are in the unit of its type's `clock`.

    `ratio` is how many times likelier it makes the fault than a piece of the typical age.
    """

    part: str
    clock: str  # "run_hours", "starts" or "months"
    used: float
    life: float
    ratio: float


def ages_of(
    fitted: Iterable[FittedPart], part_types: Mapping[str, PartType], faults: Mapping[str, Fault]
) -> Mapping[str, Age]:
    """The age that moves each fault, by fault; none where nobody can say how old the piece is.

    Ratio of Weibull hazards at one life and shape, those in the middle of what the shelf holds of the part
    type: (age / typical age) to the power of shape less one. A shop's own lives do not count here, for a
    visit file has no shop and tells the same. A type that fails by chance (shape at most 1) is not moved. Of
    several pieces the oldest for its life tells.

    What work alone brings about (left unprimed, the wrong way up, of the wrong size) is not moved. Of what
    age brings about as well (`Fault.wears`: a seal, a ring) only wear's own part is (`with_work`): what was
    touched last speaks of the rest, and a piece that was just renewed would speak once for the fault and
    once against it.
    """
    found: dict[str, Age] = {}
    for each in fitted:
        kind = part_types.get(each.kind)
        used = None if kind is None else getattr(each, kind.clock)
        if kind is None or used is None:
            continue
        age = Age(
            part=kind.key,
            clock=kind.clock,
            used=float(used),
            life=kind.life,
            ratio=hazard_ratio(float(used) / kind.life, kind.shape),
        )
        for key in kind.faults:
            if key in faults and faults[key].wears:
                found[key] = max(found.get(key, age), age, key=_rank)
    return found


def hazard_ratio(share_of_life: float, shape: float) -> float:
    """Hazard at an age over that at the typical one, within 1 / `MOST` to `MOST`; never less for an older."""
    ratio = (share_of_life / TYPICAL_OF_LIFE) ** max(shape - 1.0, 0.0)
    return float(np.clip(ratio, 1.0 / MOST, MOST))


def with_work(age: Age, fault: Fault, touched: float) -> tuple[float, float]:
    """How many times likelier an age makes a fault that work brings about too, and how many times such work
    then raises it. `touched`: how likely such work was the last on any heater.

    Work adds what it added at the typical age, whatever the age; what is left is wear's and moves with it.
    """
    added = fault.after_factor - 1.0
    return (age.ratio + touched * added) / (1.0 + touched * added), 1.0 + added / age.ratio


def _rank(age: Age) -> tuple[float, float, str]:
    return age.ratio, age.used / age.life, age.part

"""Everything that is known about one visit, gathered before it is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from lightoff.ground.values import dataclass
from lightoff.terms.conflict import Conflict
from lightoff.terms.part import FittedPart
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Vehicle
from lightoff.terms.visit import Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One visit with the nouns around it; `history` holds this heater's earlier visits, oldest first.

    `conflicts` are what entries of all these nouns contradict each other in. `fitted` are the pieces that
    sat in the heater as the visit began, in any order; only the search for a fault goes by them.
    """

    visit: Visit
    heater: Heater
    vehicle: Vehicle
    owner: Owner
    instruments: Mapping[str, Instrument]
    history: tuple[Visit, ...] = ()
    shop: Shop = field(default_factory=Shop)
    conflicts: tuple[Conflict, ...] = ()
    fitted: tuple[FittedPart, ...] = ()

"""Owners and vehicles that a new heater may belong to."""

from __future__ import annotations

from lightoff.ground.values import dataclass
from lightoff.terms.people import Owner, Vehicle
from lightoff.work.workshop import Workshop

MOST_LINES = 60
MOST_EACH = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the words found: vehicles with their owners, and owners; the latest visited first."""

    vehicles: tuple[tuple[Vehicle, Owner], ...]
    owners: tuple[tuple[Owner, tuple[str, ...]], ...]  # with the names of the vehicles that were found


def find_known(workshop: Workshop, text: str) -> Known:
    """Vehicles and owners by any words of owner, vehicle, heater, number or registration."""
    if not text.strip():
        return Known(vehicles=(), owners=())
    lines = workshop.book.search(text, limit=MOST_LINES)
    vehicles = {each.vehicle.id: (each.vehicle, each.owner) for each in lines}
    owners: dict[str, tuple[Owner, dict[str, None]]] = {}
    for each in lines:
        owners.setdefault(each.owner.id, (each.owner, {}))[1][each.vehicle.name] = None
    return Known(
        vehicles=tuple(vehicles.values())[:MOST_EACH],
        owners=tuple((owner, tuple(names)) for owner, names in owners.values())[:MOST_EACH],
    )

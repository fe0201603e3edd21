"""The notebook of one invented visit: what meters show of a true value, and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import datetime, timedelta
from decimal import Decimal
from hashlib import sha256

import numpy as np

from lightoff.ground import units
from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.ground.values import dataclass
from lightoff.plant.quantities import QUANTITIES
from lightoff.terms.people import Heater
from lightoff.terms.shelf import Accuracy, Catalogue
from lightoff.terms.visit import Event, EventKind, Reading, Stage

METER_OFF, METER_RESTLESS = 0.25, 0.06
"""Of the class's expanded uncertainty: how far a meter is off on a visit, and from one look to the next."""
HAND_OFF = 0.4
"""Of how well a careful reading repeats: how far the state itself is off while it lasts."""
_DECIMALS = {"%": 1, "ppm": 0, "degC": 0, "V": 1, "A": 1, "ohm": 2, "s": 0, "mL": 0, "kPa": 1, "mV": 0}


@dataclass(slots=True, kw_only=True)
class Notebook:
    """Readings and events of one visit with their times; `meters` names the shop's instrument of a class.

    What lies after `until` has not happened yet.
    """

    rng: np.random.Generator
    heater: Heater
    started_at: datetime
    until: datetime | None
    meters: Mapping[str, str]
    catalogue: Catalogue
    readings: list[Reading] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    _off: dict[str, float] = field(default_factory=dict)

    def at(self, minute: float) -> datetime:
        """The moment so many minutes into the visit."""
        return self.started_at + timedelta(seconds=round(60 * minute))

    def measured(self, key: str, minute: float, true: float, stage: Stage, **more: object) -> None:
        """A number as a meter of its class shows it, SI in; beyond its range it shows its top."""
        entry = self.catalogue.entries[key]
        quantity = QUANTITIES.get(key)
        kind, accuracy = self._meter(key)
        # Oxygen and carbon dioxide are of one flame: no hand moves one without the other.
        if quantity is not None and quantity.dimension != "gas_fraction":
            hand = HAND_OFF * quantity.slack * self._drawn(f"{key} {stage}")
            true = (true + quantity.floor) * np.exp(hand) - quantity.floor if quantity.floor else true + hand
        value = units.from_si(true, entry.unit)
        if accuracy is not None:
            width = max(float(accuracy.absolute), float(accuracy.relative) * abs(value))
            width = units.width_from_si(units.width_to_si(width, accuracy.unit), entry.unit)
            value += width * (METER_OFF * self._drawn(key) + METER_RESTLESS * float(self.rng.normal()))
            if value >= float(accuracy.high):
                more |= {"at_top": True, "unit": entry.unit, "instrument": self.meters.get(kind)}
                self._add(key, minute, stage, **more)
                return
        more.setdefault("instrument", self.meters.get(kind))
        self.told(key, minute, value, stage, decimals=_DECIMALS.get(entry.unit, 1), **more)

    def told(
        self, key: str, minute: float, value: float, stage: Stage, *, decimals: int = 0, **more: object
    ) -> None:
        """A number as it stands, in the catalogue's unit."""
        unit = self.catalogue.entries[key].unit
        shown = Decimal(f"{value if unit == 'degC' else max(value, 0.0):.{decimals}f}")
        self._add(key, minute, stage, value=shown, unit=unit, confirmed=shown == 0, **more)

    def state(self, key: str, minute: float, state: str, stage: Stage, **more: object) -> None:
        """A state as it is seen."""
        self._add(key, minute, stage, state=state, **more)

    def event(self, kind: EventKind, minute: float) -> None:
        """A moment from which the clocks run."""
        at = self.at(minute)
        if self.until is None or at < self.until:
            self.events.append(Event(id=self._id(at), heater=self.heater.id, kind=kind, at=at))

    def adjusted(self, minute: float) -> None:
        """The air was set anew. Its id is drawn from what it says: all other chance stays as it was."""
        at = self.at(minute)
        if self.until is None or at < self.until:
            chance = sha256(f"{self.heater.id} {at.isoformat()}".encode()).digest()[:RANDOM_BYTES]
            own = time_ordered_id(at, chance)
            self.events.append(Event(id=own, heater=self.heater.id, kind=EventKind.ADJUSTED, at=at))

    def _meter(self, key: str) -> tuple[str, Accuracy | None]:
        classes = self.catalogue.entries[key].classes
        for kind in classes:
            if kind in self.catalogue.classes and key in self.catalogue.classes[kind].accuracies:
                return kind, self.catalogue.classes[kind].accuracies[key]
        return "", None

    def _drawn(self, what: str) -> float:
        """One draw for the whole visit."""
        if what not in self._off:
            self._off[what] = float(self.rng.normal())
        return self._off[what]

    def _add(self, key: str, minute: float, stage: Stage, **more: object) -> None:
        at = self.at(minute)
        if self.until is not None and at >= self.until:
            return
        if stage is Stage.AS_LEFT:
            more.setdefault("test", "1")
        self.readings.append(
            Reading(
                id=self._id(at),
                heater=self.heater.id,
                key=key,
                stage=stage,
                taken_at=at,
                **more,  # type: ignore[arg-type]
            )
        )

    def _id(self, at: datetime) -> str:
        return time_ordered_id(at, self.rng.bytes(RANDOM_BYTES))

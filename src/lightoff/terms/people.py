"""Who owns what, and with what it is measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import date
from decimal import Decimal
from enum import StrEnum

from lightoff.ground.values import dataclass


class VehicleKind(StrEnum):
    """Where a heater lives."""

    COACH = "coach"
    BOAT = "boat"
    CABIN = "cabin"
    WORKSHOP = "workshop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """The person who gets the report."""

    id: str
    name: str
    address: str = ""
    telephone: str = ""
    email: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """A coach, boat, cabin or workshop with at least one heater."""

    id: str
    owner: str
    name: str
    kind: VehicleKind
    description: str = ""
    registration: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heater:
    """One unit in one vehicle. `sheet` is the key of its type on the shelf."""

    id: str
    vehicle: str
    name: str
    sheet: str
    serial: str = ""
    fitted_on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The range an instrument shows for one quantity, as its own sheet gives it."""

    key: str
    low: Decimal
    high: Decimal
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One meter the shop owns. `kind` is an instrument class of the shelf, which gives its accuracy.

    `spans` may narrow the ranges of the class, never widen them. `earlier_calibrations` keep an old visit
    judged by the calibration that was valid then. `o2_basis` is how this very meter reads oxygen, as its
    own sheet says: "dry" where it draws the gas through a water trap, "wet" where its cell sits in the hot
    gas, "" where nobody said. It fills the field of a visit; a judgement takes what the reading says, so it
    is no part of the hash of what was judged, which rests on `repr`.
    """

    id: str
    name: str
    kind: str
    serial: str = ""
    calibrated_on: date | None = None
    earlier_calibrations: tuple[date, ...] = ()
    spans: tuple[Span, ...] = ()
    retired: bool = False
    o2_basis: str = field(default="", repr=False)

    def calibrated_by(self, day: date) -> date | None:
        """The calibration that was valid on a day: the last one till then; None where none is known."""
        if self.calibrated_on is None:
            return None
        every = (self.calibrated_on, *self.earlier_calibrations)
        return max((each for each in every if each <= day), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """Whose name stands on the report, and how its people like to read."""

    name: str = ""
    address: str = ""
    telephone: str = ""
    email: str = ""
    technician: str = ""
    units: str = "metric"
    language: str = "en"
    paper: str = "a4"
    invented: bool = False
    prices_on_report: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Planning:
    """What the shop reckons with when it says what to renew, whom to visit and what to carry.

    Money is the shop's own; `spring_month` and `spring_day` end the season, by default as north of the
    equator, and whatever speaks of a season takes it from them; `service_months` is the longest
    time from one complete service to the next and `service_hours` the most run hours between them, 0 for no
    limit by hours; `usual_price` is taken for a part without a price; `failure` is what a failure in the
    season costs beside part, work and trip; `spare_share` what carrying a spare for a season costs, of its
    price.
    Basis of every default: common practice, no source: a judgement.
    """

    spring_month: int = 5
    spring_day: int = 1
    service_months: int = 12
    service_hours: int = 0
    hour_rate: Decimal = Decimal(100)
    trip: Decimal = Decimal(120)
    failure: Decimal = Decimal(150)
    second_trip: Decimal = Decimal(150)
    usual_price: Decimal = Decimal(50)
    spare_share: Decimal = Decimal("0.10")


PLANNING_BOUNDS: Mapping[str, tuple[Decimal, Decimal]] = {
    "spring_month": (Decimal(1), Decimal(12)),
    "spring_day": (Decimal(1), Decimal(28)),
    "service_months": (Decimal(1), Decimal(60)),
    "service_hours": (Decimal(0), Decimal(20_000)),
    "hour_rate": (Decimal(0), Decimal(1_000_000)),
    "trip": (Decimal(0), Decimal(1_000_000)),
    "failure": (Decimal(0), Decimal(1_000_000)),
    "second_trip": (Decimal(0), Decimal(1_000_000)),
    "usual_price": (Decimal("0.01"), Decimal(1_000_000)),
    "spare_share": (Decimal(0), Decimal(1)),
}
"""Beyond these a number is a slip of the pen. Common practice, no source."""

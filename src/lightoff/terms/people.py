"""Who owns what, and with what it is measured."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum


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
    judged by the calibration that was valid then.
    """

    id: str
    name: str
    kind: str
    serial: str = ""
    calibrated_on: date | None = None
    earlier_calibrations: tuple[date, ...] = ()
    spans: tuple[Span, ...] = ()
    retired: bool = False


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

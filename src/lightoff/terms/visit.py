"""A visit and what was read, seen and done on it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from decimal import Decimal
from enum import StrEnum
from typing import TypeAlias

from lightoff.ground.values import dataclass
from lightoff.terms.part import Move, StepDone

MOST_OFFSET_MINUTES = 14 * 60 + 59
"""No clock is further ahead of UTC or behind it: the furthest are 14 h ahead. From memory, unverified."""
GROUPED = "grouped"
"""The `basis` of a reading that one tap answered together with others: it closes no gate."""
BY_PHOTOGRAPH = "by photograph"
"""The `basis` of a reading that was read off a photograph: it may count against, and closes no gate."""
SMOKE_BY_PHOTOGRAPH = Decimal(1)
"""Least half width of a smoke number read off a photograph, in smoke numbers: one whole step. It was proven
on drawn photographs only; until real papers, read by eye beside a bought scale, say what telephones make of
them, none is taken for better. Basis: common practice, no source."""


class Stage(StrEnum):
    """Before the work, or after it. Only as-left readings of one test can give fit."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"


class EventKind(StrEnum):
    """Moments from which the clocks of a test run."""

    FLAME = "flame"  # the heater lit
    FLAME_OUT = "flame out"  # it died, or was switched off
    ADJUSTED = "adjusted"  # air, fuel or atomising setting moved
    OPENED = "opened"  # fuel, exhaust or burner opened
    CLOSED_UP = "closed up"  # what was opened is shut again


NOT_HAD = "could not do"
"""The note of a reading that was asked for and could not be had: it holds nothing else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One thing read, seen, heard or smelled.

    `key` is of the readings catalogue. A number stands in `value` as typed, in `unit` as written;
    a state seen stands in `state`. `at_top` says the meter showed its top of range or "----".
    `basis` says how it was had, where there are several ways; GROUPED where one tap answered several,
    BY_PHOTOGRAPH where it was read off a picture.
    `confirmed` says the technician was asked about this very value and kept it.
    `typed_uncertainty` (expanded, same unit) can only ever count against the reading.
    `entered_at` later than the visit's close makes it late; `accepted_by` names who let it stand.
    """

    id: str
    heater: str
    key: str
    stage: Stage
    taken_at: datetime | None
    value: Decimal | None = None
    unit: str = ""
    state: str | None = None
    test: str | None = None
    set_number: int | None = None
    basis: str | None = None
    instrument: str | None = None
    at_top: bool = False
    confirmed: bool = False
    typed_uncertainty: Decimal | None = None
    place: str = ""
    note: str = ""
    entered_at: datetime | None = None
    corrects: str | None = None
    accepted_by: str | None = None
    photo: str | None = None

    @property
    def not_had(self) -> bool:
        """Whether it only says that it could not be had: the same to a judgement as no reading at all."""
        return self.note == NOT_HAD and self.value is None and self.state is None and not self.at_top

    @property
    def slot(self) -> Slot:
        """The place in the visit that it fills; two that stand in one place are a conflict."""
        instrument = self.instrument if self.key == "co_response" else None
        return (self.key, self.stage, self.test, self.set_number, instrument)


Slot: TypeAlias = tuple[str, Stage, str | None, int | None, str | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A moment of the visit: the flame came, the air was moved, the burner was opened."""

    id: str
    heater: str
    kind: EventKind
    at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A picture kept with the visit; its bytes lie in the book under `sha256`.

    `step` is the step of the order of work at which it was taken; its `stage` then says before or after.
    `place` is where it was taken, degrees of latitude and longitude as text; blank unless somebody wants
    that kept. It stands on the card alone: no report and no file takes it along. `cut_short`: its file breaks
    off, and somebody wants it all the same.
    """

    id: str
    heater: str
    taken_at: datetime
    sha256: str
    media_type: str
    reading_key: str | None = None
    stage: Stage | None = None
    caption: str = ""
    step: str = ""
    place: str = ""
    cut_short: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the vehicle stood, or where it goes next. SI; None where nobody said."""

    name: str = ""
    altitude_m: float | None = None
    air_temperature_k: float | None = None
    relative_humidity_fraction: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One visit to one heater: what was read, what happened, what was done.

    `utc_offset_minutes` is how far the clock where it was is ahead of UTC, None where nobody said.
    `moves` are of parts; `steps` of the order of work, each step's last word. `sealed_verdict` is how
    it ended when it was closed, `sealed_stops` what it stopped then, `sealed_content` the hash of what that
    was judged from; blank where not noted.
    """

    id: str
    heater: str
    started_at: datetime
    closed_at: datetime | None = None
    utc_offset_minutes: int | None = None
    technician: str = ""
    reason: str = ""
    complaint: str = ""
    work_done: tuple[str, ...] = ()
    service_complete: bool = False
    fuel: str = ""
    place: Place = Place()
    destination: Place | None = None
    readings: tuple[Reading, ...] = ()
    events: tuple[Event, ...] = ()
    photos: tuple[Photo, ...] = ()
    moves: tuple[Move, ...] = ()
    steps: tuple[StepDone, ...] = ()
    note: str = ""
    sealed_verdict: str = ""
    sealed_stops: tuple[str, ...] = ()
    sealed_content: str = ""

    @property
    def clock(self) -> tzinfo | None:
        """How the clock went where it was; None where nobody said."""
        ahead = self.utc_offset_minutes
        return None if ahead is None else timezone(timedelta(minutes=ahead))

    def day_of(self, when: datetime) -> date:
        """The day that it was then where the visit was; that of UTC where nobody said how its clock goes."""
        return when.astimezone(self.clock or UTC).date()


@dataclass(frozen=True, slots=True, kw_only=True)
class Close:
    """The technician ended the visit; what is entered later is late.

    `verdict` is how it ended then, `stops` what it stopped, `content` the hash of what that was judged from.
    """

    id: str
    closed_at: datetime
    verdict: str = ""
    stops: tuple[str, ...] = ()
    content: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """A person let a late reading stand. `reading` is the id of its entry."""

    id: str
    reading: str

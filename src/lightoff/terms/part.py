"""Pieces that wear: where each one sits, what happened to it, and what lies in the bins."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from lightoff.ground.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One piece with a life of its own. `kind` is the key of its part type on the shelf.

    `heater` is the one that it was made known with; where it is now its moves tell. `stamped_on` is a date
    of last renewal that it bears, which may be long before anybody here saw it.
    """

    id: str
    kind: str
    heater: str
    stamped_on: date | None = None
    serial: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedPart:
    """A piece as it sat in its heater when a visit began, with its age on each clock.

    `kind` is the key of its part type on the shelf. `months` since it was fitted new, and the run hours and
    starts since then; None where nobody can say.
    """

    kind: str
    months: Decimal | None = None
    run_hours: Decimal | None = None
    starts: Decimal | None = None


class MoveKind(StrEnum):
    """What can happen to a piece."""

    FOUND = "found in place"  # first seen, already at work
    FITTED = "fitted"
    KEPT = "kept as spare"  # taken out still good, carried for this vehicle
    FAILED = "failed"  # taken out, or found, no longer doing its work
    SCRAPPED = "scrapped"  # thrown away though it still worked: renewed by plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One thing that happened to a piece on a visit.

    `bin` is the one a fitted piece came from ("" for a spare of the vehicle, or brought by the owner).
    `why` is the reason in the technician's words, `condition` how it looked; `price` what the owner pays.
    `cause` of a failed piece is the fault that ended it, by its key on the shelf; "" where nobody said.
    """

    id: str
    heater: str
    part: str
    kind: MoveKind
    at: datetime
    bin: str = ""
    why: str = ""
    condition: str = ""
    price: Decimal | None = None
    cause: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """Where pieces of one type lie, on the van or in the shop: so many when they were last counted."""

    id: str
    kind: str
    place: str
    counted: int
    counted_at: datetime
    minimum: int = 0
    price: Decimal | None = None


class Outcome(StrEnum):
    """How a step of the order of work ended."""

    DONE = "done"
    NOT_NEEDED = "not needed"
    NOT_DONE = "not done"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepDone:
    """How one step of the order of work ended. `step` is its key; `state` what was seen, where it asks.

    `reason` is in the technician's words: why it was not done, or a note of how it was. It closes no gate:
    what a gate reads is a reading.
    `exchange` names what the answer wrote of a part, so that taking it back takes that back too: the new
    piece's own entry first, then its moves.
    """

    id: str
    heater: str
    step: str
    outcome: Outcome
    at: datetime
    state: str = ""
    reason: str = ""
    note: str = ""
    exchange: tuple[str, ...] = ()

"""The one kind of line in the book."""

from __future__ import annotations

from datetime import datetime
from typing import TypeAlias

from lightoff.ground.values import dataclass
from lightoff.terms.part import Bin, Move, Part, StepDone
from lightoff.terms.people import Heater, Instrument, Owner, Planning, Shop, Vehicle
from lightoff.terms.trace import Trace
from lightoff.terms.visit import Acceptance, Close, Event, Photo, Reading, Visit

Noun: TypeAlias = (
    "Owner | Vehicle | Heater | Instrument | Shop | Planning | Part | Bin | Trace | Visit | Reading | Event"
    " | Photo | Move | StepDone | Close | Acceptance"
)
Json: TypeAlias = "bool | int | str | list[Json] | dict[str, Json] | None"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the append-only book; numbers inside `value` are text, as typed.

    `id` is a time-ordered UUID made where the entry is made. `subject` is the id of the noun spoken of;
    a reading, event, photo, move, step, close or accept speaks of its visit and is itself known by its
    entry's id. `field` is one of these words, or "owner", "vehicle", "heater", "instrument", "shop",
    "planning", "part", "bin", "trace", "visit". `value` is the whole body of that noun without its id, or
    None: withdrawn.
    `corrects` is the id of the entry whose place this one takes; undo is a correction too.
    """

    id: str
    subject: str
    field: str
    value: Json
    author: str
    at: datetime
    corrects: str | None = None

"""Between a noun and the JSON body in which an entry carries it.

A body holds what differs from the noun's defaults; numbers are text as typed, times ISO 8601 in UTC.
What an entry itself tells (id, time of entry, what it corrects) and what other entries tell (close,
acceptance, the readings of a visit) stands in no body. Reading a body is strict: nothing unknown,
nothing of another kind, nothing that is not finite, and every fault is named at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from decimal import Decimal
from functools import cache
from typing import Any, cast, get_type_hints

from lightoff.ground import units
from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records.shapes import Shape, refused, shape_of, shown
from lightoff.terms.entry import Json, Noun
from lightoff.terms.part import Bin, Move, Part, StepDone
from lightoff.terms.people import PLANNING_BOUNDS, Heater, Instrument, Owner, Planning, Shop, Vehicle
from lightoff.terms.trace import Trace
from lightoff.terms.visit import MOST_OFFSET_MINUTES, NOT_HAD, Acceptance, Close, Event, Photo, Reading, Visit

SHOP = "shop"  # the subject of every entry that speaks of the shop: a book has one
PLANNING = "planning"  # the field of what the shop reckons with; its subject is the shop
PHOTO_MEDIA_TYPES = ("image/jpeg", "image/png", "image/webp")


NOUNS: Mapping[str, type] = {
    "owner": Owner,
    "vehicle": Vehicle,
    "heater": Heater,
    "instrument": Instrument,
    "shop": Shop,
    PLANNING: Planning,
    "part": Part,
    "bin": Bin,
    "trace": Trace,
    "visit": Visit,
    "reading": Reading,
    "event": Event,
    "photo": Photo,
    "move": Move,
    "step": StepDone,
    "close": Close,
    "accept": Acceptance,
}
_OF_THE_BOOK = (Shop, Planning)  # a book has one of each, without an id
_FIELDS: Mapping[type, str] = {noun: field for field, noun in NOUNS.items()}
# Told by the entry or by other entries, never by the body.
_TOLD_ELSEWHERE: Mapping[type, frozenset[str]] = {
    Visit: frozenset(
        {
            *("closed_at", "sealed_verdict", "sealed_stops", "sealed_content"),
            *("readings", "events", "photos", "moves", "steps"),
        }
    ),
    Reading: frozenset({"entered_at", "corrects", "accepted_by"}),
}
# Fields that name another noun: a blank one would hang in the air.
_REFERENCES: Mapping[type, tuple[str, ...]] = {
    Vehicle: ("owner",),
    Heater: ("vehicle",),
    Visit: ("heater",),
    Reading: ("heater", "key"),
    Event: ("heater",),
    Photo: ("heater", "sha256"),
    Part: ("heater", "kind"),
    Bin: ("kind", "place"),
    Trace: ("heater", "sha256"),
    Move: ("heater", "part"),
    StepDone: ("heater", "step"),
    Acceptance: ("reading",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    name: str
    required: bool
    default: object
    shape: Shape


@cache
def _parts(noun: type) -> dict[str, _Part]:
    hints = get_type_hints(noun)
    left_out = _TOLD_ELSEWHERE.get(noun, frozenset()) | {"id"}
    return {
        each.name: _Part(
            name=each.name,
            required=each.default is MISSING,
            default=each.default,
            shape=shape_of(hints[each.name]),
        )
        for each in fields(noun)
        if each.name not in left_out
    }


def field_of(noun: Noun) -> str:
    """The field of an entry that says this noun."""
    return _FIELDS[type(noun)]


def body_of(noun: Noun) -> Json:
    """The body of an entry that says this noun: what differs from its defaults, numbers as text."""
    body: dict[str, Json] = {}
    kind: type = type(noun)
    for part in _parts(kind).values():
        value = getattr(noun, part.name)
        if part.required or value != part.default:
            body[part.name] = part.shape.write(value)
    return body


def noun_of(field: str, id: str, body: Json) -> Noun:  # noqa: A002 the nouns call it so
    """The noun of kind `field` that a body says; `id` is the subject, or the entry for a visit's parts.

    Raises Refusal (Refusals for several) that names the part of the body, what it holds and the cure.
    """
    noun = NOUNS.get(field)
    if noun is None:
        said = message("records.field_unknown", field=shown(field), possible=", ".join(NOUNS))
        raise Refusal(said, field="field")
    if not isinstance(body, dict):
        raise Refusal(message("records.body_not_a_table", noun=field), field="value")
    parts, values, faults = _parts(noun), {} if noun in _OF_THE_BOOK else {"id": id}, list[Refusal]()
    for name in body.keys() - parts.keys():
        said = message("records.key_unknown", key=shown(str(name)), noun=field, possible=", ".join(parts))
        faults.append(Refusal(said, field=str(name)[:100]))
    for name, part in parts.items():
        if name in body:
            try:
                values[name] = cast(Any, part.shape.read(body[name], name))
            except Refusals as several:
                faults.extend(several.refusals)
            except Refusal as fault:
                faults.append(fault)
        elif part.required:
            faults.append(Refusal(message("records.key_missing", key=name, noun=field), field=name))
    faults.extend(_senseless(noun, values))
    if noun is Reading and not {each.field for each in faults} & {"value", "unit", "state", "at_top"}:
        faults.extend(_senseless_reading(values))
    if faults:
        raise faults[0] if len(faults) == 1 else Refusals(tuple(faults))
    return cast(Noun, noun(**values))


def _senseless(noun: type, values: Mapping[str, Any]) -> list[Refusal]:
    """What each part allows and the whole does not."""
    faults = [
        refused("records.reference_blank", name)
        for name in _REFERENCES.get(noun, ())
        if name in values and not str(values[name]).strip()
    ]
    if noun is Photo and values.get("media_type", PHOTO_MEDIA_TYPES[0]) not in PHOTO_MEDIA_TYPES:
        said = message(
            "records.photo_type", got=shown(values["media_type"]), possible=", ".join(PHOTO_MEDIA_TYPES)
        )
        faults.append(Refusal(said, field="media_type"))
    if noun is Planning:
        faults += [
            refused("records.number_outside", name, got=str(values[name]), low=str(low), high=str(high))
            for name, (low, high) in PLANNING_BOUNDS.items()
            if name in values and not low <= values[name] <= high
        ]
    ahead = values.get("utc_offset_minutes")
    if ahead is not None and abs(ahead) > MOST_OFFSET_MINUTES:
        low, high = str(-MOST_OFFSET_MINUTES), str(MOST_OFFSET_MINUTES)
        faults.append(
            refused("records.number_outside", "utc_offset_minutes", got=shown(ahead), low=low, high=high)
        )
    if noun is Trace and not faults and not _holds_together(values):
        faults.append(refused("records.trace_senseless", "burned_s"))
    set_number = values.get("set_number")
    if set_number is not None and not 1 <= set_number <= 9:
        faults.append(refused("records.set_number", "set_number", got=str(set_number)))
    return faults


def _holds_together(values: Mapping[str, Any]) -> bool:
    """Whether a log says no more burning than it recorded, and no more recording than its span."""
    try:
        span_s = Decimal((values["ended_at"] - values["began_at"]).total_seconds())
        order = (
            *(values[each] for each in ("burned_low_s", "burned_s", "burned_high_s", "logged_s")),
            span_s + 1,
        )
        return min(order[0], values["starts"], values["starts_unsure"]) >= 0 and list(order) == sorted(order)
    except KeyError:
        return True  # what is missing is told by itself


def _senseless_reading(values: Mapping[str, Any]) -> list[Refusal]:
    """A number or a state, and a number in a unit that is one."""
    value, state = values.get("value"), values.get("state")
    faults = []
    if value is not None and state is not None:
        faults.append(refused("records.reading_two_answers", "value"))
    if value is None and state is None and not values.get("at_top") and values.get("note") != NOT_HAD:
        faults.append(refused("records.reading_empty", "value"))
    if value is not None:
        try:
            units.unit(values.get("unit", ""))
        except Refusal as fault:
            faults.append(Refusal(fault.message, field="unit"))
    return faults

"""The shape of a visit file: what a person may write, table by table.

One strict base class: nothing unknown, nothing of another kind, nothing that is not finite. The JSON
Schema beside this module is made from these models; a test holds the two together.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal, NoReturn, TypeVar

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.terms.part import MoveKind, Outcome
from lightoff.terms.people import VehicleKind
from lightoff.terms.visit import EventKind, Stage
from lightoff.work import typed_numbers

MOST_ROWS = 1_000
LONGEST_TEXT = 10_000
REFUSED = "refused"  # type of the errors that carry a Message of ours
_NUMBER_SCHEMA = {
    "anyOf": [{"type": "number"}, {"type": "string", "pattern": r"^[+-]?\d{1,20}([.,]\d{1,20})?$"}],
    "description": "A number with its decimals as the instrument showed them.",
}
_TIME_SCHEMA = {
    "type": "string",
    "description": "ISO 8601 date and time. Without an offset it is local time of visit.utc_offset. "
    "hh:mm or hh:mm:ss alone is a time on the local day on which the visit started.",
}
_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)", re.ASCII)
_CLOCK = re.compile(r"\d\d:\d\d(:\d\d)?", re.ASCII)
_UNSTORABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_YEARS = range(1970, 3000)
_MOST_FIGURES = 20
Word = TypeVar("Word", bound=StrEnum)


def refuse(said: Message) -> NoReturn:
    """Tell pydantic no, in our own words."""
    raise PydanticCustomError(REFUSED, REFUSED, {"said": said})


def _text(value: object) -> str:
    if not isinstance(value, str):
        refuse(message("visit_file.not_text", got=_shown(value)))
    if len(value) > LONGEST_TEXT:
        refuse(message("visit_file.text_too_long", length=len(value), longest=LONGEST_TEXT))
    if _UNSTORABLE.search(value):
        refuse(message("visit_file.text_unstorable"))
    return value


def _name(value: object) -> str:
    text = _text(value)
    if not text.strip():
        refuse(message("visit_file.blank"))
    return text


def _number(value: object) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        refuse(message("visit_file.not_a_number", got=_shown(value)))
    if isinstance(value, Decimal):
        # 1e400 must not be written out before it is refused.
        huge = value.is_finite() and abs(value.adjusted()) > _MOST_FIGURES
        value = str(value) if huge else format(value, "f")
    try:
        return typed_numbers.number(str(value))
    except Refusal as fault:
        refuse(fault.message)


def _moment(value: object) -> datetime | time:
    """A date with a time, aware or local, or a time of day alone."""
    if isinstance(value, str):
        value = _moment_in(value.strip())
    if isinstance(value, time) and value.tzinfo is None:
        return value
    if not isinstance(value, datetime):
        refuse(message("visit_file.not_a_time", got=_shown(value)))
    if value.year not in _YEARS:
        refuse(message("visit_file.year", got=_shown(value), low=str(_YEARS[0]), high=str(_YEARS[-1])))
    return value


def _moment_in(text: str) -> object:
    try:
        return time.fromisoformat(text) if _CLOCK.fullmatch(text) else datetime.fromisoformat(text)
    except ValueError:
        return text


def _day(value: object) -> date:
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value.strip())
        except ValueError:
            refuse(message("visit_file.not_a_day", got=_shown(value)))
    if not isinstance(value, date) or isinstance(value, datetime):
        refuse(message("visit_file.not_a_day", got=_shown(value)))
    if not 1900 <= value.year < 3000:
        refuse(message("visit_file.year", got=_shown(value), low="1900", high="2999"))
    return value


def _offset(value: object) -> timezone:
    if value in ("Z", "UTC"):
        return UTC
    found = _OFFSET.fullmatch(value) if isinstance(value, str) else None
    if found is None or int(found[2]) > 14 or int(found[3]) > 59:
        refuse(message("visit_file.not_an_offset", got=_shown(value)))
    span = timedelta(hours=int(found[2]), minutes=int(found[3]))
    return timezone(-span if found[1] == "-" else span)


def _unit(value: object) -> str:
    try:
        return typed_numbers.unit_named(_text(value))
    except Refusal as fault:
        refuse(fault.message)


def _unit_of_reading(value: object) -> str:
    """The unit, or what was written: which units are possible is told where the reading is known."""
    try:
        return typed_numbers.unit_named(_text(value))
    except Refusal as fault:
        if fault.message.key != "error.unit_unknown":
            refuse(fault.message)
        return _text(value)


def _word_in(words: type[Word]) -> Callable[[object], Word]:
    known = {each.value: each for each in words}

    def read(value: object) -> Word:
        return known[word_of(value, known)]

    return read


def word_of(value: object, known: Iterable[str]) -> str:
    """One of the known words; refused with the nearest one otherwise."""
    words = tuple(known)
    if isinstance(value, str) and value in words:
        return value
    near = typed_numbers.nearest(value, words) if isinstance(value, str) else ""
    key = "visit_file.word_near" if near else "visit_file.word_unknown"
    refuse(message(key, got=_shown(value), near=near, possible=", ".join(words)))


def _word_schema(words: type[StrEnum]) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "enum": [each.value for each in words]})


def _shown(value: object) -> str:
    """What stood there, short enough for a sentence."""
    match value:
        case bool():
            return "true" if value else "false"
        case datetime() | date() | time():
            return value.isoformat()
        case str():
            return typed_numbers.shortened(value)
        case dict() | list():
            return "a table" if isinstance(value, dict) else "a list"
        case _:
            return typed_numbers.shortened(str(value))


Text = Annotated[str, PlainValidator(_text), WithJsonSchema({"type": "string", "maxLength": LONGEST_TEXT})]
Name = Annotated[
    str, PlainValidator(_name), WithJsonSchema({"type": "string", "minLength": 1, "maxLength": LONGEST_TEXT})
]
Number = Annotated[Decimal, PlainValidator(_number), WithJsonSchema(_NUMBER_SCHEMA)]
Moment = Annotated[datetime | time, PlainValidator(_moment), WithJsonSchema(_TIME_SCHEMA)]
Day = Annotated[date, PlainValidator(_day), WithJsonSchema({"type": "string", "format": "date"})]
Offset = Annotated[
    timezone,
    PlainValidator(_offset),
    WithJsonSchema({"type": "string", "pattern": r"^(Z|UTC|[+-]\d\d:\d\d)$"}),
]
UnitName = Annotated[str, PlainValidator(_unit), WithJsonSchema({"type": "string"})]
ReadingUnit = Annotated[str, PlainValidator(_unit_of_reading), WithJsonSchema({"type": "string"})]
StageWord = Annotated[Stage, PlainValidator(_word_in(Stage)), _word_schema(Stage)]
KindWord = Annotated[VehicleKind, PlainValidator(_word_in(VehicleKind)), _word_schema(VehicleKind)]
EventWord = Annotated[EventKind, PlainValidator(_word_in(EventKind)), _word_schema(EventKind)]
MoveWord = Annotated[MoveKind, PlainValidator(_word_in(MoveKind)), _word_schema(MoveKind)]
OutcomeWord = Annotated[Outcome, PlainValidator(_word_in(Outcome)), _word_schema(Outcome)]
SetNumber = Annotated[int, Field(ge=1, le=9)]
Id = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.:-]{0,99}$")]


class Strict(BaseModel):
    """What every table of the file keeps to."""

    model_config = ConfigDict(strict=True, allow_inf_nan=False, extra="forbid", frozen=True)


class Measure(Strict):
    """A number with its unit."""

    value: Number
    unit: UnitName


class ShopTable(Strict):
    """Whose name stands on the report; `invented` marks a scenario that nobody lived."""

    name: Text = ""
    address: Text = ""
    telephone: Text = ""
    email: Text = ""
    technician: Text = ""
    units: Literal["metric", "us"] = "metric"
    language: Literal["en"] = "en"
    paper: Literal["a4", "letter"] = "a4"
    invented: bool = False
    prices_on_report: bool = False


class OwnerTable(Strict):
    """Who gets the report."""

    id: Id | None = None
    name: Name
    address: Text = ""
    telephone: Text = ""
    email: Text = ""


class VehicleTable(Strict):
    """The coach, boat, cabin or workshop."""

    id: Id | None = None
    name: Name
    kind: KindWord
    description: Text = ""
    registration: Text = ""


class HeaterTable(Strict):
    """The heater; `sheet` is the key of its type on the shelf."""

    id: Id | None = None
    name: Name
    sheet: Name
    serial: Text = ""
    fitted_on: Day | None = None
    note: Text = ""


class SpanTable(Strict):
    """The range that an instrument shows for one reading."""

    key: Name
    low: Number
    high: Number
    unit: UnitName


class InstrumentTable(Strict):
    """One instrument; readings refer to it by `name`."""

    id: Id | None = None
    name: Name
    kind: Name
    serial: Text = ""
    calibrated_on: Day | None = None
    earlier_calibrations: Annotated[list[Day], Field(max_length=100)] = []
    retired: bool = False
    o2_basis: Literal["", "dry", "wet"] = ""
    span: Annotated[list[SpanTable], Field(max_length=50)] = []


class PlaceTable(Strict):
    """Where the vehicle stood, or where it goes."""

    name: Text = ""
    altitude: Measure | None = None
    air_temperature: Measure | None = None
    relative_humidity: Measure | None = None


class VisitTable(Strict):
    """The visit; `utc_offset` makes times without an offset local ones."""

    id: Id | None = None
    started_at: Moment
    closed_at: Moment | None = None
    utc_offset: Offset | None = None
    technician: Text = ""
    reason: Text = ""
    complaint: Text = ""
    work_done: Annotated[list[Text], Field(max_length=MOST_ROWS)] = []
    service_complete: bool = False
    fuel: Text = ""
    note: Text = ""
    sealed_verdict: Text = ""
    sealed_stops: Annotated[list[Text], Field(max_length=MOST_ROWS)] = []
    sealed_content: Text = ""
    place: PlaceTable = PlaceTable()
    destination: PlaceTable | None = None


class ReadingTable(Strict):
    """One reading: a number in `value` with `unit`, or a `state` seen, or `at_top`.

    In a [[set]] the fields that the set gives may be left out.
    """

    id: Id | None = None
    key: Name
    value: Number | None = None
    unit: ReadingUnit | None = None
    state: Text | None = None
    stage: StageWord | None = None
    taken_at: Moment | None = None
    test: Text | None = None
    set_number: SetNumber | None = None
    basis: Text | None = None
    instrument: Text | None = None
    at_top: bool = False
    confirmed: bool = False
    typed_uncertainty: Number | None = None
    place: Text = ""
    note: Text = ""
    entered_at: Moment | None = None
    corrects: Text | None = None
    accepted_by: Text | None = None
    photo: Text | None = None
    heater: Id | None = None


class SetTable(Strict):
    """Readings that share time, stage, test, set number or instrument, so that a person can type them."""

    taken_at: Moment | None = None
    stage: StageWord | None = None
    test: Text | None = None
    set_number: SetNumber | None = None
    instrument: Text | None = None
    reading: Annotated[list[ReadingTable], Field(max_length=MOST_ROWS)]


class EventTable(Strict):
    """A moment from which a clock runs."""

    id: Id | None = None
    kind: EventWord
    at: Moment
    note: Text = ""


class PhotoTable(Strict):
    """A picture of the visit; its bytes lie in the shop's book under `sha256`."""

    id: Id | None = None
    taken_at: Moment
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    media_type: Literal["image/jpeg", "image/png", "image/webp"]
    reading_key: Text | None = None
    stage: StageWord | None = None
    caption: Text = ""
    step: Name | Literal[""] = ""
    cut_short: bool = False


class MoveTable(Strict):
    """What happened to a part on the visit; the part is named by its id in the shop's book."""

    id: Id | None = None
    part: Id
    kind: MoveWord
    at: Moment
    bin: Text = ""
    why: Text = ""
    condition: Text = ""
    price: Number | None = None
    cause: Name | Literal[""] = ""


class StepTable(Strict):
    """How a step of the order of work ended."""

    id: Id | None = None
    step: Name
    outcome: OutcomeWord
    at: Moment
    state: Text = ""
    reason: Text = ""
    note: Text = ""
    exchange: Annotated[list[Id], Field(max_length=10)] = []


class FittedTable(Strict):
    """A piece that sat in the heater as the visit began; each age since it was fitted new."""

    kind: Name
    months: Number | None = None
    run_hours: Number | None = None
    starts: Number | None = None


class CandidateTable(Strict):
    """One of the entries that contradict each other; without `says` it was withdrawn."""

    entry: Id
    author: Text = ""
    at: Moment
    says: Text | None = None


class ConflictTable(Strict):
    """Entries of one noun that contradict each other; nothing that rests on them is proven."""

    noun: Literal[
        "owner",
        "vehicle",
        "heater",
        "instrument",
        "shop",
        "visit",
        "reading",
        "event",
        "photo",
        "part",
        "bin",
        "move",
        "step",
        "close",
        "accept",
    ]
    subject: Id
    candidate: Annotated[list[CandidateTable], Field(min_length=2, max_length=100)]


class VisitFile(Strict):
    """One visit with everything that its judgement needs."""

    model_config = ConfigDict(title="lightoff visit file")

    format: Literal["lightoff visit 1"]
    earlier_visits: Annotated[int, Field(ge=0, le=MOST_ROWS)] | None = None
    shop: ShopTable = ShopTable()
    owner: OwnerTable
    vehicle: VehicleTable
    heater: HeaterTable
    instrument: Annotated[list[InstrumentTable], Field(max_length=100)] = []
    visit: VisitTable
    set: Annotated[list[SetTable], Field(max_length=MOST_ROWS)] = []
    reading: Annotated[list[ReadingTable], Field(max_length=MOST_ROWS)] = []
    event: Annotated[list[EventTable], Field(max_length=MOST_ROWS)] = []
    photo: Annotated[list[PhotoTable], Field(max_length=MOST_ROWS)] = []
    move: Annotated[list[MoveTable], Field(max_length=MOST_ROWS)] = []
    step: Annotated[list[StepTable], Field(max_length=MOST_ROWS)] = []
    fitted: Annotated[list[FittedTable], Field(max_length=MOST_ROWS)] = []
    conflict: Annotated[list[ConflictTable], Field(max_length=MOST_ROWS)] = []


def schema() -> dict[str, Any]:
    """The JSON Schema of the visit file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:lightoff:visit-file:1",
        **VisitFile.model_json_schema(),
    }

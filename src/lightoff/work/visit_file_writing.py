"""Write a case as a visit file that reads back as the same case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from lightoff.ground import units
from lightoff.terms.case import Case
from lightoff.terms.visit import Place, Reading
from lightoff.work.visit_file_conflicts import tables_of_conflicts
from lightoff.work.visit_file_text import FORMAT

_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
_VISIT_LEFT_OUT = frozenset(
    (
        *("heater", "readings", "events", "photos", "moves", "steps", "place", "destination"),
        "utc_offset_minutes",
    )
)


def write_visit_file(case: Case) -> bytes:
    """The case in TOML, UTF-8. The heater's earlier visits are counted in it, and no part of it."""
    names = _names(case)
    visit = case.visit
    lines = [f"format = {_text(FORMAT)}", f"earlier_visits = {len(case.history)}"]
    lines += _table("[shop]", _told(case.shop))
    lines += _table("[owner]", _told(case.owner))
    lines += _table("[vehicle]", _told(case.vehicle, {"owner"}))
    lines += _table("[heater]", _told(case.heater, {"vehicle"}))
    # Those that read nothing as well: what would help most depends on what lies in the van.
    for instrument in case.instruments.values():
        lines += _table("[[instrument]]", _told(instrument, {"spans"}))
        for span in instrument.spans:
            lines += _table("[[instrument.span]]", _told(span))
    lines += _table("[visit]", _told(visit, _VISIT_LEFT_OUT) | _clock(visit.utc_offset_minutes))
    lines += _place("[visit.place]", visit.place)
    if visit.destination is not None:
        lines += _place("[visit.destination]", visit.destination) or ["", "[visit.destination]"]
    for reading in visit.readings:
        lines += _table("[[reading]]", _reading(reading, names, heater=case.heater.id))
    for event in visit.events:
        lines += _table("[[event]]", _told(event, {"heater"}))
    for photo in visit.photos:
        lines += _table("[[photo]]", _told(photo, {"heater", "place"}))
    for move in visit.moves:
        lines += _table("[[move]]", _told(move, {"heater"}))
    for step in visit.steps:
        lines += _table("[[step]]", _told(step, {"heater"}))
    for part in case.fitted:
        lines += _table("[[fitted]]", _told(part))
    for head, told in tables_of_conflicts(case):
        lines += _table(head, told)
    return ("\n".join(lines) + "\n").encode()


def _names(case: Case) -> dict[str, str]:
    """How a reading names each instrument: by its name, by its id where another has the same name."""
    names = [each.name for each in case.instruments.values()]
    return {
        each.id: each.name if names.count(each.name) == 1 else each.id for each in case.instruments.values()
    }


def _told(noun: Any, left_out: Iterable[str] = ()) -> dict[str, Any]:
    skipped = set(left_out)
    return {
        each.name: getattr(noun, each.name)
        for each in fields(noun)
        if each.name not in skipped and getattr(noun, each.name) not in (None, "", ())
    }


def _clock(ahead_minutes: int | None) -> dict[str, Any]:
    if ahead_minutes is None:
        return {}
    hours, minutes = divmod(abs(ahead_minutes), 60)
    return {"utc_offset": f"{'-' if ahead_minutes < 0 else '+'}{hours:02}:{minutes:02}"}


def _reading(reading: Reading, names: Mapping[str, str], *, heater: str) -> dict[str, Any]:
    told = _told(reading, {"heater"} if reading.heater == heater else ())
    if reading.instrument is not None:
        told["instrument"] = names.get(reading.instrument, reading.instrument)
    return {name: value for name, value in told.items() if value is not False}


def _place(head: str, place: Place) -> list[str]:
    told: dict[str, Any] = {"name": place.name} if place.name else {}
    measures = (
        ("altitude", place.altitude_m, "m"),
        ("air_temperature", place.air_temperature_k, "degC"),
        ("relative_humidity", place.relative_humidity_fraction, "% RH"),
    )
    for name, value, unit in measures:
        if value is not None:
            told[name] = _measure(value, unit)
    return _table(head, told) if told else []


def _measure(value: float, unit: str) -> dict[str, Any]:
    """In the everyday unit where that reads back exactly, else in the SI unit."""
    everyday = Decimal(repr(round(units.from_si(value, unit), 6)))
    if units.to_si(everyday, unit) == value:
        return {"value": everyday, "unit": unit}
    return {"value": Decimal(repr(value)), "unit": {"degC": "K", "% RH": "share"}.get(unit, unit)}


def _table(head: str, told: Mapping[str, Any]) -> list[str]:
    return ["", head, *(f"{name} = {_value(value)}" for name, value in told.items())]


def _value(value: Any) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case StrEnum() | str():
            return _text(str(value))
        case int():
            return str(value)
        case Decimal():
            # Text keeps what TOML's numbers may not: a leading zero, a trailing point.
            return format(value, "f")
        case datetime() | date():
            return value.isoformat()
        case tuple() | list():
            return "[" + ", ".join(_value(each) for each in value) + "]"
        case dict():
            return "{ " + ", ".join(f"{name} = {_value(each)}" for name, each in value.items()) + " }"
        case _:
            raise TypeError(f"no way to write {type(value).__name__}")


def _text(text: str) -> str:
    plain = "".join(
        _ESCAPES.get(each) or (each if each >= " " and each != "\x7f" else f"\\u{ord(each):04x}")
        for each in text
    )
    return f'"{plain}"'

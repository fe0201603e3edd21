"""What is wrong with the tables of a visit file, in our own sentences, each with its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.work import visit_file_shape as shape
from lightoff.work.typed_numbers import nearest, shortened
from lightoff.work.visit_file_text import FORMAT

Path: TypeAlias = "tuple[str | int, ...]"

_MODELS: Mapping[tuple[str, ...], type[BaseModel]] = {
    (): shape.VisitFile,
    ("shop",): shape.ShopTable,
    ("owner",): shape.OwnerTable,
    ("vehicle",): shape.VehicleTable,
    ("heater",): shape.HeaterTable,
    ("instrument",): shape.InstrumentTable,
    ("instrument", "span"): shape.SpanTable,
    ("visit",): shape.VisitTable,
    ("visit", "place"): shape.PlaceTable,
    ("visit", "destination"): shape.PlaceTable,
    ("set",): shape.SetTable,
    ("set", "reading"): shape.ReadingTable,
    ("reading",): shape.ReadingTable,
    ("event",): shape.EventTable,
    ("photo",): shape.PhotoTable,
    ("move",): shape.MoveTable,
    ("step",): shape.StepTable,
    ("fitted",): shape.FittedTable,
    ("conflict",): shape.ConflictTable,
    ("conflict", "candidate"): shape.CandidateTable,
}
_SAYS = {
    "model_type": "visit_file.not_a_table",
    "dict_type": "visit_file.not_a_table",
    "bool_type": "visit_file.not_yes_or_no",
    "string_type": "visit_file.not_text",
}


def fault(path: Path, said: Message, tables: Any) -> Refusal:
    """A refusal at a place of the file."""
    where = place(path, tables)
    return Refusal(message("visit_file.fault", where=where, said=said), field=where)


def faults_of(error: ValidationError, tables: Any) -> list[tuple[Path, Refusal]]:
    """All faults that the shape of the file found, in the order of the file."""
    found = []
    for detail in error.errors(include_url=False):
        path: Path = detail["loc"]
        found.append((path, fault(path, _said(detail), tables)))
    return found


def place(path: Path, tables: Any) -> str:
    """A place in the file as a person would say it: "reading 3 (flue_o2), value"."""
    said: list[str] = []
    here: Any = tables
    for step in path:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(step, int):
            name = _name(here)
            said[-1:] = [f"{said[-1] if said else ''} {step + 1}{name}".strip()]
        else:
            said.append(step[:100])
    return ", ".join(said)


def _name(row: Any) -> str:
    if isinstance(row, dict):
        for key in ("key", "name", "kind"):
            if isinstance(row.get(key), str):
                return f" ({shortened(row[key])})"
    return ""


def _said(detail: ErrorDetails) -> Message:
    kind, path = detail["type"], detail["loc"]
    if kind == shape.REFUSED:
        said: Message = detail["ctx"]["said"]
        return said
    if kind == "missing":
        if path == ("format",):
            return message("visit_file.format_missing", possible=FORMAT)
        return message("visit_file.missing")
    if kind == "extra_forbidden":
        return _unknown_key(path)
    got = _got(detail["input"])
    if kind == "literal_error":
        if path == ("format",):
            return message("visit_file.format", got=got, possible=FORMAT)
        return message("visit_file.word_unknown", got=got, near="", possible=_expected(detail))
    if kind == "list_type":
        return message("visit_file.not_a_list", table=str(path[-1]))
    if kind == "too_long":
        return message("visit_file.list_too_long", longest=detail["ctx"]["max_length"])
    if path and path[-1] == "set_number":
        return message("visit_file.set_number", got=got)
    if kind == "string_pattern_mismatch":
        key = "visit_file.sha256" if path[-1] == "sha256" else "visit_file.id"
        return message(key, got=got)
    return message(_SAYS.get(kind, "visit_file.not_understood"), got=got)


def _unknown_key(path: Sequence[str | int]) -> Message:
    names = tuple(step for step in path[:-1] if isinstance(step, str))
    known = tuple(_MODELS.get(names, shape.Measure).model_fields)
    near = nearest(str(path[-1]), known)
    key = "visit_file.key_near" if near else "visit_file.key_unknown"
    return message(key, near=near, possible=", ".join(known))


def _expected(detail: ErrorDetails) -> str:
    return str(detail["ctx"]["expected"]).replace("'", "").replace(" or ", ", ")


def _got(value: Any) -> str:
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    return shortened(str(value)) if not isinstance(value, int) or abs(value) < 10**40 else "…"

"""An assessment as data: field by field as `judging.assessment` names them, SI, with the words beside.

Every message is `{"key", "values", "text"}`; every figure carries `shown`, its digits and unit as the
page and the report print them. Numbers of limits are text, as they stand in the table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any

from lightoff.ground.message import DayOf, Message
from lightoff.judging.assessment import Assessment, Figure
from lightoff.texts import Speaker

FORMAT = "lightoff assessment 1"


def data_of(assessment: Assessment, speaker: Speaker) -> dict[str, Any]:
    """The whole assessment as JSON."""
    data: dict[str, Any] = {"format": FORMAT, "units": speaker.units, "language": speaker.language}
    for each in fields(assessment):
        data[each.name] = plain(getattr(assessment, each.name), speaker)
    return data


def plain(value: Any, speaker: Speaker) -> Any:
    """Anything the jobs answer, as JSON can hold it; a message with its sentence."""
    match value:
        case Message():
            values = {name: plain(each, speaker) for name, each in value.values.items()}
            return {"key": value.key, "values": values, "text": speaker.say(value)}
        case Figure():
            return _fields(value, speaker) | {"shown": _shown(value, speaker)}
        case Enum():
            return value.value
        case datetime() | date():
            return value.isoformat()
        case DayOf():
            return value.moment.isoformat()
        case Decimal():
            return format(value, "f")
        case Mapping():
            return {str(name): plain(each, speaker) for name, each in value.items()}
        case tuple() | list() | frozenset():
            return [plain(each, speaker) for each in value]
        case _ if is_dataclass(value) and not isinstance(value, type):
            return _fields(value, speaker)
        case _:
            return value


def _fields(value: Any, speaker: Speaker) -> dict[str, Any]:
    return {each.name: plain(getattr(value, each.name), speaker) for each in fields(value)}


def _shown(figure: Figure, speaker: Speaker) -> dict[str, Any]:
    half_width = figure.estimate.half_width
    return {
        "name": speaker.text(f"figure.{figure.key}"),
        "value": speaker.number(figure.estimate.value, figure.dimension),
        "half_width": speaker.width(half_width, figure.dimension) if half_width else "",
        "sets": [speaker.number(each.value, figure.dimension) for each in figure.sets],
        "unit": speaker.unit(figure.dimension),
    }

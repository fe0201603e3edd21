"""A logger's file: a plain CSV of time and one or more channels, read row by row; good rows are kept.

The first line that is neither blank nor a remark (#) names the columns, each with its unit in brackets:

    time [UTC],stack temperature [degC],supply current [A]
    2026-01-05T08:00:00,61,0.3

Time is a date and time in UTC or at a stated offset ("time [+01:00]"; a row may bear its own), or seconds,
minutes or hours since a start, told beside the file or in a remark "# start 2026-01-05T08:00:00Z".
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta, timezone

import numpy as np

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.terms.trace import TELLS_BURNS, Channel
from lightoff.trace.cycles import Logged
from lightoff.work.typed_numbers import nearest, shortened, unit_named

LARGEST_BYTES = 40_000_000
MOST_TOLD = 5
"""Bad rows that are told one by one; the others are counted."""
MOST_BAD_SHARE = 0.5
"""With more of its rows bad than this, the file is not what its header says. Judgement, no source."""
LEAST_ROWS = 3
_TIMES = ("time", "date", "datetime", "date time", "timestamp")
_DIMENSIONS = {
    Channel.BURNING: None,
    Channel.SUPPLY_CURRENT: "current",
    Channel.STACK_TEMPERATURE: "temperature",
    Channel.COOLANT_TEMPERATURE: "temperature",
    Channel.IGNITER_CURRENT: "current",
    Channel.SUPPLY_VOLTAGE: "voltage",
}
_NAMES = {
    **{each.value: each for each in Channel},
    "burner": Channel.BURNING,
    "flame": Channel.BURNING,
    "burner current": Channel.SUPPLY_CURRENT,
    "current": Channel.SUPPLY_CURRENT,
    "stack": Channel.STACK_TEMPERATURE,
    "stack gas temperature": Channel.STACK_TEMPERATURE,
    "exhaust temperature": Channel.STACK_TEMPERATURE,
    "coolant": Channel.COOLANT_TEMPERATURE,
    "coolant temperature supply": Channel.COOLANT_TEMPERATURE,
    "igniter": Channel.IGNITER_CURRENT,
    "voltage": Channel.SUPPLY_VOLTAGE,
}
_POSSIBLE = {
    Channel.BURNING: (0.0, 1.0),
    Channel.SUPPLY_CURRENT: (-5.0, 500.0),
    Channel.STACK_TEMPERATURE: (193.15, 1500.0),
    Channel.COOLANT_TEMPERATURE: (193.15, 473.15),
    Channel.IGNITER_CURRENT: (-5.0, 100.0),
    Channel.SUPPLY_VOLTAGE: (0.0, 100.0),
}
"""Beyond these a cell is a slip of the logger, not the heater. Judgement, no source."""
_YES, _NO = frozenset({"1", "on", "yes", "true"}), frozenset({"0", "off", "no", "false"})
_COLUMN = re.compile(r"\s*([^\[(]+?)\s*(?:[\[(]\s*([^\])]*?)\s*[\])])?\s*")
_OFFSET = re.compile(r"([+\-\u2212])(\d{2}):?(\d{2})")
_START = re.compile(r"#\s*start:?\s+(\S.*?)\s*", re.IGNORECASE)
_SINCE = {"s": 1.0, "min": 60.0, "h": 3600.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadLog:
    """What a file says: each channel that it has, from the same first moment, best evidence of a burn first.

    `bad` tells the first few rows that could not be read, `bad_row_count` counts all of them.
    """

    began_at: datetime
    ended_at: datetime
    logged: tuple[Logged, ...]
    row_count: int
    bad_row_count: int
    bad: tuple[Message, ...]

    def by_channel(self) -> dict[Channel, Logged]:
        """Every column that it has."""
        return {each.channel: each for each in self.logged}

    def of(self, channel: Channel | None) -> Logged:
        """One that tells burns, the best where none is named. Raises Refusal for one that is not there."""
        telling = [each for each in self.logged if each.channel in TELLS_BURNS]
        for each in telling:
            if channel is None or each.channel is channel:
                return each
        possible = ", ".join(each.channel.value for each in telling)
        raise Refusal(
            message("log.no_such_channel", channel=str(channel), possible=possible), field="channel"
        )


@dataclass(frozen=True, slots=True)
class _Column:
    """A channel's place in a row, and the line from its unit to SI: exact fractions are slow."""

    place: int
    channel: Channel
    zero_si: float
    factor: float


def read_log(data: bytes, *, start: datetime | None = None) -> ReadLog:
    """The log that a file's bytes say; `start` is where its time counts from, where the file does not tell.

    Raises Refusal for what is empty, too large, no text or no table, for a header without a time or channel
    or with a wrong unit, and where hardly a row can be read; single bad rows are told in `bad`.
    """
    text = _decoded(data)
    rows, header, remarked, separator = _table(text)
    time_place, moment = _time_of(header, remarked or start)
    columns = _channels(header)
    at = list[float]()
    values: list[list[float]] = [[] for _ in columns]
    bad, bad_count, count = list[Message](), 0, 0
    first: datetime | None = None
    comma = separator != ","
    for number, cells in rows:
        count += 1
        try:
            if len(cells) < len(header):
                raise _Bad("log.row_short", got=str(len(cells)), needed=str(len(header)))
            when = moment(cells[time_place])
            if first is None:
                first = when
            since = (when - first).total_seconds()
            if at and since <= at[-1]:
                raise _Bad("log.row_backwards", got=shortened(cells[time_place]))
            read = [_value(cells[each.place], each, comma=comma) for each in columns]
        except _Bad as fault:
            if not at:
                first = None
            bad_count += 1
            if len(bad) < MOST_TOLD:
                bad.append(message(fault.key, row=str(number), **fault.values))
            continue
        at.append(since)
        for column, value in zip(values, read, strict=True):
            column.append(value)
    if len(at) < LEAST_ROWS or first is None or bad_count > MOST_BAD_SHARE * count:
        key = "log.few_rows" if bad_count <= MOST_BAD_SHARE * count else "log.most_bad"
        raise Refusal(message(key, good=str(len(at)), bad=str(bad_count), why=tuple(bad[:1])), field="file")
    seconds = np.array(at)
    logged = tuple(
        Logged(channel=each.channel, at_s=seconds, values=np.array(column))
        for each, column in zip(columns, values, strict=True)
    )
    order = list(Channel)
    return ReadLog(
        began_at=first,
        ended_at=first + timedelta(seconds=at[-1]),
        logged=tuple(sorted(logged, key=lambda each: order.index(each.channel))),
        row_count=len(at),
        bad_row_count=bad_count,
        bad=tuple(bad),
    )


class _Bad(Exception):
    """A row that cannot be read: the key of the sentence and its values."""

    def __init__(self, key: str, /, **values: str) -> None:
        super().__init__(key)
        self.key, self.values = key, values


def _decoded(data: bytes) -> str:
    if len(data) > LARGEST_BYTES:
        size, most = -(-len(data) // 1_000_000), LARGEST_BYTES // 1_000_000
        raise Refusal(message("log.too_large", size=str(size), most=str(most)), field="file")
    if b"\0" in data:
        raise Refusal(message("log.no_text"), field="file")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if not text.strip():
        raise Refusal(message("log.empty"), field="file")
    return text


def _table(text: str) -> tuple[Iterator[tuple[int, list[str]]], list[str], datetime | None, str]:
    """Numbered rows, the header's cells, a start that a remark tells, and what stands between cells."""
    lines = text.splitlines()
    remarked, at = None, 0
    while at < len(lines) - 1 and (not lines[at].strip() or lines[at].lstrip().startswith("#")):
        told = _START.fullmatch(lines[at].strip())
        remarked = _iso(told[1]) if told is not None else remarked
        at += 1
    header_line = lines[at]
    separator = max(",;\t", key=header_line.count)
    if separator not in header_line:
        raise Refusal(message("log.no_table", got=shortened(header_line)), field="file")

    def numbered() -> Iterator[tuple[int, list[str]]]:
        for number in range(at + 1, len(lines)):
            line = lines[number]
            if not line or line.isspace() or line.startswith("#"):
                continue
            # Nearly every line is plain, and a plain one needs no reader of quotation marks.
            cells = next(csv.reader([line], delimiter=separator)) if '"' in line else line.split(separator)
            yield number + 1, cells

    return numbered(), next(csv.reader([header_line], delimiter=separator)), remarked, separator


def _named(cell: str) -> tuple[str, str]:
    found = _COLUMN.fullmatch(cell)
    name, unit = (found[1], found[2] or "") if found else (cell, "")
    return " ".join(name.replace("_", " ").lower().split()), unit


def _time_of(header: Sequence[str], start: datetime | None) -> tuple[int, Callable[[str], datetime]]:
    """Where the time stands, and how a cell of it is read."""
    place = next((at for at, cell in enumerate(header) if _named(cell)[0] in _TIMES), None)
    if place is None:
        got = shortened(", ".join(header))
        raise Refusal(message("log.no_time", got=got), field="file")
    unit = _named(header[place])[1]
    if unit in _SINCE:
        if start is None:
            raise Refusal(message("log.no_start", unit=unit), field="start")
        return place, _counted(start, _SINCE[unit])
    zone = _zone(unit)
    if unit and zone is None:
        raise Refusal(message("log.time_unit", got=shortened(unit)), field="file")
    return place, _dated(zone)


def _zone(unit: str) -> timezone | None:
    if unit.upper() in ("UTC", "Z", "GMT"):
        return UTC
    found = _OFFSET.fullmatch(unit)
    if found is None:
        return None
    sign = 1 if found[1] == "+" else -1
    return timezone(sign * timedelta(hours=int(found[2]) % 24, minutes=int(found[3])))


def _counted(start: datetime, factor: float) -> Callable[[str], datetime]:
    def moment(cell: str) -> datetime:
        try:
            return start + timedelta(seconds=factor * float(cell.replace(",", ".")))
        except (ValueError, OverflowError):
            raise _Bad("log.row_time", got=shortened(cell)) from None

    return moment


def _dated(zone: timezone | None) -> Callable[[str], datetime]:
    def moment(cell: str) -> datetime:
        when = _iso(cell)
        if when is None:
            raise _Bad("log.row_time", got=shortened(cell))
        if when.tzinfo is not None:
            return when if when.tzinfo is UTC else when.astimezone(UTC)
        if zone is None:
            raise Refusal(message("log.no_zone", got=shortened(cell)), field="file")
        return when.replace(tzinfo=zone) if zone is UTC else when.replace(tzinfo=zone).astimezone(UTC)

    return moment


def _iso(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        return None


def _channels(header: Sequence[str]) -> list[_Column]:
    found = list[_Column]()
    for place, cell in enumerate(header):
        name, unit = _named(cell)
        channel = _NAMES.get(name)
        if channel is None or any(each.channel is channel for each in found):
            continue
        needed = _DIMENSIONS[channel]
        if needed is not None:
            if not unit:
                raise Refusal(message("log.no_unit", column=shortened(cell)), field="file")
            unit = unit_named(unit, field="file", kind=needed)
            if units.unit(unit).dimension != needed:
                possible = ", ".join(units.units_of(needed))
                said = message("log.wrong_unit", column=name, unit=unit, possible=possible)
                raise Refusal(said, field="file")
        zero_si = units.to_si(0.0, unit) if needed else 0.0
        factor = units.to_si(1.0, unit) - zero_si if needed else 1.0
        found.append(_Column(place, channel, zero_si, factor))
    if not any(each.channel in TELLS_BURNS for each in found):
        names = [_named(cell)[0] for cell in header]
        telling = [name for name, each in _NAMES.items() if each in TELLS_BURNS]
        near = next(filter(None, (nearest(each, telling) for each in names)), "")
        possible = ", ".join(each.value for each in TELLS_BURNS)
        key = "log.no_channel_near" if near else "log.no_channel"
        got = shortened(", ".join(header))
        raise Refusal(message(key, got=got, near=near, possible=possible), field="file")
    return found


def _value(cell: str, column: _Column, *, comma: bool) -> float:
    text = cell.strip()
    if column.channel is Channel.BURNING:
        word = text.lower()
        if word in _YES:
            return 1.0
        if word in _NO:
            return 0.0
        raise _Bad("log.row_flag", got=shortened(text))
    try:
        value = column.zero_si + column.factor * float(text.replace(",", ".") if comma else text)
    except ValueError:
        raise _Bad("log.row_number", column=column.channel.value, got=shortened(text)) from None
    low, high = _POSSIBLE[column.channel]
    if not (math.isfinite(value) and low <= value <= high):
        raise _Bad("log.row_impossible", column=column.channel.value, got=shortened(text))
    return value

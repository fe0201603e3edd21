"""From a logger's file to the run hours and starts that stand in the book."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from lightoff.ground.errors import Refusal
from lightoff.ground.ids import time_ordered_id
from lightoff.ground.message import DayOf, Message, message
from lightoff.ground.values import dataclass
from lightoff.plant.conditions import Conditions
from lightoff.plant.phases import Phases, phases
from lightoff.records import body_of
from lightoff.shelf import Shelf
from lightoff.terms.entry import Entry
from lightoff.terms.shelf import Sheet
from lightoff.terms.trace import Channel, Trace
from lightoff.trace.cycles import Cycles, find_cycles
from lightoff.trace.starts import Starts, find_starts
from lightoff.work.rated import sheet_named
from lightoff.work.read_log import ReadLog, read_log
from lightoff.work.read_numbers import RATED_FUEL
from lightoff.work.workshop import Workshop

HOUR_S = 3600.0
LONGEST_NAME = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTrace:
    """What a file says of a heater: the log, the channel that was used, its burns, what their starts told.

    `starts` is None where no column tells of the igniter.
    """

    log: ReadLog
    channel: Channel
    cycles: Cycles
    starts: Starts | None

    def said(self) -> tuple[Message, ...]:
        """The finding in sentences: burns, what is not in the file, rows that could not be read."""
        cycles, burned = self.cycles, self.cycles.burned
        told = [
            message(
                "log.found",
                channel=f"@log_channel.{self.channel.name.lower()}",
                hours=f"{burned.value / HOUR_S:.1f}",
                low=f"{burned.low / HOUR_S:.1f}",
                high=f"{burned.high / HOUR_S:.1f}",
                starts=cycles.starts,
                logged=f"{cycles.logged_s / HOUR_S:.1f}",
                first=DayOf(self.log.began_at),
                last=DayOf(self.log.ended_at),
            )
        ]
        if cycles.gap_count:
            told.append(message("log.gaps", count=cycles.gap_count))
        told += self._lights()
        if self.channel is Channel.COOLANT_TEMPERATURE:
            told.append(message("log.by_coolant"))
        if self.log.bad_row_count:
            told.append(message("log.bad_rows", count=self.log.bad_row_count, good=self.log.row_count))
        return (*told, *self.log.bad)

    def _lights(self) -> list[Message]:
        """What the starts told of light and igniter, and how many told nothing, and why."""
        starts = self.starts
        if starts is None or not self.cycles.starts:
            return []
        if starts.too_slow:
            return [message("log.too_slow", least=starts.slowest_step_s)]
        told = []
        if len(starts.lights_s):
            told.append(
                message(
                    "log.lights",
                    count=len(starts.lights_s),
                    seconds=f"{float(starts.lights_s.mean()):.0f}",
                )
            )
        if len(starts.igniter_a):
            told.append(
                message(
                    "log.igniter",
                    count=len(starts.igniter_a),
                    amperes=f"{float(starts.igniter_a.mean()):.1f}",
                )
            )
        for spoiled, count in starts.spoiled.items():
            told.append(message(f"log.start_{spoiled}", count=count))
        return told


def find_trace(
    data: bytes, sheet: Sheet, shelf: Shelf, *, start: datetime | None = None, channel: Channel | None = None
) -> FoundTrace:
    """The burns that a file tells of a heater of this type, by its best channel or the one named.

    Raises Refusal for a file that cannot be read.
    """
    log = read_log(data, start=start)
    logged = log.of(channel)
    levels = levels_of(sheet, shelf)
    cycles = find_cycles(logged, levels)
    starts = find_starts(log.by_channel(), cycles, logged.channel, levels)
    return FoundTrace(log=log, channel=logged.channel, cycles=cycles, starts=starts)


def levels_of(sheet: Sheet, shelf: Shelf) -> Phases:
    """What a logger sees of a sound heater of this type on the usual fuel, at the usual place."""
    return phases(sheet, conditions_of_a_log(shelf))


def conditions_of_a_log(shelf: Shelf) -> Conditions:
    """What is taken to surround a heater while nobody is there: the usual."""
    fuel = shelf.fuels[RATED_FUEL]
    return Conditions(fuel=fuel, rated_fuel=fuel)


def keep_trace(
    workshop: Workshop,
    heater_id: str,
    data: bytes,
    now: datetime,
    *,
    file_name: str,
    author: str,
    randomness: bytes,
    start: datetime | None = None,
    channel: Channel | None = None,
) -> tuple[Trace, FoundTrace]:
    """The file and what was found in it, kept with a heater; the same file once.

    Raises NotFound for the heater or its type, Refusal for a file that cannot be read, that lies in the
    future, or that stands with this heater already; nothing is kept then.
    """
    heater = workshop.book.heater(heater_id)
    sheet = sheet_named(heater.sheet, workshop.shelf)
    found = find_trace(data, sheet, workshop.shelf, start=start, channel=channel)
    if found.log.ended_at > now:
        raise Refusal(message("log.in_the_future", day=DayOf(found.log.ended_at)), field="file")
    log = found.log
    same = (log.began_at, log.ended_at, log.row_count)
    stand = workshop.book.traces(heater_id)
    if any((each.began_at, each.ended_at, each.row_count) == same for each in stand):
        raise Refusal(message("log.stands"), field="file")
    said = trace_entry(
        found,
        heater_id,
        now,
        file_name=file_name,
        author=author,
        randomness=randomness,
        sha256=workshop.book.keep_log(data),
    )
    workshop.book.keep([said])
    return workshop.book.trace(said.id), found


def trace_entry(
    found: FoundTrace,
    heater_id: str,
    now: datetime,
    *,
    file_name: str,
    author: str,
    randomness: bytes,
    sha256: str,
) -> Entry:
    """The entry that says what was found in a file, which lies in the book under `sha256`."""
    trace = _trace_of(found, heater_id, now, file_name=file_name, randomness=randomness, sha256=sha256)
    return Entry(id=trace.id, subject=trace.id, field="trace", value=body_of(trace), author=author, at=now)


def _trace_of(
    found: FoundTrace, heater_id: str, now: datetime, *, file_name: str, randomness: bytes, sha256: str
) -> Trace:
    """What was found, as it stands in the book."""
    cycles, burned = found.cycles, found.cycles.burned
    return Trace(
        id=time_ordered_id(now, randomness),
        heater=heater_id,
        began_at=found.log.began_at,
        ended_at=found.log.ended_at,
        channel=found.channel,
        logged_s=_seconds(cycles.logged_s),
        burned_s=_seconds(burned.value),
        burned_low_s=_seconds(burned.low),
        burned_high_s=_seconds(burned.high),
        starts=cycles.starts,
        starts_unsure=cycles.starts_unsure,
        row_count=found.log.row_count,
        bad_row_count=found.log.bad_row_count,
        file_name="".join(each for each in file_name if each.isprintable())[:LONGEST_NAME],
        sha256=sha256,
    )


def take_back_trace(
    workshop: Workshop, trace_id: str, now: datetime, *, author: str, randomness: bytes
) -> Trace:
    """Withdraw a log from the heater's running hours; its file stays. Raises NotFound."""
    trace = workshop.book.trace(trace_id)
    (stands, *_) = workshop.book.standing("trace", trace_id)
    undone = workshop.book.undoing(stands.id, id=time_ordered_id(now, randomness), author=author, at=now)
    workshop.book.keep([undone])
    return trace


def _seconds(value: float) -> Decimal:
    return Decimal(f"{value:.1f}")

"""The exhaust of a heater's steady burns, off the logs that stand with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import partial

from lightoff.ground.errors import LightoffError
from lightoff.plant.number import Number
from lightoff.terms.trace import Channel, Trace
from lightoff.trace.cycles import find_cycles, steady_values
from lightoff.work.keep_trace import levels_of
from lightoff.work.last_few import LastFew
from lightoff.work.rated import sheet_named
from lightoff.work.read_log import read_log
from lightoff.work.workshop import Workshop

LOGGER_K = 12.0
"""Standard uncertainty of a logger's exhaust against a probe deep in the pipe: another place, another
thermocouple, left for weeks. It lessens with no number of burns. Judgement, no source."""
LEAST_BURNS = 3
"""Fewer burns than this are an accident of a day. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyBurns:
    """The burns of one log that were steady: the day in the middle of it, and the exhaust of each."""

    on: date
    began_at: datetime
    stack: tuple[Number, ...]


def steady_burns(workshop: Workshop, heater_id: str) -> tuple[SteadyBurns, ...]:
    """One for each log of a heater that has an exhaust temperature, oldest first. Raises NotFound."""
    heater = workshop.book.heater(heater_id)
    found = []
    for trace in workshop.book.traces(heater_id):
        known = (trace.sha256, heater.sheet, workshop.shelf.sha256)
        burns = _known.of(known, partial(_of, workshop, heater.sheet, trace))
        if burns is not None:
            found.append(burns)
    return tuple(sorted(found, key=lambda each: each.began_at))


def _of(workshop: Workshop, sheet: str, trace: Trace) -> SteadyBurns | None:
    """None for a log without an exhaust temperature, with hardly a burn, or that cannot be read any more."""
    try:
        log = read_log(workshop.book.log_bytes(trace.sha256), start=trace.began_at)
        stack = log.of(Channel.STACK_TEMPERATURE)
        cycles = find_cycles(
            log.of(trace.channel), levels_of(sheet_named(sheet, workshop.shelf), workshop.shelf)
        )
    except LightoffError:
        return None
    values = steady_values(stack, cycles)
    if len(values) < LEAST_BURNS:
        return None
    return SteadyBurns(
        on=(trace.began_at + (trace.ended_at - trace.began_at) / 2).date(),
        began_at=trace.began_at,
        stack=tuple(Number(value=float(each), spread=LOGGER_K) for each in values),
    )


_known: LastFew[SteadyBurns | None] = LastFew(256)

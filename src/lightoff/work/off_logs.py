"""What the logs that stand with a heater tell of the readings that are followed: exhaust, light, igniter."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import partial

import numpy as np

from lightoff.ground.errors import LightoffError
from lightoff.ground.values import dataclass
from lightoff.plant.number import Number
from lightoff.terms.trace import Channel, Trace
from lightoff.trace.cycles import Numbers, find_cycles, steady_values
from lightoff.trace.starts import Starts, find_starts
from lightoff.work.keep_trace import levels_of
from lightoff.work.last_few import LastFew
from lightoff.work.rated import sheet_named
from lightoff.work.read_log import ReadLog, read_log
from lightoff.work.workshop import Workshop

LOGGER_K = 12.0
"""Standard uncertainty of a logger's exhaust against a probe deep in the pipe: another place, another
thermocouple, left for weeks. It lessens with no number of burns. Judgement, no source."""
LIGHT_S = {True: 2.0, False: 5.0}
"""The same of a time to light against a stopwatch, by whether the control's own word tells the flame: where
it does not, the end of the glow is taken for it, and a control may hold its igniter. Judgement, no source."""
CLAMP_SHARE = {True: 0.03, False: 0.05}
"""The same of the igniter's current, as a share of it, by whether it has a column of its own: where it has
none, the motors are taken off the supply's current. Judgement, no source."""
VOLTS_SHARE = 0.01
"""The same of the volts, as a share of them. Judgement, no source."""
LEAST_BURNS = 3
"""Fewer burns than this are an accident of a day. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogMean:
    """The mean of one reading over the burns of a log, SI: what one of them scatters by, and the logger's own
    standard uncertainty. `beside` was read at the same moments."""

    value: float
    scatter: float
    doubt: float
    count: int
    beside: Mapping[str, Number]


@dataclass(frozen=True, slots=True, kw_only=True)
class OffLog:
    """What one log tells, by the reading's key, on the day in the middle of it.

    `coolant_k` and `dark_s` are the middle coolant at its starts and the middle time since the flame before,
    None where nothing tells them.
    """

    on: date
    began_at: datetime
    means: Mapping[str, LogMean]
    coolant_k: float | None = None
    dark_s: float | None = None


def off_logs(workshop: Workshop, heater_id: str) -> tuple[OffLog, ...]:
    """One for each log of a heater that tells any of them, oldest first. Raises NotFound."""
    heater = workshop.book.heater(heater_id)
    found = []
    for trace in workshop.book.traces(heater_id):
        known = (trace.sha256, trace.channel, heater.sheet, workshop.shelf.sha256)
        told = _known.of(known, partial(_of, workshop, heater.sheet, trace))
        if told is not None:
            found.append(told)
    return tuple(sorted(found, key=lambda each: each.began_at))


def _of(workshop: Workshop, sheet: str, trace: Trace) -> OffLog | None:
    """None for a log with hardly a burn, or that cannot be read any more."""
    try:
        log = read_log(workshop.book.log_bytes(trace.sha256), start=trace.began_at)
        burned = log.of(trace.channel)
        levels = levels_of(sheet_named(sheet, workshop.shelf), workshop.shelf)
    except LightoffError:
        return None
    cycles = find_cycles(burned, levels)
    logged = log.by_channel()
    means = dict[str, LogMean]()
    if Channel.STACK_TEMPERATURE in logged:
        steady = steady_values(logged[Channel.STACK_TEMPERATURE], cycles)
        _add(means, "stack_gas_temperature", steady, doubt=LOGGER_K)
    starts = find_starts(logged, cycles, trace.channel, levels)
    if starts is not None:
        _add_starts(means, starts, log, trace.channel)
    if not means:
        return None
    return OffLog(
        on=(trace.began_at + (trace.ended_at - trace.began_at) / 2).date(),
        began_at=trace.began_at,
        means=means,
        coolant_k=starts.coolant_k if starts is not None else None,
        dark_s=starts.dark_s if starts is not None else None,
    )


def _add_starts(means: dict[str, LogMean], starts: Starts, log: ReadLog, by: Channel) -> None:
    beside = dict[str, Number]()
    if len(starts.volts):
        volts = float(np.median(starts.volts))
        beside["supply_voltage_igniter"] = Number(value=volts, spread=VOLTS_SHARE * volts)
    _add(means, "time_to_light", starts.lights_s, doubt=LIGHT_S[by is Channel.BURNING], beside=beside)
    if len(starts.igniter_a):
        share = CLAMP_SHARE[Channel.IGNITER_CURRENT in log.by_channel()]
        doubt = share * float(np.mean(starts.igniter_a))
        _add(means, "igniter_current", starts.igniter_a, doubt=doubt, beside=beside)


def _add(
    means: dict[str, LogMean],
    key: str,
    values: Numbers,
    *,
    doubt: float,
    beside: Mapping[str, Number] | None = None,
) -> None:
    if len(values) >= LEAST_BURNS:
        means[key] = LogMean(
            value=float(np.mean(values)),
            scatter=float(np.std(values, ddof=1)),
            doubt=doubt,
            count=len(values),
            beside=beside or {},
        )


_known: LastFew[OffLog | None] = LastFew(256)

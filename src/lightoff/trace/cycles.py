"""Burns in a log, from light to the end of the burn, told by the levels that the forward model predicts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.plant.phases import Phases
from lightoff.terms.trace import Channel

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]

GAP_STEPS, LEAST_GAP_S = 10.0, 120.0
"""Rows further apart than so many usual steps, and than this time, have a gap between them in which nothing
was recorded. Judgement, no source."""
SURELY_LIT = 0.25
"""Of the way from the hottest gas without a flame to the stack of a sound heater with one: above it there is
a flame, however far a unit lies from its sheet. Judgement, no source."""
RISES, FALLS = 0.5, 0.35
"""Of the way to the stack that this log shows with a flame: where a burn begins and where it ends.
Judgement, no source."""
HOT_SHARE = 0.9
"""Of the rows that are surely lit, those below the stack of this unit at rest. Judgement, no source."""
WARMS_AT_LEAST, WARMS_AT_MOST = 0.03, 2.0
"""Coolant that rises slower or quicker than this share of the model's warm-up was not warmed by the burner
alone: sun and engine room, or an engine. Judgement, no source."""
LAG_S = {
    Channel.BURNING: 0.0,
    Channel.SUPPLY_CURRENT: 1.0,
    Channel.STACK_TEMPERATURE: 30.0,
    Channel.COOLANT_TEMPERATURE: 45.0,
}
"""How far a channel may be off at each end of a burn, beyond the step of the log. Judgement, no source."""
UNSURE_STARTS = {Channel.STACK_TEMPERATURE: 0.02, Channel.COOLANT_TEMPERATURE: 0.15}
"""Of the starts, how many a channel may split or miss. Judgement, no source."""
COVERAGE = 0.95
SETTLES_S, LEAVES_S = 180.0, 60.0
"""Of a burn what is no steady exhaust: while pipe and probe warm, and around the end that a log smears.
Judgement, no source."""
LEAST_STEADY_S = 60.0
"""A burn that is steady for less says nothing of a steady burn. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """One channel of a log: times in seconds since its first row, rising, and SI values; each (n,)."""

    channel: Channel
    at_s: Numbers
    values: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycles:
    """The burns of a log; `lit_s` and `out_s` (burns,), seconds since its first row.

    `is_start` tells which began in the log and not before it, or in a gap. `cut_count` counts ends that lie
    outside what was recorded.
    """

    lit_s: Numbers
    out_s: Numbers
    is_start: Flags
    logged_s: float
    burned: Estimate
    starts_unsure: int
    gap_count: int
    cut_count: int

    @property
    def starts(self) -> int:
        """How many burns began in the log."""
        return int(self.is_start.sum())


def find_cycles(log: Logged, levels: Phases) -> Cycles:
    """The burns of a log with at least two rows, by the channel's own marks.

    A row holds till the next one. Nothing is said of gaps: a burn that runs into one ends there.
    """
    steps = np.diff(log.at_s)
    step = float(np.median(steps))
    gaps = np.zeros(len(steps), dtype=bool)
    if not _by_changes(log):
        gaps = steps > max(GAP_STEPS * step, LEAST_GAP_S)
    pieces = np.split(np.arange(len(log.at_s)), np.flatnonzero(gaps) + 1)
    lit, out, begins, cut = list[float](), list[float](), list[bool](), 0
    for piece in pieces:
        if len(piece) < 2:
            continue
        at, burns = log.at_s[piece], _burning(log.channel, log.at_s[piece], log.values[piece], levels)
        for first, last in blocks(burns):
            end = min(last + 1, len(at) - 1)
            cut += (first == 0) + (last == len(at) - 1)
            whole = first > 0 and last < len(at) - 1
            if whole and at[end] - at[first] < levels.shortest_flame_s:
                continue
            lit.append(float(at[first]))
            out.append(float(at[end]))
            begins.append(first > 0)
    lit_s, out_s = np.array(lit, dtype=float), np.array(out, dtype=float)
    burned = float((out_s - lit_s).sum())
    logged = float(steps[~gaps].sum())
    # Where in its step an end lies is chance, and evens out over many; a lag is the same at every burn.
    ends = 2 * len(lit) - cut
    doubt = 2.0 * step * float(np.sqrt(ends / 12.0)) + LAG_S[log.channel] * ends
    is_start = np.array(begins, dtype=bool)
    unsure = int(np.ceil(UNSURE_STARTS.get(log.channel, 0.0) * is_start.sum())) + int(gaps.sum())
    return Cycles(
        lit_s=lit_s,
        out_s=out_s,
        is_start=is_start,
        logged_s=logged,
        burned=Estimate(
            value=burned,
            low=max(burned - doubt, 0.0),
            high=min(burned + doubt, max(logged, burned)),
            coverage=COVERAGE,
        ),
        starts_unsure=unsure,
        gap_count=int(gaps.sum()),
        cut_count=cut,
    )


def steady_values(log: Logged, cycles: Cycles) -> Numbers:
    """The middle value of a channel in the steady part of each burn that is in the log whole; (burns,)."""
    found = []
    for lit_s, out_s, is_start in zip(cycles.lit_s, cycles.out_s, cycles.is_start, strict=True):
        first_s, last_s = lit_s + SETTLES_S, out_s - LEAVES_S
        rows = (log.at_s >= first_s) & (log.at_s <= last_s)
        if is_start and last_s - first_s >= LEAST_STEADY_S and np.any(rows):
            found.append(float(np.median(log.values[rows])))
    return np.array(found, dtype=float)


def _by_changes(log: Logged) -> bool:
    """Whether the log writes a row only when the state changes, so that silence is no gap."""
    return log.channel is Channel.BURNING and float(np.mean(np.diff(log.values > 0.5))) > 0.9


def _burning(channel: Channel, at_s: Numbers, values: Numbers, levels: Phases) -> Flags:
    match channel:
        case Channel.BURNING:
            return np.asarray(values > 0.5)
        case Channel.SUPPLY_CURRENT:
            return _by_current(values, levels)
        case Channel.STACK_TEMPERATURE:
            return _by_stack(values, levels)
        case _:
            return _by_coolant(at_s, values, levels)


def _by_stack(values: Numbers, levels: Phases) -> Flags:
    """Above marks between the hottest gas without a flame and what this unit's stack reaches with one."""
    dark_k = levels.hottest_dark_k
    lit = values[values > dark_k + SURELY_LIT * (levels.stack_k - dark_k)]
    if not len(lit):
        return np.zeros(len(values), dtype=bool)
    way = float(np.quantile(lit, HOT_SHARE)) - dark_k
    return _latched(values, on=dark_k + RISES * way, off=dark_k + FALLS * way)


def _by_current(values: Numbers, levels: Phases) -> Flags:
    """The motors run and the igniter is off again: what comes before the last trial of a block is no burn."""
    motors = values > 0.5 * (levels.after_run_a + levels.running_a)
    trial = values > 0.5 * (levels.running_a + levels.trial_a)
    burns = motors & ~trial
    for first, last in blocks(motors):
        tried = np.flatnonzero(trial[first : last + 1])
        if len(tried):
            burns[first : first + tried[-1] + 1] = False
    return burns


def _by_coolant(at_s: Numbers, values: Numbers, levels: Phases) -> Flags:
    """Coolant rises as the burner can make it rise, from where it turned up to where it turned down."""
    burns = np.zeros(len(values), dtype=bool)
    low = high = 0  # rows of the lowest since the last peak, and of the highest since the last trough
    rising = False
    turns = list[tuple[int, int]]()
    for row, value in enumerate(values.tolist()):
        if rising:
            if value > values[high]:
                high = row
            elif values[high] - value >= levels.reversal_k:
                turns.append((low, high))
                rising, low = False, row
        elif value < values[low]:
            low = row
        elif value - values[low] >= levels.reversal_k:
            rising, high = True, row
    if rising:
        turns.append((low, high))
    for first, last in turns:
        rate = (values[last] - values[first]) / max(float(at_s[last] - at_s[first]), 1e-9)
        if WARMS_AT_LEAST <= rate / levels.warm_up_k_s <= WARMS_AT_MOST:
            burns[first:last] = True
    return burns


def _latched(values: Numbers, *, on: float, off: float) -> Flags:
    """On from the row that reaches the upper mark to the one that falls below the lower."""
    told = np.where(values >= on, 1, np.where(values < off, 0, -1))
    known = np.where(told >= 0, np.arange(len(told)), 0)
    last = np.maximum.accumulate(known)
    return np.asarray(told[last] == 1)


def blocks(flags: Flags) -> list[tuple[int, int]]:
    """First and last row of each run of true ones."""
    edges = np.diff(np.concatenate(([0], flags.astype(np.int8), [0])))
    return list(
        zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist(), strict=True)
    )

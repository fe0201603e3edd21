"""Starts in a log, from the igniter's first glow to the flame, and what the igniter settled at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.plant.phases import Phases
from lightoff.terms.trace import Channel
from lightoff.trace.cycles import Cycles, Logged, Numbers, blocks

ROWS_A_LIGHT = 3.0
"""So many steps of the log must fit into a sound heater's time to light: with fewer a trial may fall between
two rows, and those that are seen are the slow ones. Judgement, no source."""
QUIET_S = 60.0
"""So long nothing may glow, and every row must be there, before a start that counts. Judgement, no source."""
ONE_ROW_MISSING = 2.5
"""Of the usual step; a wider one at a start hides when it began. Judgement, no source."""
LONGEST_GLOW = 5.0
"""Of a sound heater's time to light; an igniter that glows longer lit nothing at its first try. Judgement."""
SEEN_WITHIN_S = {Channel.BURNING: 30.0, Channel.SUPPLY_CURRENT: 0.0, Channel.STACK_TEMPERATURE: 180.0}
"""How far the flame may be told from the end of the glow by each channel. Judgement, no source."""
SETTLED_SHARE, SETTLES_S = 0.5, 60.0
"""Of the glow, what comes before its current has settled; and how long after it the motors alone are looked
at, to take them off the supply's current. Judgement, no source."""


class Spoiled(StrEnum):
    """Why a start says nothing."""

    RETRIED = "retried"
    CUT = "cut"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Starts:
    """What the starts of a log told; nothing of one that was tried twice, cut or could not be told.

    `lights_s` (starts,) from the igniter's glow to the flame; `igniter_a` (some of them,), with `volts` (the
    same,) where the log has them, else (0,). `coolant_k` and `dark_s` are the middle coolant at the start and
    the middle time since the flame before went out, None where nothing tells them. `spoiled` counts those
    that say nothing, by why. `too_slow` where the log writes more seldom than every `slowest_step_s`.
    """

    lights_s: Numbers
    igniter_a: Numbers
    volts: Numbers
    coolant_k: float | None
    dark_s: float | None
    spoiled: Mapping[Spoiled, int]
    slowest_step_s: int
    too_slow: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Glow:
    """A spell of the igniter by its rows; `trial` is the last first one with fuel on, `tries` how many."""

    first: int
    last: int
    trial: int
    tries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Start:
    light_s: float
    amperes: float | None
    volts: float | None
    coolant_k: float | None
    dark_s: float | None


def find_starts(
    logged: Mapping[Channel, Logged], cycles: Cycles, by: Channel, levels: Phases
) -> Starts | None:
    """The starts of the burns that were found `by` a channel; None where no column tells of the igniter.

    All columns have the same rows. The flame is the control's own word where the log has it, else the end of
    the glow.
    """
    igniter = logged.get(Channel.IGNITER_CURRENT) or logged.get(Channel.SUPPLY_CURRENT)
    if igniter is None or by not in SEEN_WITHIN_S:
        return None
    step_s = float(np.median(np.diff(igniter.at_s)))
    too_slow = ROWS_A_LIGHT * step_s > levels.time_to_light_s
    told, spoiled = list[_Start](), list[Spoiled]()
    if not too_slow:
        log = _Log(logged=logged, igniter=igniter, cycles=cycles, by=by, levels=levels, step_s=step_s)
        glows = log.glows()
        for burn in range(len(cycles.lit_s)):
            found = log.start(burn, glows)
            if isinstance(found, Spoiled):
                spoiled.append(found)
            else:
                told.append(found)
    drew = [each for each in told if each.amperes is not None]
    return Starts(
        lights_s=np.array([each.light_s for each in told], dtype=float),
        igniter_a=np.array([each.amperes for each in drew], dtype=float),
        volts=np.array([each.volts for each in drew if each.volts is not None], dtype=float),
        coolant_k=_middle([each.coolant_k for each in told]),
        dark_s=_middle([each.dark_s for each in told]),
        spoiled={each: spoiled.count(each) for each in Spoiled if each in spoiled},
        slowest_step_s=int(levels.time_to_light_s / ROWS_A_LIGHT),
        too_slow=too_slow,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Log:
    """The columns of a log, its burns, and the levels that it is read by."""

    logged: Mapping[Channel, Logged]
    igniter: Logged
    cycles: Cycles
    by: Channel
    levels: Phases
    step_s: float

    def glows(self) -> list[_Glow]:
        """Every spell in which the igniter drew; on the supply a spell of the motors may be none."""
        levels, values = self.levels, self.igniter.values
        igniter_a = levels.trial_a - levels.running_a
        if self.igniter.channel is Channel.IGNITER_CURRENT:
            own = blocks(values > 0.5 * igniter_a)
            return [_Glow(first=first, last=last, trial=first, tries=1) for first, last in own]
        mark = 0.5 * (levels.after_run_a + min(levels.igniting_a, levels.running_a))
        return [self._on_the_supply(first, last) for first, last in blocks(values > mark)]

    def _on_the_supply(self, first: int, last: int) -> _Glow:
        """The glow at the head of a spell of the motors, with as many tries as fuel went on in it."""
        levels, values, at = self.levels, self.igniter.values, self.igniter.at_s
        lit = np.flatnonzero(values[first : last + 1] > 0.5 * (levels.running_a + levels.trial_a))
        if not len(lit):
            return _Glow(first=first, last=last, trial=first, tries=0)
        end = first + int(lit[-1])
        # By this unit's own level, since an aged igniter draws less and its motors do not.
        top = float(values[min(first + 1, end) : end + 1].max())
        fuelled = values[first : end + 1] > top - 0.5 * (levels.trial_a - levels.igniting_a)
        tries = [(first + one, first + other) for one, other in blocks(fuelled)]
        if len(tries) > 1 and tries[0][0] == first and at[tries[0][1]] - at[first] < levels.shortest_flame_s:
            tries = tries[1:]  # a cold igniter draws more at first
        return _Glow(first=first, last=end, trial=tries[-1][0], tries=len(tries))

    def start(self, burn: int, glows: list[_Glow]) -> _Start | Spoiled:
        """What the start of a burn told, or why it tells nothing."""
        at, lit_s = self.igniter.at_s, float(self.cycles.lit_s[burn])
        if not self.cycles.is_start[burn]:
            return Spoiled.CUT
        before_s = float(self.cycles.lit_s[burn - 1]) if burn else -np.inf
        tried = [each for each in glows if before_s < at[each.first] < lit_s]
        if not tried or tried[-1].tries == 0:
            return Spoiled.UNCLEAR
        glow = tried[-1]
        if len(tried) > 1 or glow.tries > 1:
            return Spoiled.RETRIED
        quiet_s = float(at[glow.first]) - QUIET_S
        last = min(max(glow.last + 1, int(np.searchsorted(at, lit_s))), len(at) - 1)
        near = at[int(np.searchsorted(at, quiet_s)) : last + 1]
        if at[0] > quiet_s or np.any(np.diff(near) > ONE_ROW_MISSING * self.step_s):
            return Spoiled.CUT
        return self._told(burn, glow)

    def _told(self, burn: int, glow: _Glow) -> _Start | Spoiled:
        at, lit_s = self.igniter.at_s, float(self.cycles.lit_s[burn])
        # Where in its step each end lies is chance: the middle of it.
        on_s = _before(at, glow.first)
        off_s = _before(at, min(glow.last + 1, len(at) - 1))
        lit = int(np.searchsorted(at, lit_s))
        flame_s = _before(at, lit) if self.by is Channel.BURNING else off_s
        away_s = abs(_before(at, lit) - off_s)
        # A control that holds its igniter into the flame may, as long as its own word tells when it lit.
        held = self.by is Channel.BURNING and off_s > flame_s
        if not held and away_s > SEEN_WITHIN_S[self.by] + self.step_s:
            return Spoiled.UNCLEAR
        light_s = flame_s - on_s
        if light_s > LONGEST_GLOW * self.levels.time_to_light_s:
            return Spoiled.UNCLEAR
        rows = self._settled(burn, glow, on_s=on_s, flame_s=flame_s)
        coolant = self.logged.get(Channel.COOLANT_TEMPERATURE)
        volts = self.logged.get(Channel.SUPPLY_VOLTAGE)
        return _Start(
            light_s=light_s,
            amperes=None if rows is None else self._amperes(burn, glow, rows),
            volts=None if rows is None or volts is None else float(np.median(volts.values[rows])),
            coolant_k=None if coolant is None else float(coolant.values[glow.first]),
            dark_s=on_s - float(self.cycles.out_s[burn - 1]) if burn else None,
        )

    def _settled(self, burn: int, glow: _Glow, *, on_s: float, flame_s: float) -> slice | None:
        """Rows of what the igniter settles at; those at an end may be half of another phase."""
        at = self.igniter.at_s
        first = max(glow.trial + 1, int(np.searchsorted(at, on_s + SETTLED_SHARE * (flame_s - on_s))))
        return slice(first, glow.last) if glow.last > first else None

    def _amperes(self, burn: int, glow: _Glow, rows: slice) -> float | None:
        """What the igniter drew; off the supply's current, what went with it when it went off."""
        values, at = self.igniter.values, self.igniter.at_s
        drew = float(np.median(values[rows]))
        if self.igniter.channel is Channel.IGNITER_CURRENT:
            return drew
        until_s = min(float(at[glow.last]) + SETTLES_S, float(self.cycles.out_s[burn]))
        motors = values[glow.last + 2 : int(np.searchsorted(at, until_s))]
        return drew - float(np.median(motors)) if len(motors) > 1 else None


def _before(at_s: Numbers, row: int) -> float:
    """The middle of the step that ends with a row."""
    return 0.5 * float(at_s[row - 1] + at_s[row])


def _middle(told: Sequence[float | None]) -> float | None:
    known = [each for each in told if each is not None]
    return float(np.median(known)) if known else None

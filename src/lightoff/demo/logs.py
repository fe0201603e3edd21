"""A logger's file of an invented heater: its phases by the forward model, and the truth beside it."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.values import dataclass
from lightoff.plant.phases import Phases
from lightoff.terms.shelf import Sheet

Numbers = NDArray[np.float64]

TICK_S, STEP_S = 5, 20
"""How finely the heater is followed, and how often the logger writes."""
CALLS_BELOW_K = 20.0
"""Below the thermostat's mark the control calls for heat again. Judgement, no source."""
ROOMS_TAKE = (0.15, 0.6)
"""Of the burner's warm-up, what cold rooms take, by night and day. Judgement, no source."""
STACK_LAG_S, COOLS_LAG_S = 30.0, 240.0
"""A probe's lag; how slowly a chamber without a flame cools. Judgement, no source."""
_NOISE = {"stack": 2.0, "coolant": 0.15, "current": 0.12}


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedLog:
    """What a logger wrote, (rows,) SI, and what really happened: each burn in seconds from its start.

    `glowed_s` is when the igniter went on for each burn.
    """

    began_at: datetime
    at_s: Numbers
    current_a: Numbers
    stack_k: Numbers
    coolant_k: Numbers
    burning: Numbers
    glowed_s: tuple[float, ...]
    lit_s: tuple[float, ...]
    out_s: tuple[float, ...]

    def written(self) -> str:
        """The file: time, current, stack and coolant; invented, as its first line says."""
        lines = [
            "# invented: a logger that never was",
            "time [UTC],supply current [A],stack temperature [degC],coolant temperature [degC]",
        ]
        rows = zip(
            self.at_s.tolist(),
            self.current_a.tolist(),
            (self.stack_k - 273.15).tolist(),
            (self.coolant_k - 273.15).tolist(),
            strict=True,
        )
        lines += [
            f"{self.began_at + timedelta(seconds=at):%Y-%m-%dT%H:%M:%S}"
            f",{current:.1f},{stack:.0f},{coolant:.1f}"
            for at, current, stack, coolant in rows
        ]
        return "\n".join(lines) + "\n"


def invent_log(
    rng: np.random.Generator,
    sheet: Sheet,
    levels: Phases,
    *,
    began_at: datetime,
    days: float,
    step_s: int = STEP_S,
) -> InventedLog:
    """Some days of one heater with a thermostat; the logger writes every `step_s`, whole ticks."""
    off_k, on_k = sheet.thermostat_off_k, sheet.thermostat_off_k - CALLS_BELOW_K
    count = int(days * 86_400.0 / TICK_S)
    current, stack, coolant = np.empty(count), np.empty(count), np.empty(count)
    glowed, lit, out = list[float](), list[float](), list[float]()
    phase, left = "rest", 0.0
    gas_k = water_k = off_k - 8.0
    day_s = float(rng.uniform(0.0, 86_400.0))
    for tick in range(count):
        second = float(tick * TICK_S)
        left -= TICK_S
        if phase == "rest" and water_k <= on_k:
            phase, left = "igniting", 0.6 * levels.time_to_light_s
            glowed.append(second)
        elif phase == "igniting" and left <= 0.0:
            phase, left = "trial", 0.4 * levels.time_to_light_s
        elif phase == "trial" and left <= 0.0:
            phase = "running"
            lit.append(second)
        elif phase == "running" and water_k >= off_k:
            phase, left = "after-run", sheet.after_run_s
            out.append(second)
        elif phase == "after-run" and left <= 0.0:
            phase = "rest"
        cold = 0.5 + 0.5 * np.sin(2.0 * np.pi * (second + day_s) / 86_400.0)
        share = ROOMS_TAKE[0] + (ROOMS_TAKE[1] - ROOMS_TAKE[0]) * cold
        water_k += TICK_S * levels.warm_up_k_s * ((1.0 if phase == "running" else 0.0) - share)
        to_k, lag_s = (levels.stack_k, STACK_LAG_S) if phase == "running" else (water_k, COOLS_LAG_S)
        if phase == "after-run":
            lag_s = STACK_LAG_S  # the fan blows it cold
        gas_k += (to_k - gas_k) * TICK_S / lag_s
        current[tick] = _amperes(levels, phase)
        stack[tick], coolant[tick] = gas_k, water_k
    if phase == "running":
        out.append(float((count - 1) * TICK_S))
    at = np.arange(0, count, step_s // TICK_S)
    burning = np.zeros(count)
    for one, other in zip(lit, out, strict=True):
        burning[int(one) // TICK_S : int(other) // TICK_S] = 1.0
    return InventedLog(
        began_at=began_at,
        at_s=(TICK_S * at).astype(float),
        current_a=np.maximum(current[at] + _NOISE["current"] * rng.normal(size=len(at)), 0.0),
        stack_k=stack[at] + _NOISE["stack"] * rng.normal(size=len(at)),
        coolant_k=coolant[at] + _NOISE["coolant"] * rng.normal(size=len(at)),
        burning=burning[at],
        glowed_s=tuple(glowed[: len(lit)]),
        lit_s=tuple(lit),
        out_s=tuple(out),
    )


def _amperes(levels: Phases, phase: str) -> float:
    match phase:
        case "igniting":
            return levels.igniting_a
        case "trial":
            return levels.trial_a
        case "running":
            return levels.running_a
        case "after-run":
            return levels.after_run_a
        case _:
            return levels.rest_a

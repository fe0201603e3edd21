"""Carbon monoxide where people live, above outdoors: the figure that the owner reads first."""

from __future__ import annotations

import math

from lightoff.ground.estimate import Estimate
from lightoff.judging.assessment import Figure
from lightoff.judging.view import STAGES, Read, View
from lightoff.terms.visit import Stage


def living_space_figures(view: View) -> tuple[Figure, ...]:
    """The worse rise of each stage, burner running or off; without outdoors its CO counts as none."""
    found = (_rise(view, stage) for stage in STAGES)
    return tuple(each for each in found if each is not None)


def _rise(view: View, stage: Stage) -> Figure | None:
    inside = [
        read
        for key in ("living_space_co_running", "living_space_co_off")
        if (read := view.number(key, stage)) is not None
    ]
    if not inside:
        return None
    worse = max(inside, key=lambda read: read.value)
    outdoors = view.number("outdoor_co", stage)
    figure = Figure(
        key="living_space_co_rise",
        estimate=_above(worse, outdoors),
        dimension="trace_gas_fraction",
        stage=stage,
        limit=view.rows.strictest("living_space_co_rise", "not fit"),
        readings=tuple(read.reading.id for read in (worse, outdoors) if read is not None),
    )
    return view.as_counted(figure)


def _above(inside: Read, outdoors: Read | None) -> Estimate:
    base, width = (outdoors.value, outdoors.half_width) if outdoors else (0.0, 0.0)
    return Estimate.from_half_width(inside.value - base, math.hypot(inside.half_width, width))

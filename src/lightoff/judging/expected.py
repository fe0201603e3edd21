"""What this heater should read here and today, beside what it read: evidence that can only lower.

The band of a reading comes from the forward model and the unit's own good visits, handed in as data. A steady
as-left reading that lies far outside a very wide band is not believed: it is not proven, whatever else is
within limits. A reading inside its band proves nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, message
from lightoff.judging.assessment import Area, Bands, Figure, GateResult, Judgement, Triangle
from lightoff.judging.burn import stack_limit
from lightoff.judging.compare import threshold
from lightoff.judging.limit_gates import Rows
from lightoff.judging.practice import Practice
from lightoff.judging.view import Read, View
from lightoff.plant.band import COVERAGE, Band
from lightoff.plant.quantities import COLUMN, QUANTITIES, uncompared
from lightoff.terms.shelf import Comparison, Limit
from lightoff.terms.visit import Stage

SPREADS = 3.5
"""How many standard deviations out a reading must lie, and by more than its instrument's U, to be doubted:
one sound heater in some two thousand. Judgement, no source."""
GATED: Mapping[str, Area] = {
    "flue_o2": Area.BURN,
    "stack_gas_temperature": Area.BURN,
    "igniter_current": Area.SUPPLY,
    "time_to_light": Area.LIGHT_OFF,
}
"""Steady readings that a sound heater repeats, by the area that they lower."""
# The maker's own range of oxygen gives way to the band of this place; other expectations are of this very
# test (the current at the voltage read) and stay.
_GIVES_WAY = frozenset({"flue_o2"})
_LIMITED_AS: Mapping[str, str] = {
    "flue_o2": "flue_o2",
    "flue_co": "co_air_free",
    "smoke_number": "smoke_number",
}
"""The quantity that the limits table bounds, by reading."""
_OTHER_CAUSE_BELOW = frozenset({"flue_o2", "stack_gas_temperature"})
"""Readings that mean one thing above their band and another below it."""


def with_expected(parts: Mapping[Area, Practice], seen: View, bands: Bands) -> dict[Area, Practice]:
    """The areas with a band at each figure that had none, and a gate where a reading is far off."""
    gates = tuple(_gates(seen, bands.get(Stage.AS_LEFT, {})))
    return {
        area: replace(
            part,
            figures=tuple(_banded(figure, bands, seen.rows) for figure in part.figures),
            gates=(*part.gates, *(gate for at, gate in gates if at is area)),
        )
        for area, part in parts.items()
    }


def with_expected_o2(drawn: Triangle | None, bands: Bands) -> Triangle | None:
    """The combustion triangle with the oxygen to expect here."""
    if drawn is None or drawn.expected_o2 is None:
        return drawn
    band = bands.get(Stage.AS_LEFT, {}).get("flue_o2")
    low, high = drawn.expected_o2 if band is None else (band.low, band.high)
    low = max(low, drawn.o2_floor_fraction)
    return replace(drawn, expected_o2=(low, high) if low < high else None)


def far_from(key: str, band: Band) -> tuple[float, float]:
    """The ends of the very wide band, SI: `SPREADS` standard deviations out on the scale compared."""
    at, middle = COLUMN[key], _compared(key, band.middle)
    low, high = (
        middle + (_compared(key, end) - middle) * SPREADS / COVERAGE for end in (band.low, band.high)
    )
    return float(uncompared(np.asarray(low), at)), float(uncompared(np.asarray(high), at))


def _compared(key: str, value: float) -> float:
    floor = QUANTITIES[key].floor
    return math.log(max(value, 0.0) + floor) if floor > 0.0 else value


def estimate_of(band: Band) -> Estimate:
    """A band as an estimate: nineteen in twenty sound heaters read within it."""
    low, high = min(band.low, band.middle), max(band.high, band.middle)
    return Estimate(value=band.middle, low=low, high=high, coverage=0.95)


def told(key: str, expected: Estimate, rows: Rows) -> Estimate | None:
    """What is told of what is expected: what may be read is no word on what may be.

    It begins at a floor of the reading, and nothing is told of what reaches past a ceiling.
    """
    row = limit_of(key, rows)
    if row is None:
        return expected
    limit = float(threshold(row))
    if row.comparison is not Comparison.AT_LEAST:
        return expected if expected.high <= limit else None
    if expected.high <= limit:
        return None
    return replace(expected, value=max(expected.value, limit), low=max(expected.low, limit))


def limit_of(key: str, rows: Rows) -> Limit | None:
    """The limit of a reading that is told a band, as it holds for this heater; None where it has none."""
    if key == "stack_gas_temperature":
        return stack_limit(rows.sheet)
    return rows.strictest(_LIMITED_AS[key], "not fit") if key in _LIMITED_AS else None


def _banded(figure: Figure, bands: Bands, rows: Rows) -> Figure:
    band, expected = bands.get(figure.stage, {}).get(figure.key), figure.expected
    by_sheet = expected is not None
    if band is not None and by_sheet == (figure.key in _GIVES_WAY):
        expected, by_sheet = estimate_of(band), False
    if expected is None:
        return figure
    return replace(figure, expected=told(figure.key, expected, rows), by_sheet=by_sheet)


def _gates(seen: View, bands: Mapping[str, Band]) -> Iterator[tuple[Area, GateResult]]:
    for key, area in GATED.items():
        band = bands.get(key)
        reads = [each for each in seen.numbers(key, Stage.AS_LEFT) if _of_dry_gas(key, each)]
        if band is None or not reads:
            continue
        low, high = far_from(key, band)
        off = max(reads, key=lambda each: _beyond(each, low, high))
        if _beyond(off, low, high) > 0.0:
            yield area, _far_off(key, off, band, seen.rows)


def _of_dry_gas(key: str, read: Read) -> bool:
    return key != "flue_o2" or read.reading.basis == "dry"


def _beyond(read: Read, low: float, high: float) -> float:
    """By how much a reading with its instrument's U lies outside; below nought where it may lie inside."""
    return max(low - (read.value + read.half_width), (read.value - read.half_width) - high)


def _far_off(key: str, read: Read, band: Band, rows: Rows) -> GateResult:
    dimension, whole = QUANTITIES[key].dimension, estimate_of(band)
    expected = told(key, whole, rows) or whole
    side = "_below" if key in _OTHER_CAUSE_BELOW and read.value < band.low else ""
    said = message(
        "judging.far_from_expected",
        what=f"@reading.{key}",
        value=Amount(value=read.value, dimension=dimension),
        low=Amount(value=expected.low, dimension=dimension),
        high=Amount(value=expected.high, dimension=dimension),
        do=f"@judging.far_from_expected_{key}{side}",
    )
    return GateResult(
        gate=f"expected {key}",
        judgement=Judgement.NOT_PROVEN,
        said=said,
        missing=(key,),
        readings=(read.reading.id,),
    )

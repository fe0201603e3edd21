"""What needs no flue-gas probe: light-off, after-run, igniter, supply, warm-up, drift, burn time left.

Each compares a reading with the heater's sheet or its own past, within bands of the limits table.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from lightoff.ground import units
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, Message, message
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Figure, GateResult, Judgement, figure_of
from lightoff.judging.compare import threshold
from lightoff.judging.earlier import Left, left_then
from lightoff.judging.view import STAGES, Read, View, band
from lightoff.terms.shelf import Comparison, Limit
from lightoff.terms.visit import EventKind, Stage

# Coolant, water with a third to a half of glycol near 60 degC: density x specific heat. The width covers
# plain water. Basis: from memory, unverified (rounded from handbook tables; the circuit will hold them).
COOLANT_HEAT_J_M3K = 3.7e6
# A shorter burn than this cannot become steady and be read. Basis: common practice, no source.
SHORT_BURN_S = 300.0
PAST_VISITS = 5
# Of which a change shows: these stay alike from visit to visit while nothing wears.
DRIFTING = ("time_to_light", "igniter_current", "stack_gas_temperature")


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """One thing judged by practice: figures, sentences, and its gate where the table has rows for it."""

    figures: tuple[Figure, ...] = ()
    sentences: tuple[Message, ...] = ()
    gates: tuple[GateResult, ...] = ()


def judged_ratio(
    view: View, quantity: str, ratio: Estimate, said: Message, *, readings: tuple[str, ...]
) -> Practice:
    """A ratio to what is expected, against every row of the table that speaks of it.

    Practice bands are wide already: a ratio is outside only where all of it lies beyond.
    """
    rows = [row for row in view.rows.limits.of(quantity) if row.value is not None]
    crossed = [row for row in rows if _beyond(row, ratio)]
    if not rows:
        return Practice(sentences=(said,))
    judgement = Judgement.WITHIN
    if crossed:
        judgement = Judgement.OUTSIDE if crossed[0].effect == "not fit" else Judgement.NOT_PROVEN
        said = message("judging.out_of_band", said=said)
    gate = GateResult(
        gate=quantity, judgement=judgement, said=said, limits=tuple(crossed or rows), readings=readings
    )
    return Practice(sentences=(said,), gates=(gate,))


def of_figure(view: View, quantity: str, key: str, *, whole: float, unit: str) -> Limit | None:
    """The table's row for a ratio as a limit of the figure itself: `whole` (SI) is what the ratio is of."""
    row = next((row for row in view.rows.limits.of(quantity) if row.value is not None), None)
    if row is None:
        return None
    value = units.from_si(float(threshold(row)) * whole, unit)
    return replace(row, quantity=key, value=Decimal(f"{value:.3g}"), unit=unit)


def _beyond(row: Limit, ratio: Estimate) -> bool:
    limit = float(threshold(row))
    if row.comparison in (Comparison.AT_MOST, Comparison.BELOW):
        return ratio.low > limit
    return ratio.high < limit


def _of_the_last_test(view: View, key: str, stage: Stage) -> list[Read]:
    """Every number of a kind that was read in the test of the last one: those of its starts."""
    read = view.numbers(key, stage)
    return [each for each in read if each.reading.test == read[-1].reading.test]


def _slowest_light(view: View, stage: Stage) -> Read | None:
    """Of the lights of the last test the slowest: one that went better does away with none."""
    lights = _of_the_last_test(view, "time_to_light", stage)
    return max(lights, key=lambda each: each.value, default=None)


def _worst_current(view: View, stage: Stage, loaded: Read | None) -> Read | None:
    """Of the igniter's currents of the last test the one farthest from what is expected, else the weakest."""
    expected = _igniter_current(view, loaded)

    def wrong_by(read: Read) -> float:
        if expected is None or expected.value <= 0 or read.value <= 0:
            return -read.value
        return abs(math.log(read.value / expected.value))

    currents = _of_the_last_test(view, "igniter_current", stage)
    dead = [each for each in currents if each.value <= 0]
    return max(dead or currents, key=wrong_by, default=None)


def light_off(view: View) -> Practice:
    """Time from switch to flame, beside what this type of heater takes."""
    sheet = view.sheet
    figures: list[Figure] = []
    parts: list[Practice] = []
    expected = band(sheet.light_off_low_s, sheet.light_off_high_s)
    for stage in STAGES:
        read = _slowest_light(view, stage)
        if read is not None:
            figures.append(view.figure("time_to_light", read, expected=expected))
    read = _slowest_light(view, Stage.AS_LEFT) or _slowest_light(view, Stage.AS_FOUND)
    if read is not None:
        said = message(
            "judging.time_to_light",
            time=_amount(read, "time"),
            low=Amount(value=expected.low, dimension="time"),
            high=Amount(value=expected.high, dimension="time"),
        )
        ratio = read.estimate.scaled(1.0 / sheet.light_off_high_s)
        parts.append(judged_ratio(view, "time_to_light_ratio", ratio, said, readings=(read.reading.id,)))
    run_on = view.latest("after_run_time")
    if run_on is not None:
        read, _ = run_on
        limit = of_figure(view, "after_run_ratio", "after_run_time", whole=sheet.after_run_s, unit="s")
        figures.append(view.figure("after_run_time", read, limit=limit))
        said = message(
            "judging.after_run_time",
            time=_amount(read, "time"),
            expected=Amount(value=sheet.after_run_s, dimension="time"),
        )
        ratio = read.estimate.scaled(1.0 / sheet.after_run_s)
        parts.append(judged_ratio(view, "after_run_ratio", ratio, said, readings=(read.reading.id,)))
    return _joined(parts, tuple(figures))


def supply(view: View) -> Practice:
    """Supply at the heater's plug and the igniter's current at that voltage."""
    figures: list[Figure] = []
    parts: list[Practice] = []
    for stage in STAGES:
        loaded = view.number("supply_voltage_igniter", stage)
        current = _worst_current(view, stage, loaded)
        if loaded is not None:
            figures.append(view.figure("supply_voltage_igniter", loaded))
        if current is not None:
            expected = _igniter_current(view, loaded)
            figures.append(view.figure("igniter_current", current, expected=expected))
    found = view.latest("supply_voltage_igniter")
    stage = found[1] if found else Stage.AS_LEFT
    loaded, rest = (
        view.number("supply_voltage_igniter", stage),
        view.number("supply_voltage_rest", stage),
    )
    current = _worst_current(view, stage, loaded)
    if loaded is not None and rest is not None and rest.value > 0:
        figures.append(_sag_figure(view, rest, loaded))
        parts.append(_sag(view, rest, loaded))
    if loaded is not None:
        parts.append(_cut_out(view, loaded))
    if current is not None and loaded is not None and loaded.value > 0:
        parts.append(_igniter(view, current, loaded))
    return _joined(parts, tuple(figures))


def _igniter_current(view: View, loaded: Read | None) -> Estimate | None:
    """By the sheet's watts at its volts, at the voltage there is: a resistor of fixed worth."""
    if loaded is None:
        return None
    per_volt = view.sheet.igniter_w / view.sheet.igniter_v**2
    low, high = ratios(view, "igniter_current_ratio")
    value = loaded.value * per_volt
    return Estimate(value=value, low=value * low, high=value * high, coverage=0.95)


def _igniter(view: View, current: Read, loaded: Read) -> Practice:
    expected = _igniter_current(view, loaded)
    if expected is None or expected.value <= 0:
        return Practice()
    said = message(
        "judging.igniter_current",
        current=_amount(current, "current"),
        voltage=_amount(loaded, "voltage"),
        low=Amount(value=expected.low, dimension="current"),
        high=Amount(value=expected.high, dimension="current"),
    )
    ratio = current.value / expected.value
    doubt = ratio * math.hypot(
        current.half_width / max(abs(current.value), 1e-9), loaded.half_width / loaded.value
    )
    estimate = Estimate.from_half_width(ratio, doubt)
    ids = (current.reading.id, loaded.reading.id)
    return judged_ratio(view, "igniter_current_ratio", estimate, said, readings=ids)


def _sag_figure(view: View, rest: Read, loaded: Read) -> Figure:
    return Figure(
        key="supply_sag",
        estimate=_difference(rest, loaded),
        dimension="voltage",
        stage=loaded.reading.stage,
        limit=of_figure(view, "supply_sag_fraction", "supply_sag", whole=rest.value, unit="V"),
        readings=(rest.reading.id, loaded.reading.id),
    )


def _sag(view: View, rest: Read, loaded: Read) -> Practice:
    sag = _difference(rest, loaded)
    said = message(
        "judging.supply_sag",
        sag=Amount(value=sag.value, dimension="voltage", half_width=sag.half_width),
        rest=_amount(rest, "voltage"),
        loaded=_amount(loaded, "voltage"),
    )
    ids = (rest.reading.id, loaded.reading.id)
    return judged_ratio(view, "supply_sag_fraction", sag.scaled(1.0 / rest.value), said, readings=ids)


def _cut_out(view: View, loaded: Read) -> Practice:
    cut_out = view.sheet.low_voltage_cut_out_v
    said = message(
        "judging.near_cut_out",
        voltage=_amount(loaded, "voltage"),
        cut_out=Amount(value=cut_out, dimension="voltage"),
    )
    if loaded.value - loaded.half_width > cut_out:
        return Practice()
    gate = GateResult(
        gate="low_voltage_cut_out",
        judgement=Judgement.OUTSIDE if loaded.value + loaded.half_width < cut_out else Judgement.NOT_PROVEN,
        said=said,
        readings=(loaded.reading.id,),
    )
    return Practice(sentences=(said,), gates=(gate,))


def warm_up(view: View) -> Practice:
    """How fast the coolant warms, beside the heater's output into its own coolant."""
    figures: list[Figure] = []
    parts: list[Practice] = []
    for stage in STAGES:
        start, end = (
            view.number("coolant_temperature_start", stage),
            view.number("coolant_temperature_end", stage),
        )
        took = view.number("warm_up_time", stage)
        if start is None or end is None or took is None or took.value <= 0:
            continue
        rise = _difference(end, start)
        rate = rise.scaled(1.0 / took.value)
        full = view.sheet.heat_output_w / (COOLANT_HEAT_J_M3K * view.sheet.coolant_volume_m3)
        low, high = ratios(view, "warm_up_ratio")
        expected = Estimate(value=full, low=min(full, full * low), high=max(full, full * high), coverage=0.95)
        ids = (start.reading.id, end.reading.id, took.reading.id)
        figures.append(
            Figure(
                key="warm_up_rate",
                estimate=rate,
                dimension="heating_rate",
                stage=stage,
                expected=expected,
                readings=ids,
                by_sheet=True,
            )
        )
        said = message(
            "judging.warm_up",
            rate=Amount(value=rate.value, dimension="heating_rate", half_width=rate.half_width),
            low=Amount(value=expected.low, dimension="heating_rate"),
            high=Amount(value=expected.high, dimension="heating_rate"),
        )
        parts = [judged_ratio(view, "warm_up_ratio", rate.scaled(1.0 / full), said, readings=ids)]
    return _joined(parts, tuple(figures))


def burn_time_left(view: View) -> tuple[Figure, Message | None] | None:
    """How long the burner runs before its thermostat stops it, and what to switch on if that is short."""
    found = view.latest("coolant_temperature")
    if found is None:
        return None
    coolant, stage = found
    load_found = view.latest("heat_load")
    load = load_found[0].value if load_found else 0.0
    sheet = view.sheet
    spare = sheet.heat_output_w - load
    if spare <= 0:
        return None
    heat = COOLANT_HEAT_J_M3K * sheet.coolant_volume_m3
    left = max(0.0, (sheet.thermostat_off_k - coolant.value) * heat / spare)
    half = coolant.half_width * heat / spare
    figure = Figure(
        key="burn_time_left",
        estimate=Estimate(value=left, low=max(0.0, left - half), high=left + half, coverage=0.95),
        dimension="minutes",
        stage=stage,
        readings=(coolant.reading.id,),
    )
    amount = Amount(value=left, dimension="minutes")
    if any(each.kind is EventKind.FLAME_OUT for each in view.case.visit.events):
        return figure, None
    key = "judging.burn_time_short" if left < SHORT_BURN_S else "judging.burn_time_left"
    return figure, message(key, left=amount)


def drift(view: View, figures: Sequence[Figure]) -> tuple[Message, ...]:
    """What has moved since this unit's earlier visits; it informs and never proves.

    Now and then are the numbers that the visits' own figures tell.
    """
    earlier, said = [left_then(visit, DRIFTING) for visit in view.case.history], []
    for key in DRIFTING:
        now = figure_of(figures, key, Stage.AS_LEFT) or figure_of(figures, key, Stage.AS_FOUND)
        past = _past(view, earlier, key)
        if now is None or len(past) < 2:
            continue
        if now.estimate.low <= max(past) and now.estimate.high >= min(past):
            continue
        said.append(
            message(
                "judging.drifted",
                what=f"@reading.{key}",
                now=Amount(value=now.estimate.value, dimension=now.dimension),
                usual=Amount(value=statistics.median(past), dimension=now.dimension),
                count=len(past),
            )
        )
    return tuple(said)


def _past(view: View, earlier: Sequence[Left], key: str) -> list[float]:
    # As the figure of the exhaust: against the maker's limit stands the hottest set.
    hottest = key == "stack_gas_temperature" and view.sheet.stack_temperature_highest_k is not None
    found = (each.reading(key, highest=hottest) for each in earlier)
    readings = [each for each in found if each is not None][-PAST_VISITS:]
    return [units.to_si(each.value, each.unit) for each in readings if each.value is not None]


def ratios(view: View, quantity: str) -> tuple[float, float]:
    """The lowest and highest ratio that the table's rows let pass; 1 where a side has no row."""
    rows = [row for row in view.rows.limits.of(quantity) if row.value is not None]
    upper = [
        float(threshold(row)) for row in rows if row.comparison in (Comparison.AT_MOST, Comparison.BELOW)
    ]
    lower = [float(threshold(row)) for row in rows if row.comparison is Comparison.AT_LEAST]
    return max(lower, default=1.0), min(upper, default=1.0)


def _difference(one: Read, other: Read) -> Estimate:
    return Estimate.from_half_width(one.value - other.value, math.hypot(one.half_width, other.half_width))


def _amount(read: Read, dimension: str) -> Amount:
    return Amount(value=read.value, dimension=dimension)


def _joined(parts: list[Practice], figures: tuple[Figure, ...]) -> Practice:
    return Practice(
        figures=(*figures, *(figure for part in parts for figure in part.figures)),
        sentences=tuple(said for part in parts for said in part.sentences),
        gates=tuple(gate for part in parts for gate in part.gates),
    )

"""Burns in logs whose truth is known: each channel by itself, gaps, cut ends, failed tries, silence."""

from datetime import UTC, datetime

import numpy as np
import pytest

from lightoff.demo.logs import InventedLog, invent_log
from lightoff.demo.unit import draw_unit
from lightoff.ground.estimate import Estimate
from lightoff.plant.conditions import Conditions
from lightoff.plant.phases import Phases, phases
from lightoff.shelf import open_shelf
from lightoff.terms.trace import TELLS_BURNS, Channel
from lightoff.trace.cycles import Cycles, Logged, find_cycles, steady_values

SHELF = open_shelf()
DIESEL = SHELF.fuels["diesel_2"]
HERE = Conditions(fuel=DIESEL, rated_fuel=DIESEL)
SHEETS = sorted(SHELF.sheets)
OF = {
    Channel.BURNING: "burning",
    Channel.SUPPLY_CURRENT: "current_a",
    Channel.STACK_TEMPERATURE: "stack_k",
    Channel.COOLANT_TEMPERATURE: "coolant_k",
}


def sound(sheet: str) -> Phases:
    return phases(SHELF.sheets[sheet], HERE)


@pytest.fixture(scope="module")
def logs() -> dict[str, InventedLog]:
    """A day and a half of one worn unit of each type: it is not what its sheet says."""
    made = {}
    for number, key in enumerate(SHEETS):
        rng = np.random.default_rng([7, number])
        unit = draw_unit(rng, SHELF.sheets[key])
        own = phases(unit.sheet, HERE, unit.nature + unit.worn)
        began = datetime(2026, 1, 5, 8, tzinfo=UTC)
        made[key] = invent_log(rng, unit.sheet, own, began_at=began, days=1.5)
    return made


def found(log: InventedLog, channel: Channel, sheet: str) -> Cycles:
    return find_cycles(Logged(channel=channel, at_s=log.at_s, values=getattr(log, OF[channel])), sound(sheet))


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("channel", TELLS_BURNS)
def test_each_channel_tells_the_burns_of_a_unit_that_is_not_its_sheet(
    logs: dict[str, InventedLog], channel: Channel, sheet: str
) -> None:
    log = logs[sheet]
    truth = sum(log.out_s) - sum(log.lit_s)
    cycles = found(log, channel, sheet)
    assert cycles.burned.low <= truth <= cycles.burned.high
    assert abs(cycles.starts - len(log.lit_s)) <= max(cycles.starts_unsure, 1 if cycles.cut_count else 0)
    assert cycles.logged_s == pytest.approx(1.5 * 86_400, abs=30)
    assert cycles.burned.high - cycles.burned.low < 0.6 * truth


def test_better_evidence_is_surer(logs: dict[str, InventedLog]) -> None:
    widths = [
        (each.burned.high - each.burned.low)
        for each in (found(logs["generic_9_kw"], channel, "generic_9_kw") for channel in TELLS_BURNS)
    ]
    assert widths == sorted(widths)


def test_tries_without_a_flame_are_no_burn() -> None:
    levels = sound("generic_9_kw")
    one_try = [levels.igniting_a] * 6 + [levels.trial_a] * 4 + [levels.after_run_a] * 12
    values = np.array([levels.rest_a] * 20 + one_try * 2 + [levels.rest_a] * 20)
    log = Logged(channel=Channel.SUPPLY_CURRENT, at_s=5.0 * np.arange(len(values)), values=values)
    assert find_cycles(log, levels).starts == 0
    assert find_cycles(log, levels).burned.value == 0.0


def test_a_second_try_that_lights_is_one_start_from_its_light() -> None:
    levels = sound("generic_9_kw")
    failed = [levels.igniting_a] * 6 + [levels.trial_a] * 4 + [levels.after_run_a] * 6
    lights = [levels.igniting_a] * 6 + [levels.trial_a] * 4 + [levels.running_a] * 100
    values = np.array([levels.rest_a] * 9 + failed + lights + [levels.after_run_a] * 20 + [levels.rest_a] * 9)
    cycles = find_cycles(
        Logged(channel=Channel.SUPPLY_CURRENT, at_s=5.0 * np.arange(len(values)), values=values), levels
    )
    assert cycles.starts == 1
    assert cycles.burned.value == pytest.approx(500.0)


def test_a_gap_is_not_logged_and_a_burn_ends_where_it_begins() -> None:
    at = np.concatenate([np.arange(0, 600, 10.0), np.arange(4200, 4800, 10.0)])
    cycles = find_cycles(
        Logged(channel=Channel.BURNING, at_s=at, values=np.ones_like(at)), sound("generic_9_kw")
    )
    assert cycles.gap_count == 1
    assert cycles.logged_s == pytest.approx(590 + 590)
    assert cycles.burned.value == pytest.approx(590 + 590)
    assert cycles.starts == 0  # both burned already when the log came in
    assert cycles.starts_unsure == 1


def test_a_log_that_writes_only_changes_holds_between_them() -> None:
    at = np.array([0.0, 3600.0, 5400.0, 9000.0, 10800.0])
    log = Logged(channel=Channel.BURNING, at_s=at, values=np.array([0.0, 1.0, 0.0, 1.0, 0.0]))
    cycles = find_cycles(log, sound("generic_9_kw"))
    assert (cycles.starts, cycles.gap_count) == (2, 0)
    assert cycles.burned.value == pytest.approx(3600.0)


def test_coolant_that_an_engine_warms_is_no_burn() -> None:
    levels = sound("generic_9_kw")
    at = 10.0 * np.arange(400)
    values = 330.0 + np.minimum(at, 600.0) * 4.0 * levels.warm_up_k_s
    cycles = find_cycles(Logged(channel=Channel.COOLANT_TEMPERATURE, at_s=at, values=values), levels)
    assert cycles.starts == 0


def test_a_flame_that_dies_at_once_is_none() -> None:
    at = np.arange(0.0, 300.0)
    values = np.where((at >= 100) & (at < 105), 1.0, 0.0)
    cycles = find_cycles(Logged(channel=Channel.BURNING, at_s=at, values=values), sound("generic_9_kw"))
    assert cycles.starts == 0


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_steady_exhaust_of_each_burn_is_the_units_own(logs: dict[str, InventedLog], sheet: str) -> None:
    log = logs[sheet]
    stack = Logged(channel=Channel.STACK_TEMPERATURE, at_s=log.at_s, values=log.stack_k)
    values = steady_values(stack, found(log, Channel.STACK_TEMPERATURE, sheet))
    rng = np.random.default_rng([7, SHEETS.index(sheet)])
    unit = draw_unit(rng, SHELF.sheets[sheet])
    truth = phases(unit.sheet, HERE, unit.nature + unit.worn).stack_k
    assert len(values) >= 3
    assert np.all(np.abs(values - truth) < 6.0)  # three times the invented noise


def test_short_and_cut_burns_say_nothing_of_a_steady_one() -> None:
    at = np.arange(0.0, 4000.0, 20.0)
    cycles = Cycles(
        lit_s=np.array([0.0, 1000.0, 2000.0]),
        out_s=np.array([900.0, 1280.0, 3200.0]),
        is_start=np.array([False, True, True]),
        logged_s=4000.0,
        burned=Estimate(value=2600.0, low=2500.0, high=2700.0, coverage=0.95),
        starts_unsure=0,
        gap_count=0,
        cut_count=1,
    )
    log = Logged(channel=Channel.STACK_TEMPERATURE, at_s=at, values=500.0 + 0.01 * at)
    assert steady_values(log, cycles) == pytest.approx([500.0 + 0.01 * 2660.0])

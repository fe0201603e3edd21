"""Starts in logs whose truth is known: how long a light took, what the igniter drew, what tells nothing."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.demo.logs import invent_log
from lightoff.demo.unit import draw_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.phases import Phases, phases
from lightoff.shelf import open_shelf
from lightoff.terms.trace import Channel
from lightoff.trace.cycles import Logged, find_cycles
from lightoff.trace.starts import Spoiled, Starts, find_starts

SHELF = open_shelf()
DIESEL = SHELF.fuels["diesel_2"]
HERE = Conditions(fuel=DIESEL, rated_fuel=DIESEL)
SHEETS = sorted(SHELF.sheets)
SOUND = phases(SHELF.sheets["generic_9_kw"], HERE)
IGNITER_A = SOUND.trial_a - SOUND.running_a


def told(
    columns: dict[Channel, np.ndarray], at_s: np.ndarray, levels: Phases = SOUND, by: Channel | None = None
) -> Starts | None:
    logged = {each: Logged(channel=each, at_s=at_s, values=values) for each, values in columns.items()}
    by = by or min(logged, key=list(Channel).index)
    return find_starts(logged, find_cycles(logged[by], levels), by, levels)


def course(glow: list[tuple[float, float]], at_s: np.ndarray, levels: Phases = SOUND) -> np.ndarray:
    """A supply's current, sampled: each (on, flame) of `glow` a start with a burn of 400 s and an after-run.

    Two that stand closer than 100 s are tries of one start, of which the earlier lit nothing.
    """
    current = np.full(len(at_s), levels.rest_a)
    for number, (on, flame) in enumerate(glow):
        fails = number + 1 < len(glow) and glow[number + 1][0] - flame < 100.0
        ends = flame if fails else flame + 400.0
        trial = on + 0.6 * (flame - on)
        current[(at_s >= on) & (at_s < trial)] = levels.igniting_a
        current[(at_s >= trial) & (at_s < flame)] = levels.trial_a
        current[(at_s >= flame) & (at_s < ends)] = levels.running_a
        over = at_s >= ends
        current[over & (at_s < ends + (20.0 if fails else 120.0))] = levels.after_run_a
    return current


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_units_own_lights_and_igniter_are_read_off_its_supply(sheet: str) -> None:
    """Of a worn unit that is not its sheet, by the levels of its sheet."""
    rng = np.random.default_rng([11, SHEETS.index(sheet)])
    unit = draw_unit(rng, SHELF.sheets[sheet])
    own = phases(unit.sheet, HERE, unit.nature + unit.worn)
    began = datetime(2026, 1, 5, 8, tzinfo=UTC)
    log = invent_log(rng, unit.sheet, own, began_at=began, days=1.0, step_s=5)
    starts = told({Channel.SUPPLY_CURRENT: log.current_a}, log.at_s, phases(unit.sheet, HERE))
    assert starts is not None
    truth = np.mean(np.array(log.lit_s) - np.array(log.glowed_s))
    assert len(starts.lights_s) >= len(log.lit_s) - 2
    assert starts.lights_s.mean() == pytest.approx(truth, abs=2.0)
    assert len(starts.igniter_a) >= 3
    assert starts.igniter_a.mean() == pytest.approx(own.trial_a - own.running_a, abs=0.2)


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    step_s=st.sampled_from([2.0, 5.0, 8.0, 12.0]),
    light_s=st.floats(36.0, 120.0),
    share=st.floats(0.75, 1.1),
)
def test_the_mean_of_n_starts_lies_within_its_band(
    seed: int, step_s: float, light_s: float, share: float
) -> None:
    """However the rows fall, and whatever the igniter has aged to: mean and scatter tell the truth."""
    rng = np.random.default_rng(seed)
    count = 25
    on = 200.0 + 900.0 * np.arange(count) + rng.uniform(0.0, 60.0, count)
    flame = on + light_s + rng.normal(0.0, 1.5, count)
    at_s = np.arange(0.0, 200.0 + 900.0 * count, step_s)
    aged = share * IGNITER_A - IGNITER_A
    current = course(list(zip(on, flame, strict=True)), at_s)
    glows = np.any((at_s >= on[:, None]) & (at_s < flame[:, None]), axis=0)
    noisy = current + np.where(glows, aged, 0.0) + rng.normal(0.0, 0.1, len(at_s))
    starts = told({Channel.SUPPLY_CURRENT: noisy}, at_s)
    assert starts is not None
    lights = starts.lights_s
    assert len(lights) >= count - 1
    band_s = 4.0 * max(lights.std(ddof=1), 0.3 * step_s) / np.sqrt(len(lights))
    assert abs(lights.mean() - np.mean(flame - on)) < band_s
    if len(starts.igniter_a) >= 3:
        assert starts.igniter_a.mean() == pytest.approx(share * IGNITER_A, abs=0.25)


def test_the_igniters_own_column_needs_no_motors_taken_off() -> None:
    at = np.arange(0.0, 2000.0, 5.0)
    glows = (at >= 500.0) & (at < 545.0)
    own = np.where(glows, np.where(at < 510.0, 11.0, 8.0), 0.0)  # it draws more while it is cold
    burning = np.where((at >= 540.0) & (at < 1400.0), 1.0, 0.0)
    volts = np.where(glows, 23.1, 24.6)
    starts = told({Channel.BURNING: burning, Channel.IGNITER_CURRENT: own, Channel.SUPPLY_VOLTAGE: volts}, at)
    assert starts is not None
    assert starts.lights_s == pytest.approx([40.0])  # by the control's word, though it glowed on for 5 s
    assert starts.igniter_a == pytest.approx([8.0])
    assert starts.volts == pytest.approx([23.1])


def test_by_the_stack_a_flame_is_the_end_of_the_glow() -> None:
    at = np.arange(0.0, 3000.0, 5.0)
    own = np.where((at >= 500.0) & (at < 545.0), 8.0, 0.0)
    since = np.maximum(at - 545.0, 0.0)
    stack = np.where(at < 1400.0, 340.0 + 190.0 * (1.0 - np.exp(-since / 30.0)), 340.0)
    starts = told({Channel.STACK_TEMPERATURE: stack, Channel.IGNITER_CURRENT: own}, at)
    assert starts is not None
    assert starts.lights_s == pytest.approx([45.0])


def spoiled(columns: dict[Channel, np.ndarray], at: np.ndarray) -> dict[Spoiled, int]:
    starts = told(columns, at)
    assert starts is not None
    assert len(starts.lights_s) == len(starts.igniter_a) == 0
    return dict(starts.spoiled)


def test_a_start_that_was_tried_again_tells_nothing() -> None:
    at = np.arange(0.0, 2000.0, 5.0)
    current = course([(500.0, 540.0), (560.0, 600.0)], at)
    assert spoiled({Channel.SUPPLY_CURRENT: current}, at) == {Spoiled.RETRIED: 1}
    # Nor where the control goes from try to try without a pause.
    straight = course([(500.0, 540.0)], at)
    straight[(at >= 530.0) & (at < 535.0)] = SOUND.igniting_a
    assert spoiled({Channel.SUPPLY_CURRENT: straight}, at) == {Spoiled.RETRIED: 1}


def test_a_start_that_is_cut_or_has_a_hole_tells_nothing() -> None:
    at = np.arange(0.0, 2000.0, 5.0)
    current = course([(500.0, 540.0)], at)
    inside = at >= 520.0
    assert spoiled({Channel.SUPPLY_CURRENT: current[inside]}, at[inside] - 520.0) == {Spoiled.CUT: 1}
    late = at >= 480.0  # a first try may lie before what was recorded
    assert spoiled({Channel.SUPPLY_CURRENT: current[late]}, at[late] - 480.0) == {Spoiled.CUT: 1}
    holed = (at < 505.0) | (at >= 520.0)
    assert spoiled({Channel.SUPPLY_CURRENT: current[holed]}, at[holed]) == {Spoiled.CUT: 1}


def test_a_flame_without_a_glow_or_long_after_one_tells_nothing() -> None:
    at = np.arange(0.0, 2000.0, 5.0)
    burning = np.where((at >= 700.0) & (at < 1400.0), 1.0, 0.0)
    never = np.zeros_like(at)
    early = np.where((at >= 500.0) & (at < 545.0), 8.0, 0.0)
    for own in (never, early):
        assert spoiled({Channel.BURNING: burning, Channel.IGNITER_CURRENT: own}, at) == {Spoiled.UNCLEAR: 1}


def test_a_log_that_writes_seldom_says_so() -> None:
    at = np.arange(0.0, 2000.0, 20.0)
    starts = told({Channel.SUPPLY_CURRENT: course([(500.0, 560.0)], at)}, at)
    assert starts is not None
    assert starts.too_slow
    assert len(starts.lights_s) == 0
    assert starts.slowest_step_s == 13


def test_coolant_or_a_log_without_the_igniter_tells_no_start() -> None:
    at = np.arange(0.0, 2000.0, 5.0)
    burning = np.where((at >= 700.0) & (at < 1400.0), 1.0, 0.0)
    assert told({Channel.BURNING: burning}, at) is None
    current = course([(500.0, 540.0)], at)
    coolant = 320.0 + 0.1 * np.clip(at - 540.0, 0.0, 400.0)
    by = Channel.COOLANT_TEMPERATURE
    assert told({by: coolant, Channel.SUPPLY_CURRENT: current}, at, by=by) is None

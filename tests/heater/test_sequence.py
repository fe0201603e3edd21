"""A start's course: tries, ways to die, and that the chances add up."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.sequence import BLOWN_OFF_S, FLAME_NOT_SEEN_S, Course, course

ORDER: dict[str, float] = {
    "asked": 1.0,
    "voltage_margin_v": 1.5,
    "chance": 0.999,
    "delivered_share": 0.99,
    "unprimed": 0.0,
    "bubbles": 0.01,
    "air_ratio": 1.35,
    "signal": 1.0,
    "false_flame": 0.0,
    "peak_over_limit_k": -25.0,
    "warm_up_s": 600.0,
}
LINE_S = 150.0


def start(tries: int = 3, supply_v: float = 12.0, **changed: float) -> Course:
    """With a full line the flame is as it stays, unless a test says otherwise."""
    told = ORDER | changed
    told = {f"full_line_{key}": told[key] for key in ("air_ratio", "signal")} | told
    ends = {key: np.array([value]) for key, value in told.items()}
    return course(tries=tries, supply_v=supply_v, line_time_s=LINE_S, **ends)


anything = st.fixed_dictionaries(
    {
        "asked": st.floats(0.0, 1.0),
        "voltage_margin_v": st.floats(-20.0, 5.0),
        "chance": st.floats(0.0, 1.0),
        "delivered_share": st.floats(0.0, 1.0),
        "unprimed": st.floats(0.0, 1.0),
        "bubbles": st.floats(0.0, 1.0),
        "air_ratio": st.floats(0.05, 30.0),
        "full_line_air_ratio": st.floats(0.05, 30.0),
        "signal": st.floats(0.0, 10.0),
        "full_line_signal": st.floats(0.0, 10.0),
        "false_flame": st.floats(0.0, 1.0),
        "peak_over_limit_k": st.floats(-100.0, 100.0),
        "warm_up_s": st.floats(60.0, 7200.0),
    }
)


@given(tries=st.integers(1, 5), ends=anything)
def test_chances_are_chances_and_add_up(tries: int, ends: dict[str, float]) -> None:
    seen = start(tries, **ends)
    for chance in (
        seen.asked,
        seen.tried,
        seen.first_try,
        seen.second_try,
        seen.later_try,
        seen.lit,
        seen.dies,
    ):
        assert -1e-12 <= chance[0] <= 1.0 + 1e-12
    assert seen.lit[0] == pytest.approx(seen.first_try[0] + seen.second_try[0] + seen.later_try[0])
    assert seen.lit[0] <= seen.tried[0] + 1e-12 <= seen.asked[0] + 2e-12
    if tries < 3:
        assert seen.later_try[0] == 0.0
    if tries < 2:
        assert seen.second_try[0] == 0.0
    assert 1.0 <= seen.time_to_death_s[0] <= 7200.0 + 1e-6


def test_in_order_it_lights_at_once_and_burns_on() -> None:
    seen = start()
    assert seen.first_try[0] > 0.99
    assert seen.dies[0] < 0.01


def test_each_further_try_is_one_more_chance() -> None:
    lit = [start(tries, chance=0.4).lit[0] for tries in (1, 2, 3, 4)]
    again = 1.0 / (1.0 + np.exp(-(np.log(0.4 / 0.6) + 0.5)))
    tried = start().tried[0]
    assert lit == pytest.approx([tried * (1.0 - 0.6 * (1.0 - again) ** k) for k in range(4)])


@pytest.mark.parametrize(
    ("changed", "low_s", "high_s"),
    [
        ({"unprimed": 1.0}, 0.9 * LINE_S, 1.1 * LINE_S),  # lives on what the line holds
        ({"bubbles": 0.6}, 0.5 * LINE_S, 0.7 * LINE_S),
        ({"signal": 0.1}, FLAME_NOT_SEEN_S, FLAME_NOT_SEEN_S * 1.2),
        ({"air_ratio": 0.75}, 20.0, 30.0),
        ({"air_ratio": 3.0}, BLOWN_OFF_S, BLOWN_OFF_S * 1.2),  # set so
        ({"air_ratio": 3.0, "full_line_air_ratio": 1.35}, 0.9 * LINE_S, 1.1 * LINE_S),  # for want of fuel
        ({"signal": 0.1, "full_line_signal": 1.0}, 0.9 * LINE_S, 1.1 * LINE_S),  # dim for want of fuel
        ({"peak_over_limit_k": 15.0}, 500.0, 650.0),  # first it must get hot
    ],
)
def test_each_way_to_die_takes_its_own_time(changed: dict[str, float], low_s: float, high_s: float) -> None:
    seen = start(**changed)
    assert seen.dies[0] > 0.9
    assert low_s <= seen.time_to_death_s[0] <= high_s


@given(key=st.sampled_from(["air_ratio", "signal"]), value=st.floats(0.0, 4.0), full=st.floats(0.0, 4.0))
def test_whether_it_dies_is_the_same_whatever_made_it_lean(key: str, value: float, full: float) -> None:
    assert start(**{key: value, f"full_line_{key}": full}).dies == start(**{key: value}).dies


@given(full=st.floats(1.0, 3.5), more=st.lists(st.floats(0.0, 3.0), min_size=2, max_size=5))
def test_a_flame_that_starves_more_never_dies_sooner(full: float, more: list[float]) -> None:
    """Of a line that gives less and less: more of the leanness is the line's, whose time is the longer."""
    times = [
        start(air_ratio=full + less, full_line_air_ratio=full).time_to_death_s[0] for less in sorted(more)
    ]
    assert np.all(np.diff(times) >= -1e-9)


@given(ratio=st.floats(1.0, 4.0), parts=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=5))
def test_a_flame_set_leaner_never_dies_later(ratio: float, parts: list[float]) -> None:
    """Of one leanness: the more of it is the setting's, the sooner it shows."""
    times = [
        start(air_ratio=ratio, full_line_air_ratio=1.0 + part * (ratio - 1.0)).time_to_death_s[0]
        for part in sorted(parts)
    ]
    assert np.all(np.diff(times) <= 1e-9)


def test_a_line_that_gives_more_than_usual_changes_nothing() -> None:
    """A tank above the heater: with no more than its usual fuel the flame would be leaner than it is."""
    assert (
        start(air_ratio=2.6, full_line_air_ratio=2.8).time_to_death_s[0]
        == start(air_ratio=2.6).time_to_death_s[0]
    )


def test_a_control_that_lacks_call_or_voltage_or_sees_a_flame_in_the_dark_does_not_try() -> None:
    assert start(asked=0.0).asked[0] == 0.0
    assert start(voltage_margin_v=-1.0).tried[0] < 0.01
    assert start(voltage_margin_v=-1.0).asked[0] == 1.0
    assert start(false_flame=1.0).asked[0] == 0.0


def test_the_cut_out_is_twice_as_wide_on_twice_the_voltage() -> None:
    assert start(voltage_margin_v=0.2).tried[0] == pytest.approx(
        start(supply_v=24.0, voltage_margin_v=0.4).tried[0]
    )

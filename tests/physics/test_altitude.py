"""What height, weather, voltage and fuel do to the air ratio."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.errors import Refusal
from lightoff.ground.estimate import Estimate
from lightoff.physics.altitude import (
    METERING_PUMP,
    REFERENCE_PLACE,
    SIPHON,
    Place,
    air_ratio_change,
    air_ratio_there,
    derate_factor,
    feed_laws,
    setting_window,
)
from lightoff.terms.shelf import Feed

heights = st.floats(0.0, 5000.0)
airs = st.floats(240.0, 315.0)


def place(altitude_m: float, air_temperature_k: float = 288.15, **more: float) -> Place:
    return Place.at_altitude(altitude_m, air_temperature_k=air_temperature_k, **more)


@given(heights, airs, heights, airs)
def test_there_and_back_is_no_change(up: float, warm: float, down: float, cold: float) -> None:
    here, there = place(up, warm), place(down, cold)
    for law in (METERING_PUMP, SIPHON):
        way = air_ratio_change(here=here, there=there, law=law)
        back = air_ratio_change(here=there, there=here, law=law)
        assert way * back == pytest.approx(1.0, rel=1e-12)


@given(heights, st.floats(50.0, 900.0), airs)
def test_height_takes_air_from_a_metering_pump_and_less_from_a_siphon(height, more, warm) -> None:
    here, there = place(height, warm), place(height + more, warm)
    pump = air_ratio_change(here=here, there=there, law=METERING_PUMP)
    siphon = air_ratio_change(here=here, there=there, law=SIPHON)
    assert pump < siphon < 1.0
    assert siphon == pytest.approx(pump**0.5)


def test_hot_damp_and_low_volts_all_take_air() -> None:
    here = place(0.0, supply_v=13.6)
    for worse in (
        place(0.0, 308.15, supply_v=13.6),
        place(0.0, 288.15, relative_humidity_fraction=1.0, supply_v=13.6),
        place(0.0, 288.15, supply_v=11.5),
    ):
        assert air_ratio_change(here=here, there=worse) < 0.995
    # A voltage known at one place only is taken as equal.
    assert air_ratio_change(here=here, there=place(0.0)) == pytest.approx(1.0)


def test_heavy_fuel_is_more_fuel_by_stroke() -> None:
    here, there = place(0.0, fuel_density_kg_m3=840.0), place(0.0, fuel_density_kg_m3=860.0)
    assert air_ratio_change(here=here, there=there) == pytest.approx(840.0 / 860.0)


def test_an_unknown_feed_is_a_band_over_both() -> None:
    ratio = Estimate.from_half_width(1.40, 0.04)
    there = {
        feed: air_ratio_there(ratio, here=REFERENCE_PLACE, there=place(2500.0), feed=feed) for feed in Feed
    }
    band = there[Feed.UNKNOWN]
    assert band.low == there[Feed.METERING_PUMP].low
    assert band.high == there[Feed.SIPHON].high
    assert band.half_width > there[Feed.METERING_PUMP].half_width
    assert [len(feed_laws(feed)) for feed in (Feed.METERING_PUMP, Feed.SIPHON, Feed.UNKNOWN)] == [1, 1, 2]


def test_within_the_window_every_place_stays_within_bounds() -> None:
    here = place(300.0, 283.15)
    places = (place(0.0, 263.15), place(1500.0, 303.15))
    window = setting_window(
        here=here, places=places, lowest_air_ratio=1.2, highest_air_ratio=1.9, feed=Feed.METERING_PUMP
    )
    assert window.exists
    for setting in np.linspace(window.low, window.high, 5):
        for goal in places:
            moved = setting * air_ratio_change(here=here, there=goal)
            assert 1.2 - 1e-9 <= moved <= 1.9 + 1e-9
    outside = window.low - 0.01
    assert min(outside * air_ratio_change(here=here, there=goal) for goal in places) < 1.2


def test_places_too_far_apart_leave_no_window() -> None:
    window = setting_window(
        here=place(0.0),
        places=(place(0.0, 243.15), place(4000.0, 308.15)),
        lowest_air_ratio=1.25,
        highest_air_ratio=1.5,
        feed=Feed.METERING_PUMP,
    )
    assert not window.exists


@pytest.mark.parametrize(("low", "high"), [(1.5, 1.2), (0.9, 1.4)])
def test_bounds_that_are_none_are_refused(low: float, high: float) -> None:
    with pytest.raises(Refusal, match="setting_bounds"):
        setting_window(
            here=REFERENCE_PLACE,
            places=(REFERENCE_PLACE,),
            lowest_air_ratio=low,
            highest_air_ratio=high,
            feed=Feed.SIPHON,
        )


def test_derating_never_asks_for_more_fuel_and_restores_the_target() -> None:
    same = {"here": REFERENCE_PLACE, "feed": Feed.METERING_PUMP}
    assert derate_factor(air_ratio=1.5, target_air_ratio=1.3, there=REFERENCE_PLACE, **same) == 1.0
    high = place(3000.0)
    share = derate_factor(air_ratio=1.35, target_air_ratio=1.3, there=high, **same)
    restored = 1.35 * air_ratio_change(here=REFERENCE_PLACE, there=high) / share
    assert restored == pytest.approx(1.3)
    unsure = derate_factor(
        air_ratio=1.35, target_air_ratio=1.3, there=high, here=REFERENCE_PLACE, feed=Feed.UNKNOWN
    )
    assert unsure == share
    with pytest.raises(Refusal):
        derate_factor(air_ratio=0.9, target_air_ratio=1.3, there=high, **same)

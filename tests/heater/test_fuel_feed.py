"""Fuel from the tank: the sheet's flow in order, vacuum, air in the line, pump and siphon."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.fuel_feed import SIPHON_PART, USUAL_LIFT_M, FuelFlow, fuel_flow
from lightoff.heater.rating import Rating, rate
from lightoff.shelf import open_shelf
from lightoff.terms.shelf import Feed

SHELF = open_shelf()
TWELVE = rate(SHELF.sheets["generic_12_kw"], SHELF.fuels["diesel_2"])
ORDER = {
    "viscosity_ratio": 1.0,
    "lift_m": USUAL_LIFT_M,
    "filter_restriction": 1.0,
    "line_restriction": 1.0,
    "suction_air": 0.0,
    "ring_air": 0.0,
    "water": 0.0,
    "uncovered": 0.0,
    "pump_ratio": 1.0,
    "pump_open": 0.0,
    "nozzle_fuel_area": 1.0,
    "nozzle_suction_ratio": 1.0,
    "siphon_law": 1.0,
}
PUMP, SIPHON = SIPHON_PART[Feed.METERING_PUMP], SIPHON_PART[Feed.SIPHON]


def feed(
    rating: Rating = TWELVE, part: float = PUMP, atmosphere_pa: float = 101_325.0, **changed: float
) -> FuelFlow:
    ends = {key: np.array([changed.get(key, usual)]) for key, usual in ORDER.items()}
    return fuel_flow(
        rating,
        density_kg_m3=rating.fuel_density_kg_m3,
        siphon_part=np.array([part]),
        atmosphere_pa=atmosphere_pa,
        **ends,
    )


def test_in_order_it_is_the_sheets_flow(rating: Rating) -> None:
    for part in SIPHON_PART.values():
        assert feed(rating, part).burnable_kg_s[0] == pytest.approx(rating.sheet.fuel_flow_kg_s, rel=1e-9)
    assert feed(rating).delivered_share[0] > 0.98


def test_vacuum_is_lift_and_clean_filter_in_order() -> None:
    """0.5 m of No. 2 fuel are 4.2 kPa, a clean filter 3 kPa, the line next to nothing."""
    assert feed().vacuum_pa[0] == pytest.approx(848.3 * 9.80665 * 0.5 + 3000.0, abs=1200.0)


@given(key=st.sampled_from(["filter_restriction", "line_restriction", "lift_m"]), more=st.floats(1.1, 20.0))
def test_more_restriction_more_vacuum_and_never_more_fuel(key: str, more: float) -> None:
    usual = feed()
    worse = feed(**{key: ORDER[key] * more})
    assert worse.vacuum_pa[0] > usual.vacuum_pa[0]
    assert worse.burnable_kg_s[0] <= usual.burnable_kg_s[0]
    assert worse.bubbles_share[0] >= usual.bubbles_share[0]
    assert worse.vacuum_pa[0] <= 0.9 * 101_325.0


def test_a_siphon_starves_where_a_pump_still_pushes() -> None:
    pump, siphon = (feed(part=part, filter_restriction=8.0).burnable_kg_s[0] for part in (PUMP, SIPHON))
    assert siphon < 0.8 * pump
    pump, siphon = (feed(part=part, nozzle_fuel_area=0.6).burnable_kg_s[0] for part in (PUMP, SIPHON))
    assert siphon < 0.8 * pump


def test_a_siphon_follows_the_air_at_its_nozzle_and_a_pump_does_not() -> None:
    assert feed(nozzle_suction_ratio=0.78).burnable_kg_s[0] == pytest.approx(feed().burnable_kg_s[0])
    fall = feed(part=SIPHON, nozzle_suction_ratio=0.78).burnable_kg_s[0] / feed().burnable_kg_s[0]
    assert fall == pytest.approx(0.78**0.5)


@given(part=st.floats(0.0, 1.0), suction=st.floats(0.3, 1.5))
def test_an_unknown_feed_lies_between_both(part: float, suction: float) -> None:
    between = feed(part=part, nozzle_suction_ratio=suction).burnable_kg_s[0]
    ends = sorted(feed(part=each, nozzle_suction_ratio=suction).burnable_kg_s[0] for each in (PUMP, SIPHON))
    assert ends[0] * (1.0 - 1e-9) <= between <= ends[1] * (1.0 + 1e-9)


@pytest.mark.parametrize("key", ["suction_air", "ring_air", "water", "uncovered", "pump_open"])
def test_what_is_no_fuel_is_not_burnt(key: str) -> None:
    assert feed(**{key: 1.0}).burnable_kg_s[0] == 0.0
    assert feed(**{key: 0.4}).burnable_kg_s[0] == pytest.approx(0.6 * feed().burnable_kg_s[0])


HELD_BACK = {
    "filter_restriction": 20.0,
    "line_restriction": 200.0,
    "lift_m": 3.0,
    "viscosity_ratio": 8.0,
    "suction_air": 0.4,
    "water": 0.4,
    "uncovered": 0.4,
    "pump_open": 0.4,
}


@pytest.mark.parametrize("part", [PUMP, SIPHON])
@pytest.mark.parametrize("key", HELD_BACK)
def test_a_line_that_still_stands_full_knows_nothing_of_what_holds_it_back(key: str, part: float) -> None:
    worse = feed(part=part, **{key: HELD_BACK[key]})
    assert worse.full_line_kg_s[0] == pytest.approx(feed(part=part).burnable_kg_s[0], rel=1e-9)
    assert worse.burnable_kg_s[0] < 0.98 * worse.full_line_kg_s[0]


@pytest.mark.parametrize(
    "changed",
    [{"nozzle_fuel_area": 0.7}, {"nozzle_suction_ratio": 0.7}, {"pump_ratio": 0.7}, {"lift_m": -2.0}],
)
def test_nozzle_pump_and_a_tank_above_are_felt_with_a_full_line_too(changed: dict[str, float]) -> None:
    seen = feed(part=0.5, **changed)
    assert seen.full_line_kg_s[0] == seen.burnable_kg_s[0] != feed(part=0.5).burnable_kg_s[0]


@pytest.mark.parametrize("key", HELD_BACK)
def test_a_siphons_line_stands_full_behind_a_block_and_not_behind_a_leak(key: str) -> None:
    worse = feed(part=SIPHON, **{key: HELD_BACK[key]})
    friction = key in ("filter_restriction", "line_restriction", "lift_m", "viscosity_ratio")
    assert worse.burnable_kg_s[0] <= worse.standing_kg_s[0] <= worse.full_line_kg_s[0]
    assert (worse.standing_kg_s[0] > 1.02 * worse.burnable_kg_s[0]) == friction
    pumped = feed(part=PUMP, **{key: HELD_BACK[key]})
    assert pumped.standing_kg_s[0] == pumped.burnable_kg_s[0], "a stroke is a stroke"


def test_bubbles_are_seen_for_air_and_not_for_water_or_a_still_pump() -> None:
    usual = feed().bubbles_share[0]
    assert feed(suction_air=0.3).bubbles_share[0] > 0.3
    assert feed(uncovered=0.5).bubbles_share[0] > 0.5
    assert feed(water=0.5).bubbles_share[0] == usual
    assert feed(pump_open=1.0).bubbles_share[0] == usual


def test_air_that_enters_at_the_nozzles_ring_is_in_the_spray_and_not_in_the_line() -> None:
    usual, leaking = feed(), feed(ring_air=0.2)
    assert leaking.bubbles_share[0] > usual.bubbles_share[0] + 0.15
    assert leaking.line_bubbles_share[0] == usual.line_bubbles_share[0] == usual.bubbles_share[0]
    assert leaking.full_line_kg_s[0] == leaking.burnable_kg_s[0], "no full line makes up for it"
    assert feed(suction_air=0.3).line_bubbles_share[0] > 0.3


def test_the_same_vacuum_frees_more_air_in_thin_air() -> None:
    low, high = (feed(atmosphere_pa=each, lift_m=2.0).bubbles_share[0] for each in (101_325.0, 70_121.0))
    assert high > 1.3 * low


def test_a_tank_above_the_heater_is_no_vacuum_and_frees_nothing() -> None:
    above = feed(lift_m=-2.0)
    assert above.vacuum_pa[0] == 0.0
    assert above.bubbles_share[0] == 0.0

"""Another place, another season: the same heater as it is set here, and how it would burn there."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from lightoff.ground.errors import NotFound
from lightoff.plant.band import linearised
from lightoff.plant.baseline import taught, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import PARAMETERS, spreads
from lightoff.plant.quantities import COLUMN
from lightoff.shelf import open_shelf
from lightoff.terms.shelf import Feed, Sheet
from lightoff.work.elsewhere import Elsewhere, Spot, elsewhere

SHELF = open_shelf()
PUMPED, SIPHONED = SHELF.sheets["generic_12_kw"], SHELF.sheets["generic_16_kw"]
SHORE = Spot(altitude_m=0.0, air_temperature_k=288.15, rest_v=None, fuel="diesel_2", filter="clean")
PASS = replace(SHORE, altitude_m=2500.0, air_temperature_k=293.15)


def moved(sheet: Sheet, there: Spot = PASS) -> Elsewhere:
    return elsewhere(sheet, SHORE, there, SHELF)


def test_a_heater_set_at_the_shore_runs_rich_on_the_pass() -> None:
    seen = moved(PUMPED)
    assert seen.there.air_ratio.middle == pytest.approx(0.725 * seen.here.air_ratio.middle, rel=0.02)
    assert seen.here.smokes < 0.2 < 0.9 < seen.there.smokes
    assert seen.there.readings["flue_co"].middle > 10.0 * seen.here.readings["flue_co"].middle


def test_a_siphon_runs_less_rich_there() -> None:
    pump, siphon = moved(PUMPED), moved(SIPHONED)
    assert siphon.there.air_ratio.middle / siphon.here.air_ratio.middle > 0.8
    assert siphon.there.smokes < pump.there.smokes


def test_where_nobody_knows_the_feed_the_answer_is_a_band_never_certain() -> None:
    known, unknown = moved(PUMPED), moved(replace(PUMPED, feed=Feed.UNKNOWN))
    wide, narrow = unknown.there.air_ratio, known.there.air_ratio
    assert wide.high - wide.low > 1.3 * (narrow.high - narrow.low)
    assert wide.high > moved(replace(PUMPED, feed=Feed.SIPHON)).there.air_ratio.middle
    assert 0.02 < unknown.there.smokes < 0.98


def test_cold_a_weak_battery_and_a_dirty_filter_light_worse() -> None:
    frost = replace(SHORE, air_temperature_k=248.15, rest_v=22.2, filter="near its end")
    seen = moved(PUMPED, frost)
    assert seen.there.lights < seen.here.lights
    assert seen.there.readings["time_to_light"].middle > seen.here.readings["time_to_light"].middle


def test_no_such_fuel_is_said() -> None:
    with pytest.raises(NotFound):
        moved(PUMPED, replace(PASS, fuel="lamp oil"))


def test_the_chance_of_too_much_carbon_monoxide_stands_beside_its_wide_band() -> None:
    """A band of three powers of ten is honest and helps nobody; the chance beside it does."""
    seen = moved(PUMPED, replace(SHORE, altitude_m=1000.0))
    band = seen.there.readings["flue_co"]
    assert band.high > 100.0 * band.low
    assert seen.here.co_over_limit < 0.2 < seen.there.co_over_limit < 0.8
    assert seen.co_limit_fraction == pytest.approx(200e-6)


def test_that_chance_rises_all_the_way_up_and_is_one_answer() -> None:
    heights = (0.0, 500.0, 1000.0, 1500.0, 2000.0, 2900.0)
    for sheet in (PUMPED, SIPHONED):
        chances = [moved(sheet, replace(SHORE, altitude_m=each)).there.co_over_limit for each in heights]
        assert chances == sorted(chances)
        assert moved(sheet) == moved(sheet)


def test_the_chance_is_that_of_the_model_itself() -> None:
    """Against ten thousand heaters drawn by chance, each read once."""
    rng = np.random.default_rng(3)
    conditions = Conditions(
        fuel=SHELF.fuels["diesel_2"], rated_fuel=SHELF.fuels["diesel_2"], altitude_m=1500.0
    )
    rows = rng.normal(size=(10_000, len(PARAMETERS))) * spreads(PUMPED)
    read = predict(PUMPED, conditions, rows, with_signs=False).numeric
    co = read[:, COLUMN["flue_co"]] * np.exp(0.15 * rng.normal(size=len(rows)))
    free = co * 0.2095 / (0.2095 - read[:, COLUMN["flue_o2"]])
    told = moved(PUMPED, replace(SHORE, altitude_m=1500.0)).there.co_over_limit
    assert told == pytest.approx(float(np.mean(free > 200e-6)), abs=0.03)


def test_a_stricter_sheet_makes_it_likelier() -> None:
    strict = replace(PUMPED, tightens={"co_air_free_fit": Decimal(100)})
    assert moved(strict, replace(SHORE, altitude_m=1000.0)).there.co_over_limit > (
        moved(PUMPED, replace(SHORE, altitude_m=1000.0)).there.co_over_limit
    )


def test_what_good_visits_taught_draws_the_bands_in() -> None:
    """Of a unit that read 6 % of oxygen at the shore three times, the hills are judged as of itself."""
    conditions = Conditions(fuel=SHELF.fuels["diesel_2"], rated_fuel=SHELF.fuels["diesel_2"])
    middle, slopes = linearised(PUMPED, conditions, unknown_unit())
    column = [COLUMN["flue_o2"]]
    known = unknown_unit()
    for _ in range(3):
        known = taught(
            known,
            jacobian=slopes[column],
            residual=np.array([0.06]) - middle[column],
            noise=np.array([0.002]),
        )
    here = replace(SHORE, altitude_m=800.0)
    of_type = elsewhere(PUMPED, SHORE, here, SHELF)
    of_unit = elsewhere(PUMPED, SHORE, here, SHELF, baseline=known)
    assert of_unit.good_visits == 3
    assert of_type.good_visits == 0
    wide, narrow = (each.here.air_ratio.high - each.here.air_ratio.low for each in (of_type, of_unit))
    assert narrow < 0.6 * wide
    assert of_unit.there.co_over_limit < of_type.there.co_over_limit, "it is leaner than its type"

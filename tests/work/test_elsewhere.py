"""Another place, another season: the same heater as it is set here, and how it would burn there."""

from dataclasses import replace

import pytest

from lightoff.ground.errors import NotFound
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

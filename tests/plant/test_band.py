"""The band to expect covers what made-up sound heaters read, and narrows as a unit becomes known."""

from dataclasses import replace

import numpy as np
import pytest
from one_heater import PUMPED, SHELF, SIPHONED, USUAL

from lightoff.plant.band import Band, bands, linearised
from lightoff.plant.baseline import Baseline, taught, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import COLUMN, PARAMETERS, spreads
from lightoff.plant.quantities import COLUMN as QUANTITY
from lightoff.plant.quantities import QUANTITIES, compared, uncompared
from lightoff.terms.shelf import Feed, Sheet

ON_A_PASS = replace(USUAL, altitude_m=1500.0, air_temperature_k=298.15)
READ = [key for key in QUANTITIES if key != "run_time_before_stop"]
"""What a sound heater shows: it does not stop."""


def covered(sheet: Sheet, conditions: Conditions, unit: Baseline, count: int = 2000) -> dict[str, float]:
    """Share of made-up sound heaters whose reading, noise and all, lies in its band."""
    rng = np.random.default_rng(5)
    root = np.linalg.cholesky(unit.covariance)
    moves = rng.normal(size=(count, len(PARAMETERS)))
    rows = (unit.mean + moves @ root.T) * spreads(sheet)
    scaled = compared(predict(sheet, conditions, rows, with_signs=False).numeric)
    scaled = scaled + rng.normal(size=scaled.shape) * [each.slack for each in QUANTITIES.values()]
    found, expected = {}, bands(sheet, conditions, unit)
    for key in READ:
        value = uncompared(scaled[:, QUANTITY[key]], QUANTITY[key])
        # A meter shows nothing below nought.
        shown = value if QUANTITIES[key].dimension == "temperature" else np.maximum(value, 0.0)
        found[key] = float(np.mean((shown >= expected[key].low) & (shown <= expected[key].high)))
    return found


@pytest.mark.parametrize("sheet", SHELF.sheets.values(), ids=list(SHELF.sheets))
def test_bands_cover_nineteen_in_twenty_sound_heaters(sheet: Sheet) -> None:
    shares = covered(sheet, USUAL, unknown_unit())
    assert min(shares.values()) > 0.90, min(shares, key=lambda key: shares[key])
    assert np.mean(list(shares.values())) == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("sheet", [PUMPED, SIPHONED, replace(PUMPED, feed=Feed.UNKNOWN)])
def test_on_a_pass_where_some_begin_to_smoke_they_cover_nearly_as_many(sheet: Sheet) -> None:
    shares = covered(sheet, ON_A_PASS, unknown_unit())
    assert min(shares.values()) > 0.85, min(shares, key=lambda key: shares[key])
    assert np.mean(list(shares.values())) == pytest.approx(0.95, abs=0.015)


def known_unit() -> Baseline:
    """A unit whose fan and igniter are known from good visits."""
    unit = unknown_unit()
    keys = ("flue_o2", "igniter_current", "stack_gas_temperature")
    columns = [QUANTITY[key] for key in keys]
    _, slopes = linearised(PUMPED, USUAL, unit)
    for _ in range(4):
        unit = taught(
            unit,
            jacobian=slopes[columns],
            residual=np.array([0.01, -0.1, 5.0]),
            noise=np.array([QUANTITIES[key].slack for key in keys]),
        )
    return unit


def width(band: Band) -> float:
    return band.high - band.low


def test_a_known_units_bands_are_narrower_move_with_it_and_still_cover_it() -> None:
    unit = known_unit()
    before, after = bands(PUMPED, USUAL), bands(PUMPED, USUAL, unit)
    for key in ("flue_o2", "igniter_current", "stack_gas_temperature"):
        assert width(after[key]) < 0.9 * width(before[key])
    assert after["flue_o2"].middle > before["flue_o2"].middle + 0.003
    shares = covered(PUMPED, USUAL, unit)
    assert min(shares.values()) > 0.92


def test_every_band_holds_its_middle_and_nothing_below_nought() -> None:
    for key, band in bands(SIPHONED, ON_A_PASS).items():
        assert band.low <= band.middle <= band.high, key
        assert band.low < band.high, key
        assert band.low >= 0.0, key


def test_an_unknown_feed_widens_the_band_of_what_altitude_moves() -> None:
    nobody_knows = replace(PUMPED, feed=Feed.UNKNOWN)
    pump, unknown = bands(PUMPED, ON_A_PASS), bands(nobody_knows, ON_A_PASS)
    assert width(unknown["fuel_flow"]) > 1.5 * width(pump["fuel_flow"])
    assert unknown["flue_o2"].high > pump["flue_o2"].high + 0.01


def test_slopes_are_the_models_own_moves() -> None:
    middle, slopes = linearised(PUMPED, USUAL, unknown_unit())
    row = np.zeros((1, len(PARAMETERS)))
    row[0, COLUMN["fan_speed"]] = 0.5 * spreads(PUMPED)[COLUMN["fan_speed"]]
    moved = compared(predict(PUMPED, USUAL, row).numeric)[0]
    at = QUANTITY["flue_o2"]
    assert moved[at] - middle[at] == pytest.approx(0.5 * slopes[at, COLUMN["fan_speed"]], rel=0.1)

"""What a good visit teaches: against a heater of our own making, and against the model left as it is."""

import numpy as np
import pytest

from lightoff.plant.band import bands, linearised
from lightoff.plant.baseline import Baseline, taught, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.good_visit import after_good_visit
from lightoff.plant.model import predict
from lightoff.plant.number import Number, Side
from lightoff.plant.parameters import PARAMETERS, spreads
from lightoff.plant.quantities import COLUMN, DOUBT, QUANTITIES, compared, uncompared
from lightoff.shelf import open_shelf

SHELF = open_shelf()
SHEET = SHELF.sheets["generic_12_kw"]
FUEL = SHELF.fuels["diesel_2"]
HERE = Conditions(fuel=FUEL, rated_fuel=FUEL)
LASTING = np.array([each.persistent for each in PARAMETERS.values()])
COMBUSTION = ("flue_o2", "flue_co2", "flue_co", "stack_gas_temperature", "smoke_number", "fuel_flow")


def own_heater(seed: int) -> np.ndarray:
    """The lasting shifts of one heater."""
    return np.where(LASTING, np.random.default_rng(seed).normal(size=len(PARAMETERS)) * spreads(SHEET), 0.0)


def visit(
    row: np.ndarray, rng: np.random.Generator, *, keys: tuple[str, ...] = tuple(QUANTITIES)
) -> dict[str, Number]:
    """Its readings on one day, as they repeat."""
    day = np.where(LASTING, 0.0, rng.normal(size=len(PARAMETERS)) * spreads(SHEET))
    numeric = compared(predict(SHEET, HERE, (row + day)[None, :], with_signs=False).numeric)[0]
    slack = np.array([each.slack for each in QUANTITIES.values()])
    shown = numeric + slack * rng.normal(size=slack.size)
    told = {key: float(uncompared(np.asarray(shown[COLUMN[key]]), COLUMN[key])) for key in keys}
    return {key: Number(value=max(value, 0.0)) for key, value in told.items()}


def learned(seed: int, visits: int) -> tuple[Baseline, np.ndarray, np.random.Generator]:
    row, rng, known = own_heater(seed), np.random.default_rng([seed, 1]), unknown_unit()
    for _ in range(visits):
        known = after_good_visit(known, visit(row, rng), sheet=SHEET, conditions=HERE)
    return known, row, rng


def test_four_good_visits_tell_what_the_fifth_will_read() -> None:
    slack = np.array([each.slack for each in QUANTITIES.values()])
    columns = [COLUMN[key] for key in COMBUSTION]
    before: list[np.ndarray] = []
    after: list[np.ndarray] = []
    for seed in range(12):
        known, row, _ = learned(seed, 4)
        truth = compared(predict(SHEET, HERE, row[None, :], with_signs=False).numeric)[0]
        for mean, missed in ((unknown_unit().mean, before), (known.mean, after)):
            told = compared(predict(SHEET, HERE, (mean * spreads(SHEET))[None, :], with_signs=False).numeric)
            missed.append(np.abs(told[0] - truth)[columns] / slack[columns])
    assert np.mean(after) < 0.35 * np.mean(before)
    assert np.max(after) < 4.0


def test_its_bands_draw_in_and_still_hold_nineteen_in_twenty() -> None:
    inside, narrower = [], []
    for seed in range(30):
        known, row, rng = learned(100 + seed, 4)
        of_unit, of_type = bands(SHEET, HERE, known), bands(SHEET, HERE)
        for key, number in visit(row, rng).items():
            inside.append(of_unit[key].low <= number.value <= of_unit[key].high)
            narrower.append((of_unit[key].high - of_unit[key].low) / (of_type[key].high - of_type[key].low))
    assert np.mean(inside) > 0.93
    assert np.median(narrower) < 0.8


def test_laid_straight_again_it_fits_better_than_one_straight_line() -> None:
    """Near the smoke point the model bends: one line at the type's middle misses what a rich unit reads."""
    row = np.zeros(len(PARAMETERS))
    row[list(PARAMETERS).index("air_setting")] = -0.12
    numbers = visit(row, np.random.default_rng(5), keys=COMBUSTION)
    several = after_good_visit(unknown_unit(), numbers, sheet=SHEET, conditions=HERE)
    middle, slopes = linearised(SHEET, HERE, unknown_unit())
    columns = [COLUMN[key] for key in COMBUSTION]
    read = np.zeros(len(QUANTITIES))
    read[columns] = [numbers[key].value for key in COMBUSTION]
    values = compared(read)[columns]
    noise = DOUBT * np.array([QUANTITIES[key].slack for key in COMBUSTION])
    once = taught(unknown_unit(), jacobian=slopes[columns], residual=values - middle[columns], noise=noise)

    def far(known: Baseline) -> float:
        shown = compared(
            predict(SHEET, HERE, (known.mean * spreads(SHEET))[None, :], with_signs=False).numeric
        )[0]
        missed = np.sum(((shown[columns] - values) / noise) ** 2)
        return float(missed + np.sum(known.mean**2))

    assert far(several) < far(once)


def test_what_was_not_read_and_what_is_known_to_one_side_teaches_nothing() -> None:
    beyond = {"flue_co": Number(value=2e-3, side=Side.ABOVE)}
    known = after_good_visit(unknown_unit(), beyond, sheet=SHEET, conditions=HERE)
    assert known.visits == 1
    assert not known.times.any()
    assert known.mean == pytest.approx(unknown_unit().mean)
    read = after_good_visit(known, {"flue_o2": Number(value=0.05)}, sheet=SHEET, conditions=HERE)
    assert read.times[COLUMN["flue_o2"]] == 1
    assert read.times.sum() == 1

"""Sulphuric acid's dew point: how it moves, where it declines, what its width holds."""

from dataclasses import replace

import numpy as np
import pytest

from lightoff.ground.errors import Declined, Refusal
from lightoff.physics import air
from lightoff.physics.acid import acid_dew_point_k
from lightoff.physics.flue import analyse
from lightoff.physics.flue_gas import FlueGas
from lightoff.physics.fuel import Fuel, Sourced, blend
from lightoff.texts import Speaker

WATER_PA, SO3_PA = 11e3, 0.2


def most(milligrams: float) -> Sourced:
    return Sourced(value=milligrams * 1e-6, source="maker_data_sheet")


def analysed(fuel: Fuel, *, o2: float | np.ndarray = 0.05) -> FlueGas:
    return analyse(fuel, o2_dry_fraction=o2, pressure_pa=air.SEA_LEVEL_PRESSURE_PA)


def test_more_sulphur_and_more_water_raise_it() -> None:
    here = acid_dew_point_k(so3_pressure_pa=SO3_PA, water_pressure_pa=WATER_PA)
    assert acid_dew_point_k(so3_pressure_pa=2 * SO3_PA, water_pressure_pa=WATER_PA) > here
    assert acid_dew_point_k(so3_pressure_pa=SO3_PA, water_pressure_pa=1.5 * WATER_PA) > here
    assert here > air.dew_point_k(WATER_PA)


@pytest.mark.parametrize("pressures", [(5e-4, WATER_PA), (12.0, WATER_PA), (SO3_PA, 1e3), (SO3_PA, 3e4)])
def test_outside_what_it_holds_for_it_declines(pressures: tuple[float, float]) -> None:
    so3, water = pressures
    with pytest.raises(Declined) as declined:
        acid_dew_point_k(so3_pressure_pa=so3, water_pressure_pa=water)
    assert "0.01 to 100 ppm of sulphur trioxide" in Speaker().say(declined.value.message)
    assert acid_dew_point_k(so3_pressure_pa=so3, water_pressure_pa=water, extrapolate=True) > 273.15


def test_an_array_is_worked_row_by_row() -> None:
    so3 = np.array([0.01, 0.1, 1.0])
    rows = acid_dew_point_k(so3_pressure_pa=so3, water_pressure_pa=WATER_PA)
    assert isinstance(rows, np.ndarray)
    assert rows.tolist() == [
        acid_dew_point_k(so3_pressure_pa=float(each), water_pressure_pa=WATER_PA) for each in so3
    ]


def test_the_figure_is_of_the_most_sulphur_and_moves_no_other_figure(kerosene: Fuel) -> None:
    bare = analysed(kerosene)
    assert bare.acid_dew_point_k is None
    low, high = (analysed(replace(kerosene, sulphur_most_fraction=most(each))) for each in (15, 1000))
    assert low.acid_dew_point_k is not None
    assert high.acid_dew_point_k is not None
    assert bare.water_dew_point_k.value < low.acid_dew_point_k.value < high.acid_dew_point_k.value
    assert replace(high, acid_dew_point_k=None).air_ratio == bare.air_ratio
    assert high.co2_dry_fraction == bare.co2_dry_fraction


def test_a_data_sheet_above_the_law_counts(kerosene: Fuel, diesel: Fuel) -> None:
    sheet = replace(diesel, sulphur_most_fraction=most(10))
    assert analysed(sheet).acid_dew_point_k == analysed(diesel).acid_dew_point_k


def test_so_little_sulphur_that_nothing_is_known_gives_no_figure(kerosene: Fuel) -> None:
    assert analysed(replace(kerosene, sulphur_most_fraction=most(0.5))).acid_dew_point_k is None


def test_the_width_holds_the_share_of_so3_and_the_other_relation(kerosene: Fuel) -> None:
    gas = analysed(replace(kerosene, sulphur_most_fraction=most(15)))
    assert gas.acid_dew_point_k is not None
    width = gas.acid_dew_point_k.half_width()
    # 12 K of method and, between 1 and 5 % of SO3, some 10 K from end to end.
    assert 12.5 < width < 15.0


def test_rows_of_an_analysis_have_their_own(kerosene: Fuel) -> None:
    gas = analysed(replace(kerosene, sulphur_most_fraction=most(15)), o2=np.array([0.03, 0.06]))
    assert gas.acid_dew_point_k is not None
    wet, thin = np.asarray(gas.acid_dew_point_k.value)
    assert wet > thin


def test_a_blend_knows_it_only_if_each_part_does(kerosene: Fuel) -> None:
    known = replace(kerosene, sulphur_most_fraction=most(100))
    both = blend([known, replace(known, sulphur_most_fraction=most(300))], [0.5, 0.5], key="x", name="x")
    assert both.sulphur_most_fraction is not None
    assert both.sulphur_most_fraction.value == pytest.approx(200e-6)
    assert blend([known, kerosene], [0.5, 0.5], key="x", name="x").sulphur_most_fraction is None


def test_an_impossible_ceiling_is_refused(kerosene: Fuel) -> None:
    with pytest.raises(Refusal) as refusal:
        replace(kerosene, sulphur_most_fraction=most(200_000))
    assert refusal.value.field == "sulphur_most_fraction"
    assert "The most sulphur allowed" in Speaker().say(refusal.value.message)

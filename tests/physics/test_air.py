"""Laws of the standard atmosphere and of moist air."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.errors import Declined, Refusal
from lightoff.physics import air
from lightoff.texts.speaker import Speaker


@given(st.floats(-900.0, 10_000.0), st.floats(1.0, 900.0))
def test_pressure_density_and_temperature_fall_with_height(low: float, rise: float) -> None:
    for figure in (air.standard_pressure_pa, air.standard_density_kg_m3, air.standard_temperature_k):
        assert figure(low + rise) < figure(low)


@given(st.floats(-900.0, 11_000.0))
def test_the_standard_atmosphere_is_an_ideal_gas(altitude_m: float) -> None:
    density = air.density_kg_m3(
        temperature_k=air.standard_temperature_k(altitude_m), pressure_pa=air.standard_pressure_pa(altitude_m)
    )
    # Our air holds a little more carbon dioxide than that of 1976.
    assert density == pytest.approx(air.standard_density_kg_m3(altitude_m), rel=2e-4)


@given(st.floats(273.2, 420.0))
def test_dew_point_undoes_saturation(temperature_k: float) -> None:
    assert air.dew_point_k(air.saturation_pressure_pa(temperature_k)) == pytest.approx(
        temperature_k, abs=1e-6
    )


def test_saturation_over_ice_meets_that_over_water() -> None:
    below, above = air.saturation_pressure_pa(273.149), air.saturation_pressure_pa(273.151)
    assert above / below == pytest.approx(1.0, abs=5e-4)
    # Over ice it is less than over supercooled water.
    assert air.saturation_pressure_pa(263.15) < 0.95 * 286.5


@given(st.floats(255.0, 320.0), st.floats(0.0, 1.0), st.floats(60e3, 105e3))
def test_damp_air_is_lighter_and_holds_less_air(temperature_k, humidity, pressure_pa) -> None:
    water = air.water_in_air_fraction(
        temperature_k=temperature_k, relative_humidity_fraction=humidity, pressure_pa=pressure_pa
    )
    here = {"temperature_k": temperature_k, "pressure_pa": pressure_pa}
    assert air.density_kg_m3(**here, water_fraction=water) <= air.density_kg_m3(**here)
    assert air.dry_air_mol_m3(**here, water_fraction=water) == pytest.approx(
        (1 - water) * air.dry_air_mol_m3(**here)
    )


def test_scalars_give_floats_and_arrays_give_arrays() -> None:
    assert isinstance(air.standard_pressure_pa(1000.0), float)
    assert isinstance(air.saturation_pressure_pa(300.0), float)
    assert isinstance(air.dew_point_k(2000.0), float)
    many = air.standard_pressure_pa(np.array([0.0, 1000.0]))
    assert np.shape(many) == (2,)
    assert many[1] == air.standard_pressure_pa(1000.0)


def test_the_shares_of_dry_air_make_the_whole() -> None:
    assert sum(air.DRY_AIR.values()) == pytest.approx(1.0, abs=1e-12)
    assert pytest.approx(0.028966, abs=2e-6) == air.DRY_AIR_MOLAR_MASS_KG_MOL


@pytest.mark.parametrize("altitude_m", [-5000.0, 12_000.0, float("nan")])
def test_a_height_no_heater_stands_at_is_refused(altitude_m: float) -> None:
    with pytest.raises(Refusal) as error:
        air.standard_pressure_pa(altitude_m)
    assert error.value.field == "altitude"
    if np.isfinite(altitude_m):
        assert "Check the unit (feet or metres)" in Speaker().say(error.value.message)


def test_a_humidity_above_the_whole_is_refused() -> None:
    with pytest.raises(Refusal) as error:
        air.water_in_air_fraction(temperature_k=300.0, relative_humidity_fraction=45.0, pressure_pa=1e5)
    assert "from 0 to 100 %" in Speaker().say(error.value.message)


def test_outside_its_range_saturation_declines() -> None:
    with pytest.raises(Declined, match="saturation"):
        air.saturation_pressure_pa(700.0)

"""The forward twin: burn a fuel atom by atom with our own bookkeeping here, then invert its readings."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.errors import LightoffError
from lightoff.physics import burn
from lightoff.physics.flue import FlueSet, analyse, analyse_each
from lightoff.physics.flue_gas import FlueGas, ReadingUncertainty
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet, stoichiometry_of
from lightoff.physics.uncertain import Uncertain

ATOM = {"C": 12.011e-3, "H": 1.008e-3, "O": 15.999e-3, "S": 32.06e-3}
AIR = {"O2": 0.2095, "N2": 0.7808, "Ar": 0.0093, "CO2": 0.0004}

ratios = st.floats(1.0, 4.0)
monoxides = st.floats(0.0, 0.05)  # share of the carbon that burns only to CO
humidities = st.floats(0.0, 0.06)  # moles of water with a mole of dry air
compositions = st.tuples(
    st.floats(0.10, 0.16), st.floats(0.0, 0.12), st.floats(0.0, 0.03), st.floats(0.0, 0.02)
)


def burnt(composition, air_ratio, half_burnt, water_per_air):
    """Moles out of the flue for one kilogram of fuel, and of dry air in; nothing of ours is used."""
    hydrogen, oxygen, sulphur, moisture = composition
    atoms_c = (1.0 - sum(composition)) / ATOM["C"]
    atoms_h = hydrogen / ATOM["H"] + 2 * moisture / (2 * ATOM["H"] + ATOM["O"])
    atoms_o = oxygen / ATOM["O"] + moisture / (2 * ATOM["H"] + ATOM["O"])
    atoms_s = sulphur / ATOM["S"]
    need = atoms_c + atoms_h / 4 + atoms_s - atoms_o / 2
    air = air_ratio * need / AIR["O2"]
    co = half_burnt * atoms_c
    out = {
        "CO": co,
        "CO2": atoms_c - co + AIR["CO2"] * air,
        "SO2": atoms_s,
        "H2O": atoms_h / 2 + water_per_air * air,
        "N2": AIR["N2"] * air,
        "Ar": AIR["Ar"] * air,
    }
    oxygen_atoms = atoms_o + air * (2 * AIR["O2"] + 2 * AIR["CO2"] + water_per_air)
    bound = co + 2 * out["CO2"] + 2 * out["SO2"] + out["H2O"]
    out["O2"] = (oxygen_atoms - bound) / 2
    return out, air


def shares(out):
    dry = sum(moles for name, moles in out.items() if name != "H2O")
    wet = dry + out["H2O"]
    return (
        {name: moles / dry for name, moles in out.items() if name != "H2O"},
        {name: moles / wet for name, moles in out.items()},
    )


def atoms_of(composition):
    hydrogen, oxygen, sulphur, moisture = composition
    return stoichiometry_of(
        carbon_fraction=1.0 - sum(composition),
        hydrogen_fraction=hydrogen,
        oxygen_fraction=oxygen,
        sulphur_fraction=sulphur,
        moisture_fraction=moisture,
    )


@given(compositions, ratios, monoxides, humidities)
def test_every_way_back_gives_the_air_ratio_that_was_burnt(composition, air_ratio, half_burnt, water):
    out, _ = burnt(composition, air_ratio, half_burnt, water)
    dry, wet = shares(out)
    s = atoms_of(composition)
    from_dry = burn.air_ratio_from_dry_o2(s, o2_dry_fraction=dry["O2"], co_dry_fraction=dry["CO"])
    from_wet = burn.air_ratio_from_wet_o2(
        s, o2_wet_fraction=wet["O2"], co_dry_fraction=dry["CO"], water_per_dry_air=water
    )
    from_co2 = burn.air_ratio_from_co2(s, co2_dry_fraction=dry["CO2"], co_dry_fraction=dry["CO"])
    assert from_dry == pytest.approx(air_ratio, abs=1e-9)
    assert from_wet == pytest.approx(air_ratio, abs=1e-9)
    assert from_co2 == pytest.approx(air_ratio, abs=1e-9)


@given(compositions, ratios, monoxides, humidities)
def test_products_are_those_burnt_and_the_atoms_close(composition, air_ratio, half_burnt, water):
    out, air = burnt(composition, air_ratio, half_burnt, water)
    dry, wet = shares(out)
    s = atoms_of(composition)
    gas = burn.products(s, air_ratio=air_ratio, co_dry_fraction=dry["CO"], water_per_dry_air=water)
    for name, share in dry.items():
        assert gas.dry_fractions()[name] == pytest.approx(share, abs=1e-9)
    for name, share in wet.items():
        assert gas.wet_fractions()[name] == pytest.approx(share, abs=1e-9)
    hydrogen, oxygen, sulphur, moisture = composition
    water_mass = 2 * ATOM["H"] + ATOM["O"]
    carbon_in = (1.0 - sum(composition)) / ATOM["C"] + AIR["CO2"] * air
    hydrogen_in = hydrogen / ATOM["H"] + 2 * moisture / water_mass + 2 * water * air
    oxygen_in = oxygen / ATOM["O"] + moisture / water_mass + air * (2 * AIR["O2"] + 2 * AIR["CO2"] + water)
    assert gas.co2 + gas.co == pytest.approx(carbon_in, rel=1e-9)
    assert 2 * gas.h2o == pytest.approx(hydrogen_in, rel=1e-9)
    assert 2 * (gas.o2 + gas.co2 + gas.so2) + gas.co + gas.h2o == pytest.approx(oxygen_in, rel=1e-9)
    assert gas.n2_ar == pytest.approx((AIR["N2"] + AIR["Ar"]) * air, rel=1e-9)
    assert gas.so2 == pytest.approx(sulphur / ATOM["S"], rel=1e-9, abs=1e-15)
    assert sum(gas.dry_fractions().values()) == pytest.approx(1.0, abs=1e-12)
    assert sum(gas.wet_fractions().values()) == pytest.approx(1.0, abs=1e-12)


@given(ratios.filter(lambda r: r < 3.5))
def test_oxygen_and_carbon_dioxide_agree_on_gas_made_up_for_this_fuel(air_ratio):
    fuel = fuel_from_data_sheet(
        key="x",
        name="x",
        density_15c_kg_m3=850.0,
        heating_value_j_kg=45.5e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
    )
    dry, _ = shares(burnt((0.13, 0.0, 0.0, 0.0), air_ratio, 0.0, 0.0)[0])
    gas = analyse(fuel, o2_dry_fraction=dry["O2"], co2_dry_fraction=dry["CO2"], co_dry_fraction=0.0)
    assert gas.air_ratio_from_o2 is not None
    assert gas.air_ratio_from_co2 is not None
    assert gas.air_ratio_from_o2.value == pytest.approx(air_ratio, abs=1e-9)
    assert gas.air_ratio_from_co2.value == pytest.approx(air_ratio, abs=1e-9)
    assert gas.agreement is not None
    assert gas.agreement.agree


def test_a_wet_reading_taken_for_a_dry_one_shows_as_less_air(diesel: Fuel) -> None:
    right = analyse(diesel, o2_wet_fraction=0.05).air_ratio.value
    wrong = analyse(diesel, o2_dry_fraction=0.05).air_ratio.value
    assert right - wrong == pytest.approx(0.04, abs=0.005)


def test_air_in_the_sample_stays_on_the_fuels_line_and_is_not_seen(diesel: Fuel) -> None:
    dry, _ = shares(burnt((0.13, 0.0, 0.0, 0.0), 1.2, 0.001, 0.0)[0])
    for diluted in (0.0, 0.2, 0.5):
        mixed = {name: (1 - diluted) * share + diluted * AIR.get(name, 0.0) for name, share in dry.items()}
        factor = burn.fuel_factor(
            o2_dry_fraction=mixed["O2"], co2_dry_fraction=mixed["CO2"], co_dry_fraction=mixed["CO"]
        )
        assert factor == pytest.approx(diesel.stoichiometry.fuel_factor, rel=0.01)
        undiluted = burn.co_air_free_fraction(
            co_fraction=mixed["CO"], o2_fraction=mixed["O2"], extrapolate=True
        )
        whole = burn.co_air_free_fraction(co_fraction=dry["CO"], o2_fraction=dry["O2"])
        assert undiluted == pytest.approx(whole, rel=1e-9)


def test_the_expected_carbon_dioxide_is_that_of_the_burn(diesel: Fuel) -> None:
    composition = (0.13, 0.0, 1.5e-5, 0.0)
    for air_ratio in (1.0, 1.3, 2.0):
        for half_burnt in (0.0, 0.02):
            dry, _ = shares(burnt(composition, air_ratio, half_burnt, 0.0)[0])
            expected = burn.co2_expected_fraction(
                diesel, o2_dry_fraction=dry["O2"], co_dry_fraction=dry["CO"]
            )
            assert expected == pytest.approx(dry["CO2"], abs=3e-4)  # the air's own carbon dioxide
    line = burn.o2_expected_fraction(diesel, co2_dry_fraction=0.12)
    back = burn.co2_expected_fraction(diesel, o2_dry_fraction=line)
    assert back == pytest.approx(0.12, abs=1e-12)


def test_arrays_and_single_readings_are_the_same_figures(diesel: Fuel) -> None:
    o2 = np.linspace(0.02, 0.10, 9)
    many = analyse(
        diesel,
        o2_dry_fraction=o2,
        co_dry_fraction=5e-5,
        stack_temperature_k=500.0,
        combustion_air_temperature_k=285.0,
        pressure_pa=9.5e4,
    )
    for row, share in enumerate(o2):
        one = analyse(
            diesel,
            o2_dry_fraction=float(share),
            co_dry_fraction=5e-5,
            stack_temperature_k=500.0,
            combustion_air_temperature_k=285.0,
            pressure_pa=9.5e4,
        )
        for name in (
            "air_ratio", "stack_loss_net_fraction", "efficiency_gross_fraction", "water_dew_point_k",
            "flame_temperature_k", "air_ratio_referred", "co_air_free_fraction",
        ):  # fmt: skip
            single, among = getattr(one, name), getattr(many, name).at(row)
            assert isinstance(single.value, float)
            assert among.value == pytest.approx(single.value, rel=1e-12)
            assert among.standard_uncertainty == near(single.standard_uncertainty, name)


def near(standard_uncertainty: float, name: str):
    """The slopes of the flame are those beside its place, by what a step in single precision left."""
    return pytest.approx(standard_uncertainty, rel=1e-6 if name == "flame_temperature_k" else 1e-9)


def test_each_set_of_many_is_told_as_if_it_were_alone(diesel: Fuel) -> None:
    doubt = ReadingUncertainty(
        o2_fraction=0.003, co2_fraction=0.003, co_fraction=1e-5, stack_temperature_k=3.0
    )
    dry = FlueSet(o2_dry_fraction=0.048, co_dry_fraction=4e-5, uncertainty=doubt)
    sets = [
        dry,
        replace(dry, stack_temperature_k=500.0, combustion_air_temperature_k=285.0),
        replace(dry, o2_dry_fraction=0.02, stack_temperature_k=700.0, combustion_air_temperature_k=262.0),
        replace(dry, co2_dry_fraction=0.117, co2_basis="calculated"),
        replace(dry, co2_dry_fraction=0.117, uncertainty=replace(doubt, co2_fraction=0.0)),
        replace(dry, o2_dry_fraction=None, co2_dry_fraction=0.11),
        replace(dry, o2_dry_fraction=None, o2_wet_fraction=0.05, pressure_pa=9e4),
        replace(dry, o2_dry_fraction=0.19),  # mostly air
        replace(dry, o2_dry_fraction=-0.01),
        FlueSet(),
        replace(dry, uncertainty=ReadingUncertainty()),
        dry,
    ]
    together = analyse_each(diesel, sets, reference_o2_fraction=0.03)
    turned = analyse_each(diesel, sets[::-1], reference_o2_fraction=0.03)[::-1]
    told_alike = [each == other for each, other in zip(turned, together, strict=True)]
    assert all(
        alike or isinstance(each, LightoffError) for alike, each in zip(told_alike, together, strict=True)
    )
    for each, told in zip(sets, together, strict=True):
        asked = {field.name: getattr(each, field.name) for field in fields(each)}
        if isinstance(told, LightoffError):
            with pytest.raises(type(told)) as raised:
                analyse(diesel, **asked, reference_o2_fraction=0.03)
            assert raised.value.message == told.message
            continue
        alone = analyse(diesel, **asked, reference_o2_fraction=0.03)
        for field in fields(FlueGas):
            one, among = getattr(alone, field.name), getattr(told, field.name)
            if isinstance(one, Uncertain):
                assert among.value == pytest.approx(one.value, rel=1e-12), field.name
                assert among.standard_uncertainty == near(one.standard_uncertainty, field.name)
            elif field.name not in ("agreement", "siegert", "products"):
                assert among == pytest.approx(one) if isinstance(one, float) else among == one, field.name
    assert [isinstance(each, LightoffError) for each in together[7:10]] == [True, True, True]


def test_blocks_of_rows_join_without_a_seam(diesel: Fuel) -> None:
    rows = 20_001
    o2 = np.linspace(0.02, 0.10, rows)
    whole = analyse(diesel, o2_dry_fraction=o2, pressure_pa=1e5)
    assert np.shape(whole.air_ratio.value) == (rows,)
    assert np.all(np.diff(whole.air_ratio.value) > 0.0)
    for row in (0, 8191, 8192, 16384, 20_000):
        one = analyse(diesel, o2_dry_fraction=float(o2[row]), pressure_pa=1e5)
        assert whole.air_ratio.at(row).value == pytest.approx(one.air_ratio.value, rel=1e-12)

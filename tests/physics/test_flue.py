"""Losses, efficiencies, cautions and refusals of a flue analysis."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.ground.errors import Declined, Refusal, Refusals
from lightoff.physics.flue import analyse
from lightoff.physics.flue_gas import FlueGas, ReadingUncertainty
from lightoff.physics.flue_problems import Readings, problems
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet
from lightoff.texts.speaker import Speaker

READINGS = {
    "o2_dry_fraction": 0.048,
    "co2_dry_fraction": 0.119,
    "co_dry_fraction": 38e-6,
    "stack_temperature_k": 509.15,
    "combustion_air_temperature_k": 284.15,
    "pressure_pa": 101325.0,
    "relative_humidity_fraction": 0.5,
}


def of(fuel: Fuel, **changes: object) -> FlueGas:
    return analyse(fuel, **(READINGS | changes))


def said(error: pytest.ExceptionInfo[Refusal] | pytest.ExceptionInfo[Declined]) -> str:
    return Speaker().say(error.value.message).replace("\u00a0", " ")


def test_losses_and_efficiencies_make_the_whole(diesel: Fuel) -> None:
    gas = of(diesel)
    parts = (gas.dry_gas_loss_fraction, gas.vapour_loss_fraction, gas.unburned_loss_fraction)
    assert gas.stack_loss_net_fraction.value == pytest.approx(sum(part.value for part in parts), rel=1e-12)
    assert gas.efficiency_net_fraction.value + gas.stack_loss_net_fraction.value == pytest.approx(1.0)
    net, gross = diesel.net_heating_value_j_kg, diesel.gross_heating_value_j_kg
    assert gas.efficiency_gross_fraction.value == pytest.approx(
        gas.efficiency_net_fraction.value * net / gross
    )
    assert gas.latent_loss_gross_fraction.value == pytest.approx(1.0 - net / gross)
    whole = gas.efficiency_gross_fraction.value + gas.latent_loss_gross_fraction.value
    assert whole + gas.stack_loss_net_fraction.value * net / gross == pytest.approx(1.0)


@settings(max_examples=40)
@given(st.floats(0.0, 0.16), st.floats(330.0, 1100.0), st.floats(1.0, 60.0))
def test_loss_grows_with_the_stacks_temperature(o2: float, stack: float, more: float) -> None:
    fuel = _plain_diesel()
    losses = [
        analyse(fuel, o2_dry_fraction=o2, stack_temperature_k=t, combustion_air_temperature_k=290.0)
        for t in (stack, stack + more)
    ]
    assert losses[0].stack_loss_net_fraction.value < losses[1].stack_loss_net_fraction.value


@settings(max_examples=40)
@given(st.floats(0.0, 0.15), st.floats(0.001, 0.02), st.floats(310.0, 1100.0))
def test_loss_grows_with_excess_air(o2: float, more: float, stack: float) -> None:
    fuel = _plain_diesel()
    losses = [
        analyse(fuel, o2_dry_fraction=x, stack_temperature_k=stack, combustion_air_temperature_k=290.0)
        for x in (o2, o2 + more)
    ]
    assert losses[0].stack_loss_net_fraction.value < losses[1].stack_loss_net_fraction.value


def _plain_diesel() -> Fuel:
    return fuel_from_data_sheet(
        key="d",
        name="d",
        density_15c_kg_m3=850.0,
        heating_value_j_kg=45.6e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
    )


def test_no_heat_is_lost_by_a_stack_as_cold_as_the_air(diesel: Fuel) -> None:
    gas = of(diesel, stack_temperature_k=284.15, co_dry_fraction=0.0)
    assert gas.stack_loss_net_fraction.value == pytest.approx(0.0, abs=1e-12)


def test_pressure_moves_dew_point_and_reference_but_not_the_chemistry(diesel: Fuel) -> None:
    low, high = of(diesel, pressure_pa=70e3), of(diesel, pressure_pa=101e3)
    assert low.air_ratio.value == pytest.approx(high.air_ratio.value, rel=1e-12)
    assert low.co2_dry_fraction.value == pytest.approx(high.co2_dry_fraction.value, rel=1e-12)
    assert low.water_dew_point_k.value < high.water_dew_point_k.value
    # The same fan would have moved more air at sea level.
    assert low.air_ratio_referred.value > high.air_ratio_referred.value > 0.9 * high.air_ratio.value


def test_the_flame_splits_more_where_the_air_is_thin(diesel: Fuel) -> None:
    thin, sea = (
        of(diesel, o2_dry_fraction=0.005, co2_dry_fraction=None, pressure_pa=p).flame_temperature_k.value
        for p in (60e3, 101e3)
    )
    assert sea - thin > 5.0
    whole = of(diesel, o2_dry_fraction=0.005, co2_dry_fraction=None, dissociation=False)
    assert whole.flame_temperature_k.value > sea + 50.0
    assert not whole.flame_with_dissociation


def test_the_reference_place_refers_to_itself(diesel: Fuel) -> None:
    gas = analyse(
        diesel,
        o2_dry_fraction=0.05,
        stack_temperature_k=500.0,
        combustion_air_temperature_k=288.15,
        pressure_pa=101325.0,
    )
    assert gas.air_ratio_referred.value == pytest.approx(gas.air_ratio.value, rel=1e-12)
    assert gas.stack_loss_referred_fraction.value == pytest.approx(
        gas.stack_loss_net_fraction.value, rel=1e-12
    )


def test_visits_in_frost_and_heat_compare_by_the_referred_loss(diesel: Fuel) -> None:
    cold = of(diesel, combustion_air_temperature_k=253.15, stack_temperature_k=478.15)
    warm = of(diesel, combustion_air_temperature_k=303.15, stack_temperature_k=528.15)
    assert cold.stack_loss_referred_fraction.value == pytest.approx(
        warm.stack_loss_referred_fraction.value, abs=1e-4
    )


def test_siegert_stands_beside_the_exact_loss_and_alarms(diesel: Fuel) -> None:
    for o2, stack, intake in ((0.03, 180, 20), (0.05, 300, 20), (0.06, 450, -10), (0.09, 350, 0)):
        gas = of(
            diesel,
            o2_dry_fraction=o2,
            co2_dry_fraction=None,
            stack_temperature_k=stack + 273.15,
            combustion_air_temperature_k=intake + 273.15,
        )
        assert not gas.siegert.differs
    hot = of(diesel, o2_dry_fraction=0.02, co2_dry_fraction=None, stack_temperature_k=1100.0)
    assert hot.siegert.differs
    assert any(caution.key == "physics.siegert_differs" for caution in hot.cautions)


def test_calculated_carbon_dioxide_is_no_witness(diesel: Fuel) -> None:
    gas = of(diesel, co2_basis="calculated")
    assert gas.agreement is None
    assert gas.fuel_factor is None
    assert "proves nothing about the oxygen" in " ".join(Speaker().say(each) for each in gas.cautions)


def test_measured_carbon_dioxide_that_contradicts_is_told(diesel: Fuel) -> None:
    doubt = ReadingUncertainty(o2_fraction=0.003, co2_fraction=0.003)
    assert of(diesel, uncertainty=doubt).agreement.agree
    against = of(diesel, co2_dry_fraction=0.105, uncertainty=doubt).agreement
    assert not against.agree
    assert against.gap_fraction == pytest.approx(0.105 - against.expected_fraction)
    # The widths of both instruments added, and that of the fuel between batches.
    assert against.allowed_fraction > 0.003 + 0.003 * 0.1554 / 0.2095


def test_what_was_not_read_is_none_and_not_zero(diesel: Fuel) -> None:
    gas = analyse(diesel, o2_dry_fraction=0.05)
    for name in (
        "air_ratio_from_co2", "agreement", "fuel_factor", "co_air_free_fraction", "co_referred_fraction",
        "stack_rise_k", "unburned_loss_fraction", "stack_loss_net_fraction", "efficiency_net_fraction",
        "efficiency_gross_fraction", "siegert", "water_dew_point_k", "acid_dew_point_k",
        "flame_temperature_k", "air_ratio_referred", "stack_loss_referred_fraction",
    ):  # fmt: skip
        assert getattr(gas, name) is None, name
    assert "Carbon monoxide was not measured" in Speaker().say(gas.cautions[0])


def test_carbon_dioxide_alone_serves_with_a_caution(diesel: Fuel) -> None:
    gas = analyse(diesel, co2_dry_fraction=0.11)
    assert gas.air_ratio_from == "co2"
    assert gas.air_ratio.value == pytest.approx(1.3875, abs=0.008)
    assert any("a rich burn can show the same figure" in Speaker().say(each) for each in gas.cautions)


def test_a_stack_below_the_dew_point_is_told(diesel: Fuel) -> None:
    gas = of(diesel, stack_temperature_k=310.0)
    assert any("water condenses in the flue" in Speaker().say(each) for each in gas.cautions)
    assert not any("condenses" in Speaker().say(each) for each in of(diesel).cautions)
    acid = [Speaker().say(each) for each in of(diesel, stack_temperature_k=345.0).cautions]
    (told,) = [each for each in acid if "condenses" in each]
    assert told.startswith("The flue gas is colder than its acid dew point: if the fuel holds the most")


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"o2_dry_fraction": 0.25}, "o2_dry_fraction", "Oxygen of the dry gas is 25.0 %"),
        ({"o2_dry_fraction": -0.01}, "o2_dry_fraction", "Zero the probe on fresh air and read again"),
        ({"o2_dry_fraction": 0.2095}, "o2_dry_fraction", "below the 20.95 % of fresh air"),
        ({"o2_dry_fraction": float("nan")}, "o2_dry_fraction", "Oxygen of the dry gas is not a number"),
        ({"co2_dry_fraction": 0.17}, "co2_dry_fraction", "No. 2 diesel can show at most 15.5 %"),
        ({"co2_dry_fraction": 0.0}, "co2_dry_fraction", "must lie above 0.0 %"),
        ({"co_dry_fraction": 0.2}, "co_dry_fraction", "Carbon monoxide is 200,000 ppm"),
        ({"co_dry_fraction": -1e-6}, "co_dry_fraction", "Carbon monoxide is"),
        ({"stack_temperature_k": 280.0}, "stack_temperature_k", "colder than the combustion air at 11 °C"),
        ({"stack_temperature_k": 5000.0}, "stack_temperature_k", "Check the unit and the probe"),
        ({"combustion_air_temperature_k": 400.0}, "combustion_air_temperature_k", "at the air intake"),
        ({"relative_humidity_fraction": 1.2}, "relative_humidity_fraction", "The relative humidity is 120"),
        ({"pressure_pa": 1013.0}, "pressure_pa", "not the one reduced to sea level"),
        ({"o2_dry_fraction": 0.002, "co_dry_fraction": 0.01}, "o2_dry_fraction", "This burn is rich"),
        ({"o2_wet_fraction": 0.05}, "o2_wet_fraction", "Oxygen is given both dry and wet"),
        (
            {"o2_dry_fraction": None, "co2_dry_fraction": None},
            "o2_dry_fraction",
            "Read oxygen in the exhaust",
        ),
        ({"o2_dry_fraction": None, "co2_dry_fraction": 0.156}, "co2_dry_fraction", "can show at most 15.5 %"),
    ],
)
def test_readings_that_cannot_be_are_refused_in_a_sentence(diesel, changes, field, sentence) -> None:
    with pytest.raises(Refusal) as error:
        of(diesel, **changes)
    assert error.value.field == field
    assert sentence in said(error)


def test_all_that_is_wrong_is_told_at_once(diesel: Fuel) -> None:
    with pytest.raises(Refusals) as error:
        of(diesel, o2_dry_fraction=-0.1, stack_temperature_k=9000.0)
    assert [each.field for each in error.value.refusals] == ["o2_dry_fraction", "stack_temperature_k"]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"o2_dry_fraction": 0.18, "co2_dry_fraction": None}, "nearly that of air"),
        ({"co_dry_fraction": 0.03}, "hydrogen and soot come with it"),
    ],
)
def test_outside_what_the_balance_holds_for_it_declines(diesel, changes, sentence) -> None:
    with pytest.raises(Declined) as error:
        of(diesel, **changes)
    assert sentence in said(error)
    gas = of(diesel, **changes, extrapolate=True)
    assert any("uncertain by more than is shown" in Speaker().say(each) for each in gas.cautions)


def test_a_bad_row_is_named_and_good_rows_can_be_kept(diesel: Fuel) -> None:
    o2 = np.array([0.05, 0.30, 0.06, np.nan])
    with pytest.raises(Refusal) as error:
        analyse(diesel, o2_dry_fraction=o2)
    assert "First in row 2; true of 2 in all" in said(error)
    readings = Readings(
        o2_dry_fraction=o2,
        o2_wet_fraction=None,
        co2_dry_fraction=None,
        co_dry_fraction=None,
        stack_temperature_k=None,
        combustion_air_temperature_k=None,
        relative_humidity_fraction=None,
        pressure_pa=None,
    )
    assert len(problems(diesel, readings)) == 1
    assert np.shape(analyse(diesel, o2_dry_fraction=o2[[0, 2]]).air_ratio.value) == (2,)


def test_co_is_referred_to_the_chosen_oxygen(diesel: Fuel) -> None:
    gas = of(diesel, reference_o2_fraction=0.03)
    assert gas.co_referred_fraction.value == pytest.approx(38e-6 * (0.2095 - 0.03) / (0.2095 - 0.048))
    assert gas.co_air_free_fraction.value == pytest.approx(38e-6 * 0.2095 / (0.2095 - 0.048))


@pytest.mark.parametrize("o2", [0.0, 0.2, 0.2094])
def test_the_ends_of_the_range_give_numbers_and_wide_doubt(diesel: Fuel, o2: float) -> None:
    gas = of(
        diesel,
        o2_dry_fraction=o2,
        co2_dry_fraction=None,
        co_dry_fraction=0.0,
        uncertainty=ReadingUncertainty(o2_fraction=0.003),
        extrapolate=True,
    )
    assert gas.air_ratio.value >= 1.0
    for figure in (gas.air_ratio, gas.flame_temperature_k, gas.stack_loss_net_fraction):
        assert np.isfinite([figure.value, figure.standard_uncertainty]).all()
    if o2 > 0.0:
        assert gas.air_ratio.half_width() > 0.2 * gas.air_ratio.value


def test_no_readings_are_no_figures(diesel: Fuel) -> None:
    nothing = np.array([])
    gas = analyse(diesel, o2_dry_fraction=nothing, combustion_air_temperature_k=nothing)
    assert np.shape(gas.air_ratio.value) == np.shape(gas.flame_temperature_k.value) == (0,)

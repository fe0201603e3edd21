"""Carried uncertainty against exact derivatives, another library, and random draws (GUM Supplement 1)."""

import math
from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat, umath

from lightoff.physics import burn
from lightoff.physics.flue import analyse
from lightoff.physics.flue_gas import ReadingUncertainty
from lightoff.physics.fuel import Fuel
from lightoff.physics.uncertain import Uncertain, propagate, through

EXACT_FUEL = ("carbon_fraction", "hydrogen_fraction", "oxygen_fraction", "heating_value_j_kg")


def exact(fuel: Fuel) -> Fuel:
    """The same fuel without spread between batches."""
    parts = {name: replace(getattr(fuel, name), half_width=0.0) for name in EXACT_FUEL}
    return replace(fuel, **parts)


def test_a_product_and_an_exponential_have_their_textbook_uncertainty() -> None:
    figures = propagate(
        lambda v: {"product": v["x"] * v["y"], "power": np.exp(v["x"])},
        {"x": np.array(2.0), "y": np.array(5.0)},
        {"x": np.array(0.03), "y": np.array(0.1)},
    )
    assert figures["product"].standard_uncertainty == pytest.approx(math.hypot(5 * 0.03, 2 * 0.1), rel=1e-9)
    assert figures["power"].standard_uncertainty == pytest.approx(math.exp(2.0) * 0.03, rel=1e-5)


def test_an_exact_input_adds_nothing_and_rows_keep_their_own() -> None:
    figures = propagate(
        lambda v: {"sum": v["x"] + v["y"]},
        {"x": np.array([1.0, 2.0]), "y": np.array(3.0)},
        {"x": np.array([0.1, 0.4]), "y": np.array(0.0)},
    )
    assert figures["sum"].standard_uncertainty == pytest.approx([0.1, 0.4])


def test_a_function_of_one_figure() -> None:
    figure = through(np.sqrt, Uncertain(value=4.0, standard_uncertainty=0.2))
    assert figure.value == 2.0
    assert figure.standard_uncertainty == pytest.approx(0.05, rel=1e-4)


def test_an_estimate_holds_twice_the_standard_uncertainty() -> None:
    estimate = Uncertain(value=1.3, standard_uncertainty=0.02).estimate()
    assert (estimate.low, estimate.high) == pytest.approx((1.26, 1.34))
    assert estimate.coverage == pytest.approx(0.9545, abs=1e-4)
    assert Uncertain(value=1.3, standard_uncertainty=0.02).half_width(3.0) == pytest.approx(0.06)


def test_the_air_ratio_by_the_library_uncertainties(diesel: Fuel) -> None:
    o2, co = ufloat(0.048, 0.0015), ufloat(400e-6, 20e-6)
    s = diesel.stoichiometry
    theirs = burn.air_ratio_from_dry_o2(s, o2_dry_fraction=o2, co_dry_fraction=co)
    ours = analyse(
        exact(diesel),
        o2_dry_fraction=0.048,
        co_dry_fraction=400e-6,
        uncertainty=ReadingUncertainty(o2_fraction=0.003, co_fraction=40e-6),
    ).air_ratio
    assert ours.value == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-3)


def test_air_free_carbon_monoxide_by_the_library_uncertainties(diesel: Fuel) -> None:
    o2, co = ufloat(0.09, 0.0015), ufloat(150e-6, 5e-6)
    theirs = co * 0.2095 / (0.2095 - o2)
    ours = analyse(
        diesel,
        o2_dry_fraction=0.09,
        co_dry_fraction=150e-6,
        uncertainty=ReadingUncertainty(o2_fraction=0.003, co_fraction=10e-6),
    ).co_air_free_fraction
    assert ours is not None
    assert ours.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-3)
    assert umath.log(theirs).std_dev > 0  # the judge is alive


def test_everything_by_random_draws(diesel: Fuel) -> None:
    """Monte Carlo as in GUM Supplement 1: draw every input, analyse each draw, compare the spread."""
    rng = np.random.default_rng(7)
    draws = 20_000
    readings = {
        "o2_dry_fraction": (0.048, 0.0015),
        "co2_dry_fraction": (0.119, 0.003),
        "co_dry_fraction": (120e-6, 5e-6),
        "stack_temperature_k": (509.0, 2.5),
        "combustion_air_temperature_k": (284.0, 0.5),
        "relative_humidity_fraction": (0.5, 0.02),
        "pressure_pa": (90e3, 200.0),
    }
    names = ("o2", "co2", "co")
    doubt = ReadingUncertainty(
        **{
            (name.replace("_dry", "") if name.split("_")[0] in names else name): 2 * width
            for name, (_, width) in readings.items()
        }
    )
    carried = analyse(exact(diesel), **{k: v for k, (v, _) in readings.items()}, uncertainty=doubt)
    drawn = analyse(
        exact(diesel), **{name: rng.normal(value, width, draws) for name, (value, width) in readings.items()}
    )
    for name in (
        "air_ratio", "air_ratio_from_co2", "co2_dry_fraction", "fuel_factor", "co_air_free_fraction",
        "stack_rise_k", "dry_gas_loss_fraction", "vapour_loss_fraction", "unburned_loss_fraction",
        "stack_loss_net_fraction", "efficiency_net_fraction", "efficiency_gross_fraction",
        "water_dew_point_k", "flame_temperature_k", "air_ratio_referred", "stack_loss_referred_fraction",
    ):  # fmt: skip
        spread = float(np.std(getattr(drawn, name).value))
        assert getattr(carried, name).standard_uncertainty == pytest.approx(spread, rel=0.04), name
    # The fuel's spread between batches, drawn one at a time through whole fuels.
    of_fuel = analyse(diesel, **{k: v for k, (v, _) in readings.items()})
    hydrogens, heats = rng.normal(0.13, 0.0025, 400), rng.normal(45.759e6, 0.005 * 45.759e6, 400)
    losses, ratios = [], []
    for hydrogen, heat in zip(hydrogens, heats, strict=True):
        fuel = replace(
            diesel,
            hydrogen_fraction=replace(diesel.hydrogen_fraction, value=float(hydrogen)),
            carbon_fraction=replace(diesel.carbon_fraction, value=float(1.0 - 1.5e-5 - hydrogen)),
            heating_value_j_kg=replace(diesel.heating_value_j_kg, value=float(heat)),
        )
        gas = analyse(fuel, **{k: v for k, (v, _) in readings.items()})
        losses.append(gas.stack_loss_net_fraction.value)
        ratios.append(gas.air_ratio.value)
    assert of_fuel.stack_loss_net_fraction.standard_uncertainty == pytest.approx(np.std(losses), rel=0.15)
    assert of_fuel.air_ratio.standard_uncertainty == pytest.approx(np.std(ratios), rel=0.15)


def test_wider_readings_never_give_narrower_figures(diesel: Fuel) -> None:
    before = None
    for width in (0.0, 0.001, 0.003, 0.01):
        gas = analyse(diesel, o2_dry_fraction=0.05, uncertainty=ReadingUncertainty(o2_fraction=width))
        if before is not None:
            assert gas.air_ratio.standard_uncertainty > before
        before = gas.air_ratio.standard_uncertainty


def test_the_coverage_factor_of_the_readings_counts(diesel: Fuel) -> None:
    narrow, wide = (
        analyse(
            exact(diesel),
            o2_dry_fraction=0.05,
            uncertainty=ReadingUncertainty(o2_fraction=0.003, coverage_factor=factor),
        ).air_ratio.standard_uncertainty
        for factor in (3.0, 1.5)
    )
    assert wide == pytest.approx(2 * narrow, rel=1e-3)

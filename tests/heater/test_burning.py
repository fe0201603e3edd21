"""The flame's gas: atoms kept, and the curves of carbon monoxide and smoke in the right direction."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.burning import HIGHEST_CO, SMOKE_POINT_AIR_RATIO, Gas, gas
from lightoff.physics import burn
from lightoff.shelf import open_shelf

FUELS = open_shelf().fuels
DIESEL = FUELS["diesel_2"]
ORDER = {
    "drop_size_ratio": 1.0,
    "lopsided": 0.0,
    "tube_soot_m": 0.0,
    "smoke_point": 0.0,
    "co_floor": 1.0,
    "co_slope": 1.0,
}
A_BIT = 1e-12


def flame(air_ratio: float | np.ndarray, fuel: str = "diesel_2", **changed: float) -> Gas:
    ratio = np.atleast_1d(np.asarray(air_ratio, dtype=float))
    ends = {key: np.full_like(ratio, changed.get(key, usual)) for key, usual in ORDER.items()}
    burnt = FUELS[fuel]
    return gas(
        burnt.stoichiometry,
        heating_value_j_kg=burnt.net_heating_value_j_kg,
        air_ratio=ratio,
        **ends,
    )


states = st.fixed_dictionaries(
    {
        "drop_size_ratio": st.floats(0.5, 6.0),
        "lopsided": st.floats(0.0, 1.0),
        "tube_soot_m": st.floats(0.0, 2e-3),
        "smoke_point": st.floats(-0.15, 0.15),
        "co_floor": st.floats(0.25, 8.0),
        "co_slope": st.floats(0.6, 1.7),
    }
)


@pytest.mark.parametrize("fuel", sorted(FUELS))
@pytest.mark.parametrize("air_ratio", [1.25, 1.5, 2.0])
def test_a_lean_flame_is_the_balance_of_atoms(fuel: str, air_ratio: float) -> None:
    seen = flame(air_ratio, fuel)
    balance = burn.products(
        FUELS[fuel].stoichiometry, air_ratio=air_ratio, co_dry_fraction=float(seen.co[0])
    ).dry_fractions()
    assert seen.o2[0] == pytest.approx(balance["O2"], abs=1e-4)
    assert seen.co2[0] == pytest.approx(balance["CO2"], abs=1e-4)


def test_carbon_monoxide_spares_half_its_oxygen() -> None:
    seen = flame(1.5, co_floor=200.0)
    balance = burn.products(DIESEL.stoichiometry, air_ratio=1.5, co_dry_fraction=float(seen.co[0]))
    assert seen.co[0] > 2000e-6
    assert seen.o2[0] == pytest.approx(balance.dry_fractions()["O2"], abs=5e-5)


@given(ratio=st.floats(0.3, 4.0), state=states)
def test_carbon_and_nitrogen_are_kept(ratio: float, state: dict[str, float]) -> None:
    """Air's nitrogen to the fuel's carbon, as shares of one dry gas whose rest is oxygen and hydrogen."""
    seen, s = flame(ratio, **state), DIESEL.stoichiometry
    carbon = s.carbon_mol_kg + 0.0004 * ratio * s.air_mol_kg
    dry = carbon / (seen.co[0] + seen.co2[0])
    inert = 0.7901 * ratio * s.air_mol_kg + s.sulphur_mol_kg
    hydrogen = dry - carbon - inert - seen.o2[0] * dry
    assert hydrogen >= -1e-6
    assert hydrogen <= 0.12 * dry  # what a rich flame of oil holds of it
    if ratio > 1.2:
        assert hydrogen < 1e-3 * dry


@given(ratio=st.floats(0.3, 4.0), state=states)
def test_shares_are_shares(ratio: float, state: dict[str, float]) -> None:
    seen = flame(ratio, **state)
    for share in (seen.o2, seen.co2, seen.co, seen.burnt_share, seen.brightness):
        assert 0.0 <= share[0] <= 1.0
    assert seen.co[0] <= HIGHEST_CO
    assert 0.0 <= seen.smoke_number[0] <= 9.0


@given(ratio=st.floats(0.4, 1.15), less=st.floats(0.001, 0.3), state=states)
def test_below_the_smoke_point_less_air_is_never_cleaner(
    ratio: float, less: float, state: dict[str, float]
) -> None:
    knee = ratio - float(flame(ratio, **state).smoke_margin[0])
    seen = flame(np.array([min(ratio, knee), min(ratio, knee) - less]), **state)
    assert seen.co[1] >= seen.co[0] - A_BIT
    assert seen.smoke_number[1] >= seen.smoke_number[0]
    assert seen.smoke_margin[1] < seen.smoke_margin[0] <= 1e-9


@given(ratio=st.floats(0.3, 3.5), more=st.floats(0.001, 0.5))
def test_more_air_is_more_oxygen(ratio: float, more: float) -> None:
    less, most = flame(np.array([ratio, ratio + more])).o2
    assert most >= less - 5e-6


def test_a_rich_flame_leaves_no_oxygen_and_no_more_co2_than_the_fuel_can_make() -> None:
    seen = flame(np.array([0.95, 0.9, 0.8]))
    assert np.all(seen.o2 < 0.002)
    assert np.all(np.diff(seen.co) > 0.0)
    assert np.all(seen.co > 0.01)
    assert np.all(np.diff(seen.co2) < 0.0)
    assert np.all(seen.co2 < DIESEL.stoichiometry.largest_dry_co2_fraction)


def test_heat_is_lost_with_what_is_half_burnt() -> None:
    lean, rich = flame(1.3), flame(0.8)
    assert lean.burnt_share[0] > 0.999
    assert rich.burnt_share[0] == pytest.approx(0.79, abs=0.02)  # a fifth of the oxygen is not there
    # 1,000 ppm at 7 % of oxygen is 0.46 % of the net heat.
    dirty = flame(1.469, co_floor=60.0)
    assert dirty.co[0] > 500e-6
    assert 1.0 - dirty.burnt_share[0] == pytest.approx(4.6 * dirty.co[0], rel=0.04)


@pytest.mark.parametrize(
    ("key", "bad"), [("drop_size_ratio", 1.6), ("lopsided", 0.5), ("tube_soot_m", 1e-3), ("smoke_point", 0.1)]
)
def test_what_spoils_a_flame_makes_it_smoke_at_more_air(key: str, bad: float) -> None:
    good, spoiled = flame(1.2), flame(1.2, **{key: bad})
    assert spoiled.smoke_margin[0] < good.smoke_margin[0] - 0.05
    assert spoiled.smoke_number[0] > good.smoke_number[0]
    assert spoiled.co[0] > good.co[0]


def test_a_good_flame_is_bright_and_clean_and_a_blown_one_is_neither() -> None:
    good, blown = flame(SMOKE_POINT_AIR_RATIO + 0.2), flame(2.8)
    assert good.smoke_number[0] < 0.1
    assert good.co[0] < 50e-6
    assert good.brightness[0] > 0.99
    assert blown.brightness[0] < 0.3
    assert blown.co[0] > 2.0 * good.co[0]

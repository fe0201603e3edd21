"""Laws of the suction line, the siphon, the atomising air and the drops."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.physics.atomising import (
    CHOKING_PRESSURE_RATIO,
    drop_size_ratio,
    evaporation_time_s,
    jet_velocity_m_s,
    orifice_air_flow_kg_s,
    plain_jet_drop_size_m,
)
from lightoff.physics.suction import (
    DISSOLVED_AIR_VOLUME_RATIO,
    air_release_share,
    siphon_flow_ratio,
    suction_vacuum_pa,
)

LINE = {
    "lift_m": 1.0,
    "fuel_density_kg_m3": 840.0,
    "kinematic_viscosity_m2_s": 4e-6,
    "volume_flow_m3_s": 5.3e-7,
    "line_length_m": 4.0,
    "line_diameter_m": 0.004,
    "filter_resistance_pa_s_m3": 5e9,
}
SPRAY = {
    "nozzle_diameter_m": 0.5e-3,
    "surface_tension_n_m": 0.0275,
    "air_density_kg_m3": 1.2,
    "velocity_m_s": 150.0,
    "air_to_liquid": 0.6,
    "fuel_density_kg_m3": 840.0,
    "fuel_viscosity_pa_s": 0.0034,
}
AIR_GAS_CONSTANT = 8.314462618 / 0.028965


@given(
    st.sampled_from(
        sorted(set(LINE) - {"line_diameter_m"}),
    ),
    st.floats(1.01, 20.0),
)
def test_each_burden_adds_vacuum(name: str, more: float) -> None:
    assert suction_vacuum_pa(**{**LINE, name: LINE[name] * more}) > suction_vacuum_pa(**LINE)
    assert suction_vacuum_pa(**{**LINE, "line_diameter_m": 0.003}) > suction_vacuum_pa(**LINE)


@given(st.floats(0.0005, 0.02), st.floats(1.1, 3.0))
def test_line_loss_goes_with_the_fourth_power_of_the_bore(bore: float, wider: float) -> None:
    line = {**LINE, "lift_m": 0.0, "filter_resistance_pa_s_m3": 0.0}
    narrow = suction_vacuum_pa(**{**line, "line_diameter_m": bore})
    assert suction_vacuum_pa(**{**line, "line_diameter_m": bore * wider}) == pytest.approx(narrow / wider**4)


def test_line_loss_is_laminar_friction() -> None:
    """Forward twin: friction factor 64/Re in the pressure loss of a pipe."""
    bore, flow, viscosity = 0.004, 5.3e-7, 4e-6
    speed = flow / (math.pi / 4 * bore**2)
    reynolds = speed * bore / viscosity
    assert reynolds < 300
    loss = 64 / reynolds * 4.0 / bore * 840.0 * speed**2 / 2
    line = {**LINE, "lift_m": 0.0, "filter_resistance_pa_s_m3": 0.0}
    assert suction_vacuum_pa(**line) == pytest.approx(loss)


def test_a_tank_above_the_pump_pushes() -> None:
    assert suction_vacuum_pa(**{**LINE, "lift_m": -2.0}) < 0.0


@given(st.floats(0.0, 1.0), st.floats(0.001, 0.2), st.floats(60e3, 105e3))
def test_air_comes_out_with_vacuum_and_sooner_on_a_mountain(part, more, atmosphere) -> None:
    vacuum = part * atmosphere
    here = air_release_share(vacuum_pa=vacuum, atmosphere_pa=atmosphere)
    assert 0.0 <= here <= 1.0
    if part + more < 1.0:
        assert air_release_share(vacuum_pa=(part + more) * atmosphere, atmosphere_pa=atmosphere) > here
    if 0.01 < part < 0.9:
        assert air_release_share(vacuum_pa=vacuum, atmosphere_pa=0.95 * atmosphere) > here


def test_air_release_keeps_the_gas() -> None:
    """Forward twin in moles: dissolved before = dissolved after + bubbles, by Henry and the ideal gas."""
    atmosphere, inlet = 101325.0, 60000.0
    share = air_release_share(vacuum_pa=atmosphere - inlet, atmosphere_pa=atmosphere)
    bubbles = share / (1.0 - share)  # volume per volume of fuel
    before = DISSOLVED_AIR_VOLUME_RATIO * atmosphere
    after = DISSOLVED_AIR_VOLUME_RATIO * inlet + bubbles * inlet
    assert after == pytest.approx(before)


def test_air_release_at_its_ends() -> None:
    assert air_release_share(vacuum_pa=-5000.0, atmosphere_pa=1e5) == 0.0
    assert air_release_share(vacuum_pa=0.0, atmosphere_pa=1e5) == 0.0
    assert air_release_share(vacuum_pa=1e5, atmosphere_pa=1e5) == 1.0
    assert air_release_share(vacuum_pa=2e5, atmosphere_pa=1e5) == 1.0


@given(st.floats(0.2, 2.0), st.floats(-4000.0, 4000.0), st.floats(100.0, 4000.0), st.floats(0.9, 1.1))
def test_siphon_weakens_with_lift_and_gains_with_suction(suction, lift, more, density) -> None:
    def drawn(jet: float, lifted: float) -> object:
        return siphon_flow_ratio(
            suction_ratio=jet, lift_pressure_pa=lifted, rated_suction_pa=8000.0, density_ratio=density
        )

    here = drawn(suction, lift)
    assert drawn(suction, lift + more) < here or here == 0.0
    assert drawn(suction * 1.5, lift) >= here
    assert drawn(suction, suction * 8000.0 + 1.0) == 0.0


def test_siphon_as_rated() -> None:
    same = {"suction_ratio": 1.0, "lift_pressure_pa": 0.0, "rated_suction_pa": 8000.0}
    assert siphon_flow_ratio(**same, density_ratio=1.0) == 1.0
    assert siphon_flow_ratio(**same, density_ratio=1.21) == pytest.approx(1 / 1.1)  # by volume


def flow(supply_pa: float, back_pa: float, area_m2: float = 1e-6) -> float:
    return float(
        orifice_air_flow_kg_s(
            area_m2=area_m2,
            discharge=0.8,
            pressure_pa=supply_pa,
            back_pressure_pa=back_pa,
            temperature_k=293.15,
        )
    )


@given(st.floats(1e5, 5e5), st.floats(0.0, 1.0))
def test_opening_by_the_textbooks_formula(supply: float, part: float) -> None:
    """Forward twin: the two-power formula, to the critical pressure and no further."""
    ratio = max(part, (2 / 2.4) ** 3.5)
    bracket = ratio ** (2 / 1.4) - ratio ** (2.4 / 1.4)
    expected = 0.8e-6 * supply * (2.8 / 0.4 / (AIR_GAS_CONSTANT * 293.15) * max(bracket, 0.0)) ** 0.5
    assert flow(supply, part * supply) == pytest.approx(expected, rel=1e-4, abs=1e-10)


@given(st.floats(1.0e5, 1.8e5), st.floats(10.0, 3e4))
def test_opening_passes_more_at_more_pressure(supply: float, more: float) -> None:
    assert flow(supply + more, 1e5) > flow(supply, 1e5)


@given(st.floats(0.0, 0.999))
def test_a_choked_opening_knows_only_its_supply(part: float) -> None:
    supply = 3e5
    assert flow(supply, part * CHOKING_PRESSURE_RATIO * supply) == pytest.approx(
        flow(supply, CHOKING_PRESSURE_RATIO * supply), rel=1e-12
    )
    assert flow(2 * supply, 0.0) == pytest.approx(2 * flow(supply, 0.0))


def test_opening_at_its_ends() -> None:
    assert flow(1e5, 1e5) == 0.0
    assert flow(1e5, 2e5) == 0.0
    # A small drop of pressure: the incompressible law, within its first-order error.
    assert flow(100_100.0, 1e5) == pytest.approx(
        0.8e-6 * (2 * 1e5 / (AIR_GAS_CONSTANT * 293.15) * 100) ** 0.5, rel=2e-3
    )


@given(st.floats(0.0, 1.0), st.floats(250.0, 350.0))
def test_jet_carries_the_flow_and_tops_out_at_sound(part: float, warm: float) -> None:
    """Density in the throat times speed times area is the flow."""
    supply = 2e5
    speed = jet_velocity_m_s(pressure_pa=supply, back_pressure_pa=part * supply, temperature_k=warm)
    throat = max(part, CHOKING_PRESSURE_RATIO)
    density = throat * supply / (AIR_GAS_CONSTANT * warm * throat ** (2 / 7))
    passed = orifice_air_flow_kg_s(
        area_m2=1e-6,
        discharge=1.0,
        pressure_pa=supply,
        back_pressure_pa=part * supply,
        temperature_k=warm,
    )
    assert density * speed * 1e-6 == pytest.approx(passed, rel=1e-4, abs=1e-10)
    assert speed <= (1.4 * AIR_GAS_CONSTANT * warm / 1.2) ** 0.5 * 1.0001


@given(
    st.sampled_from(["velocity_m_s", "air_density_kg_m3", "air_to_liquid"]),
    st.sampled_from(["surface_tension_n_m", "fuel_viscosity_pa_s", "nozzle_diameter_m"]),
    st.floats(1.01, 4.0),
)
def test_drops_get_finer_with_air_and_coarser_with_tough_fuel(finer: str, coarser: str, more: float) -> None:
    here = plain_jet_drop_size_m(**SPRAY)
    assert plain_jet_drop_size_m(**{**SPRAY, finer: SPRAY[finer] * more}) < here
    if coarser != "surface_tension_n_m" or more < 2.0:  # tension also damps the viscous part
        assert plain_jet_drop_size_m(**{**SPRAY, coarser: SPRAY[coarser] * more}) > here


@given(
    st.floats(0.3, 2.0), st.floats(0.1, 3.0), st.floats(0.1, 3.0), st.floats(0.6, 1.2), st.floats(0.5, 10.0)
)
def test_drop_ratio_is_the_ratio_of_two_drops(velocity, ratio_now, ratio_rated, density, viscosity) -> None:
    rated = {**SPRAY, "air_to_liquid": ratio_rated}
    now = {
        **SPRAY,
        "air_to_liquid": ratio_now,
        "velocity_m_s": SPRAY["velocity_m_s"] * velocity,
        "air_density_kg_m3": SPRAY["air_density_kg_m3"] * density,
        "fuel_viscosity_pa_s": SPRAY["fuel_viscosity_pa_s"] * viscosity,
    }
    size = plain_jet_drop_size_m(**rated)
    thin = plain_jet_drop_size_m(**{**rated, "fuel_viscosity_pa_s": 0.0})
    assert drop_size_ratio(
        velocity_ratio=velocity,
        air_to_liquid=ratio_now,
        air_to_liquid_rated=ratio_rated,
        air_density_ratio=density,
        viscosity_ratio=viscosity,
        viscous_share=1.0 - thin / size,
    ) == pytest.approx(plain_jet_drop_size_m(**now) / size)


def test_without_air_there_is_no_spray() -> None:
    assert plain_jet_drop_size_m(**{**SPRAY, "air_to_liquid": 0.0}) == math.inf
    assert plain_jet_drop_size_m(**{**SPRAY, "velocity_m_s": 0.0}) == math.inf
    still = {
        "air_to_liquid_rated": 0.6,
        "air_density_ratio": 1.0,
        "viscosity_ratio": 1.0,
        "viscous_share": 0.1,
    }
    assert drop_size_ratio(velocity_ratio=0.0, air_to_liquid=0.6, **still) == math.inf
    assert drop_size_ratio(velocity_ratio=1.0, air_to_liquid=0.0, **still) == math.inf
    assert drop_size_ratio(velocity_ratio=1.0, air_to_liquid=0.6, **still) == pytest.approx(1.0)


@given(st.floats(1e-6, 1e-3), st.floats(1.01, 5.0))
def test_a_drop_of_twice_the_size_lasts_four_times_as_long(size: float, more: float) -> None:
    here = evaporation_time_s(drop_size_m=size, evaporation_constant_m2_s=5e-7)
    assert evaporation_time_s(drop_size_m=size * more, evaporation_constant_m2_s=5e-7) == pytest.approx(
        more**2 * here
    )
    assert evaporation_time_s(drop_size_m=size, evaporation_constant_m2_s=5e-7 * more) < here


def test_rows_are_worked_out_each_for_itself() -> None:
    supply = np.array([1.0e5, 1.3e5, 4e5])
    flows = orifice_air_flow_kg_s(
        area_m2=1e-6, discharge=0.8, pressure_pa=supply, back_pressure_pa=1e5, temperature_k=293.15
    )
    assert list(flows) == [flow(float(each), 1e5) for each in supply]
    sizes = plain_jet_drop_size_m(**{**SPRAY, "air_to_liquid": np.array([0.0, 0.6])})
    assert sizes[0] == math.inf
    assert sizes[1] == plain_jet_drop_size_m(**SPRAY)
    shares = air_release_share(vacuum_pa=np.array([-1.0, 3e4, 1e5]), atmosphere_pa=1e5)
    assert shares[0] == 0.0
    assert shares[2] == 1.0
    assert isinstance(air_release_share(vacuum_pa=3e4, atmosphere_pa=1e5), float)

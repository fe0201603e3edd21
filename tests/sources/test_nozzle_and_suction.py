"""Air through small openings, drops of fuel, and the vacuum of a suction line."""

import pytest
from fluids.safety_valve import API520_A_g

from lightoff.physics.atomising import (
    CHOKING_PRESSURE_RATIO,
    jet_velocity_m_s,
    orifice_air_flow_kg_s,
    plain_jet_drop_size_m,
)
from lightoff.physics.fan import motor_speed_ratio
from lightoff.physics.suction import suction_vacuum_pa

BOOK = "Cengel and Boles, Thermodynamics, example 17-5 (converging nozzle), with its tables A-32 and 17-2"
TRANSCRIBED = "second-hand: inputs and table readings in a published transcription, worked out from those"
# Ahead of the nozzle: 1 MPa and 600 degC at 150 m/s, brought to rest with cp 1.005 kJ/kg K.
AT_REST_K = 873.0 + 150.0**2 / (2 * 1005.0)
AT_REST_PA = 1.0e6 * (AT_REST_K / 873.0) ** 3.5
PSI_PA, INCH_OF_MERCURY_PA = 6894.757, 3386.389


def nozzle_flow(back_pressure_pa: float) -> float:
    return float(
        orifice_air_flow_kg_s(
            area_m2=50e-4,
            discharge=1.0,
            pressure_pa=AT_REST_PA,
            back_pressure_pa=back_pressure_pa,
            temperature_k=AT_REST_K,
        )
    )


def test_flow_of_a_converging_nozzle(check) -> None:
    check(
        "nozzle_flow_below_choking",
        "air through 50 cm2 from 1 MPa and 600 degC at 150 m/s to 0.7 MPa",
        expected=0.7e6 / (287.0 * 0.892 * AT_REST_K) * 50e-4 * 0.778 * (1.4 * 287 * 0.892 * AT_REST_K) ** 0.5,
        got=nozzle_flow(0.7e6),
        tolerance=0.02,
        unit="kg/s",
        source=BOOK,
        how_seen=TRANSCRIBED,
        note="the book reads Mach 0.778 and a temperature ratio of 0.892 from its table",
    )
    check(
        "nozzle_flow_choked",
        "the same to 0.4 MPa",
        expected=50e-4 * AT_REST_PA * (1.4 / (287.0 * AT_REST_K)) ** 0.5 * (2 / 2.4) ** 3,
        got=nozzle_flow(0.4e6),
        tolerance=0.02,
        unit="kg/s",
        source=BOOK,
        how_seen=TRANSCRIBED,
    )
    check(
        "nozzle_critical_ratio",
        "critical pressure ratio of air",
        expected=0.5283,
        got=CHOKING_PRESSURE_RATIO,
        tolerance=0.00005,
        unit="-",
        source=BOOK,
        how_seen=TRANSCRIBED,
    )
    check(
        "nozzle_velocity",
        "speed in the throat to 0.7 MPa",
        expected=0.778 * (1.4 * 287 * 0.892 * AT_REST_K) ** 0.5,
        got=jet_velocity_m_s(pressure_pa=AT_REST_PA, back_pressure_pa=0.7e6, temperature_k=AT_REST_K),
        tolerance=1.0,
        unit="m/s",
        source=BOOK,
        how_seen=TRANSCRIBED,
    )


@pytest.mark.parametrize(("gauge_psi", "state"), [(4, "below"), (10, "below"), (25, "choked")])
def test_opening_against_the_relief_valve_rule(check, gauge_psi: float, state: str) -> None:
    """The rule gives the area for a flow, so what flows through that area must be that flow."""
    supply = 101325.0 + gauge_psi * PSI_PA
    rule = {"m": 1e-4, "T": 293.15, "Z": 1.0, "MW": 28.965, "k": 1.4, "Kd": 1.0, "Kb": 1.0, "Kc": 1.0}
    area = API520_A_g(**rule, P1=supply, P2=101325.0)
    check(
        f"opening_{gauge_psi}_psi",
        f"air at {gauge_psi} psi gauge and 20 degC through the area that the rule asks for 0.1 g/s ({state})",
        expected=0.1,
        got=1e3
        * orifice_air_flow_kg_s(
            area_m2=area,
            discharge=1.0,
            pressure_pa=supply,
            back_pressure_pa=101325.0,
            temperature_k=293.15,
        ),
        tolerance=0.0005,
        unit="g/s",
        source="fluids 1.3.1, API Standard 520 part 1 sizing of relief valves for gas",
        how_seen="computed with fluids 1.3.1",
        note="the rule's constants are rounded to three or four figures",
    )


@pytest.mark.parametrize(
    ("row", "velocity", "air_to_liquid", "viscosity", "expected"),
    [
        ("C111", 150.0, 1.0, 0.0025, 30.05),
        ("C112", 120.0, 1.0, 0.0025, 35.24),
        ("C113", 150.0, 0.7, 0.0025, 32.94),
        ("C114", 150.0, 1.0, 0.006, 34.93),
    ],
)
def test_drop_size(check, row, velocity, air_to_liquid, viscosity, expected) -> None:
    check(
        row,
        f"drop of a plain jet, {velocity:.0f} m/s, air to fuel {air_to_liquid}, {viscosity * 1e3} mPa s",
        expected=expected,
        got=1e6
        * plain_jet_drop_size_m(
            nozzle_diameter_m=0.5e-3,
            surface_tension_n_m=0.0275,
            air_density_kg_m3=1.2,
            velocity_m_s=velocity,
            air_to_liquid=air_to_liquid,
            fuel_density_kg_m3=840.0,
            fuel_viscosity_pa_s=viscosity,
        ),
        tolerance=0.02,
        unit="um",
        source="Rizk and Lefebvre (1984) as written in two independent published programs",
        how_seen="computed apart from that equation; the paper's own equation and data were not seen",
        note="proves the arithmetic, not the correlation: no measured spray stands behind this row",
    )


@pytest.mark.parametrize(("row", "density", "expected"), [("C103", 822.0, 8.0611), ("C104", 840.0, 8.2376)])
def test_vacuum_of_lift(check, row, density, expected) -> None:
    check(
        row,
        f"vacuum for each metre that fuel of {density:.0f} kg/m3 is lifted",
        expected=expected,
        got=still_vacuum_pa(1.0, density) / 1e3,
        tolerance=0.001,
        unit="kPa",
        source="density x 9.80665 m/s2",
        how_seen="computed by hand",
    )


def test_vacuum_of_lift_in_the_trade(check) -> None:
    check(
        "P34",
        "vacuum of a lift of 13 ft 9 in, oil of 40 API",
        expected=10.0,
        got=still_vacuum_pa(13.75 * 0.3048, 822.0) / INCH_OF_MERCURY_PA,
        tolerance=0.05,
        unit="inHg",
        source="Lift table of an oil pump's service manual, 1 inHg for each 16 in",
        how_seen="seen",
    )


def still_vacuum_pa(lift_m: float, density_kg_m3: float) -> float:
    return float(
        suction_vacuum_pa(
            lift_m=lift_m,
            fuel_density_kg_m3=density_kg_m3,
            kinematic_viscosity_m2_s=4e-6,
            volume_flow_m3_s=0.0,
            line_length_m=5.0,
            line_diameter_m=0.004,
            filter_resistance_pa_s_m3=1e9,
        )
    )


def test_motor_on_low_volts(check) -> None:
    check(
        "F_motor_speed",
        "speed of a fan motor at 10.5 V over that at 12.5 V, a tenth of the volts lost inside",
        expected=0.852569,
        got=motor_speed_ratio(voltage_ratio=10.5 / 12.5, load_ratio=1.0, drop_share=0.10),
        tolerance=0.00001,
        unit="-",
        source="V = k w + I R with torque as the square of speed, solved apart",
        how_seen="computed by root finding",
    )

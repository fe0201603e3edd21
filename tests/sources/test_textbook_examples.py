"""Worked examples of textbooks, as students transcribed them; the books' pages were not seen."""

from lightoff.physics.burn import air_ratio_from_co2, air_ratio_from_dry_o2, products
from lightoff.physics.fuel import Stoichiometry, stoichiometry_of

SEEN = "second-hand: a student's transcription of the worked example"
FOSSEE = "FOSSEE Python textbook companions"
OCTANE = stoichiometry_of(
    carbon_fraction=8 * 12.011 / 114.232, hydrogen_fraction=18 * 1.008 / 114.232, oxygen_fraction=0.0
)


def oil(carbon: float, hydrogen: float, oxygen: float = 0.0, sulphur: float = 0.0) -> Stoichiometry:
    return stoichiometry_of(
        carbon_fraction=carbon, hydrogen_fraction=hydrogen, oxygen_fraction=oxygen, sulphur_fraction=sulphur
    )


def test_octane_with_carbon_monoxide(check) -> None:
    """From CO2 and CO alone: the O2 of the row was remembered and is not used."""
    ratio = air_ratio_from_co2(OCTANE, co2_dry_fraction=0.1002, co_dry_fraction=0.0088)
    for row, what, expected, got, tolerance, unit in (
        (
            "P14",
            "air with octane, CO2 10.02 % and CO 0.88 % dry",
            19.76,
            ratio * OCTANE.air_kg_kg,
            0.1,
            "kg/kg",
        ),
        ("P15", "theoretical air of that reading", 131, 100 * ratio, 1, "%"),
    ):
        check(
            row,
            what,
            expected=expected,
            got=got,
            tolerance=tolerance,
            unit=unit,
            source=f"{FOSSEE}: Cengel and Boles, example 15-4",
            how_seen=SEEN,
        )


def test_wet_carbon_dioxide(check) -> None:
    check(
        "P18",
        "wet CO2 of an 86/14 oil at 20 % excess air",
        expected=10.98,
        got=100 * products(oil(0.86, 0.14), air_ratio=1.2).wet_fractions()["CO2"],
        tolerance=0.25,
        unit="%",
        source=f"{FOSSEE}: Rayner Joel, example 8.10",
        how_seen=SEEN,
        note="the book rounds air to 23 % of oxygen by mass",
    )


def test_fuel_oil_with_sulphur(check) -> None:
    s = oil(0.84, 0.10, 0.016, 0.032)
    ratio = air_ratio_from_dry_o2(s, o2_dry_fraction=0.01)
    check(
        "P20",
        "excess air of a sulphurous oil at 1 % of dry oxygen",
        expected=4.68,
        got=100 * (ratio - 1.0),
        tolerance=0.2,
        unit="%",
        source=f"{FOSSEE}: P. K. Nag, Power Plant Engineering, example 4.1",
        how_seen=SEEN,
    )
    check(
        "P19",
        "air supplied to that oil",
        expected=13.8,
        got=ratio * s.air_kg_kg,
        tolerance=0.1,
        unit="kg/kg",
        source=f"{FOSSEE}: P. K. Nag, Power Plant Engineering, example 4.1",
        how_seen=SEEN,
    )


def test_flue_volume_in_humid_air(check) -> None:
    s = oil(0.837, 0.127, 0.012, 0.007)
    water_per_air = 0.0132 * 28.966 / 18.015
    wet = products(s, air_ratio=1.3, water_per_dry_air=water_per_air).wet_mol_kg
    check(
        "P21",
        "flue gas of a kilogram of oil at 200 degC, 30 % excess, humid air",
        expected=26.26,
        got=(wet + 0.017 / 28.014e-3) * 8.314462618 * 473.15 / 101.3e3,
        tolerance=0.5,
        unit="m3",
        source=f"{FOSSEE}: P. K. Nag, Power Plant Engineering, example 4.5",
        how_seen=SEEN,
        note="the oil's 1.7 % of nitrogen is added here; our fuels have none",
    )


def test_excess_air_from_a_dry_analysis(check) -> None:
    """CO2 11.4, O2 4.2: the book finds carbon to hydrogen of 5; with that fuel its excess air returns."""
    s = oil(5 / 6, 1 / 6)
    check(
        "P24",
        "excess air of a fuel of C:H 5 at 4.2 % of dry oxygen",
        expected=23.03,
        got=100 * (air_ratio_from_dry_o2(s, o2_dry_fraction=0.042) - 1.0),
        tolerance=0.4,
        unit="%",
        source=f"{FOSSEE}: Bhatt and Thakore, Stoichiometry, example 7.7",
        how_seen=SEEN,
        note="the book takes air as 21 % of oxygen",
    )
    check(
        "P25",
        "dry CO2 of that fuel at 4.2 % of dry oxygen",
        expected=11.4,
        got=100
        * products(s, air_ratio=air_ratio_from_dry_o2(s, o2_dry_fraction=0.042)).dry_fractions()["CO2"],
        tolerance=0.1,
        unit="%",
        source=f"{FOSSEE}: Bhatt and Thakore, Stoichiometry, example 7.7 (C:H 5.0 found from it)",
        how_seen=SEEN,
        note="the book takes air as 21 % of oxygen",
    )


def test_petrol_with_carbon_monoxide(check) -> None:
    s = oil(0.85, 0.15)
    ratio = air_ratio_from_co2(s, co2_dry_fraction=0.115, co_dry_fraction=0.012)
    check(
        "P26",
        "air with petrol, CO2 11.5 % and CO 1.2 % dry, beside the book's nitrogen balance",
        expected=16.95,
        got=ratio * s.air_kg_kg,
        tolerance=0.5,
        unit="kg/kg",
        source=f"{FOSSEE}: R. K. Rajput, Engineering Thermodynamics, example 11.7",
        how_seen=SEEN,
        note="the analysis adds up to 99.6 % and the book goes by nitrogen, so only a near answer is due",
    )


def test_wet_gas_of_heptane(check) -> None:
    mass = 7 * 12.011 + 16 * 1.008
    wet = products(oil(7 * 12.011 / mass, 16 * 1.008 / mass), air_ratio=1.5).wet_fractions()
    for row, species, expected in (("P27", "O2", 6.66), ("P27-CO2", "CO2", 8.48), ("P27-H2O", "H2O", 9.69)):
        check(
            row,
            f"wet {species} of heptane at 50 % excess air",
            expected=expected,
            got=100 * wet[species],
            tolerance=0.05,
            unit="%",
            source=f"{FOSSEE}: Mathur and Sharma, example 8.5",
            how_seen=SEEN,
            note="the book takes air as 21 % of oxygen",
        )

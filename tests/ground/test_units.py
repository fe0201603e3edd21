"""Units: exact, there and back, and judged by pint."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker

# How pint writes our symbols; those that pint lacks are counts or shares, which have no unit to judge.
PINT = {
    "degC": "degC",
    "degF": "degF",
    "K": "kelvin",
    "K diff": "kelvin",
    "degF diff": "delta_degF",
    "Pa": "pascal",
    "hPa": "hectopascal",
    "mbar": "millibar",
    "kPa": "kilopascal",
    "bar": "bar",
    "psi": "psi",
    "inHg": "inHg",
    "inH2O": "inH2O",
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "ft": "foot",
    "in": "inch",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "d": "day",
    "m2": "meter**2",
    "m3": "meter**3",
    "mL": "milliliter",
    "L": "liter",
    "US fl oz": "fluid_ounce",
    "US gal": "gallon",
    "kg/s": "kilogram/second",
    "kg/h": "kilogram/hour",
    "lb/h": "pound/hour",
    "m3/s": "meter**3/second",
    "L/h": "liter/hour",
    "m3/h": "meter**3/hour",
    "L/min": "liter/minute",
    "US gal/h": "gallon/hour",
    "US gal/min": "gallon/minute",
    "W": "watt",
    "kW": "kilowatt",
    "Btu/h": "Btu/hour",
    "V": "volt",
    "mV": "millivolt",
    "A": "ampere",
    "mA": "milliampere",
    "ohm": "ohm",
    "kohm": "kiloohm",
    "K/min": "kelvin/minute",
    "degF/min": "delta_degF/minute",
    "kg/m3": "kilogram/meter**3",
    "MJ/kg": "megajoule/kilogram",
    "rpm": "revolution/minute",
}
WITHOUT_PINT = {
    "", "%", "ppm", "mg/m3 CO", "share", "% full", "% of heat", "% RH", "% battery", "smoke no.", "count",
}  # fmt: skip


@pytest.fixture(scope="module")
def judge() -> pint.UnitRegistry:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def test_every_unit_is_judged_or_named_as_having_no_judge() -> None:
    assert set(units.UNITS) == set(PINT) | WITHOUT_PINT


@pytest.mark.parametrize("symbol", sorted(PINT))
def test_pint_agrees(symbol: str, judge: pint.UnitRegistry) -> None:
    expected = judge.Quantity(37.5, PINT[symbol]).to_base_units()
    if symbol == "rpm":  # pint counts radians, we count turns
        expected = judge.Quantity(37.5 / 60, "1/second")
    # Our Btu/h, inHg and inH2O carry the digits of NIST SP 811, appendix B; pint's differ in the seventh
    # digit (Btu) and by the temperature of the liquid column.
    tolerance = {"Btu/h": 1e-6, "inHg": 3e-5, "inH2O": 3e-5}.get(symbol, 1e-9)
    assert units.to_si(37.5, symbol) == pytest.approx(expected.magnitude, rel=tolerance)


@given(
    value=st.decimals(min_value=-1000, max_value=100_000, places=4, allow_nan=False),
    symbol=st.sampled_from(sorted(units.UNITS)),
)
def test_there_and_back(value: Decimal, symbol: str) -> None:
    unit = units.unit(symbol)
    exact = units.exact_si(value, symbol)
    assert exact / unit.factor - unit.zero == Fraction(value)
    back = units.from_si(units.to_si(value, symbol), symbol)
    assert back == pytest.approx(float(value), rel=1e-9, abs=1e-6)


def test_a_ppm_of_carbon_monoxide_is_1_25_mg_m3() -> None:
    assert units.exact_si(Decimal("20.95"), "%") == Fraction(2095, 10000)
    assert units.exact_si(Decimal("1.25"), "mg/m3 CO") == units.exact_si(Decimal("1"), "ppm")


def test_a_width_has_no_zero() -> None:
    assert units.width_to_si(9, "degF") == pytest.approx(5.0)
    assert units.width_from_si(5.0, "degC") == pytest.approx(5.0)


def test_unknown_unit_says_what_is_possible() -> None:
    with pytest.raises(Refusal) as caught:
        units.unit("furlong")
    said = Speaker().say(caught.value.message)
    assert said.startswith("“furlong” is not a unit this program knows. Write one of: %, ppm")


def test_every_dimension_shows_units_of_its_family() -> None:
    for dimension in units.DIMENSIONS.values():
        for symbol in (dimension.metric, dimension.us):
            assert symbol in units.units_of(dimension.key), dimension.key


@given(value=st.floats(allow_nan=False, allow_infinity=False), symbol=st.sampled_from(sorted(units.UNITS)))
def test_a_number_in_a_people_s_unit_is_the_exact_one_rounded_once(value: float, symbol: str) -> None:
    each = units.unit(symbol)
    exact = Fraction(value) / each.factor - each.zero
    try:
        rounded = float(exact)
    except OverflowError:
        with pytest.raises(OverflowError):
            units.from_si(value, symbol)
    else:
        assert units.from_si(value, symbol) == rounded

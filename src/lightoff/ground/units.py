"""The only factors between people's units and SI.

A unit is exact: its factor is a fraction, so that a limit met in one unit is met in every other.
Basis of the factors: bipm_si_2019 (SI), nist_sp811_2008 (Appendix B, inch-pound units).
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.ground.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A people's unit: SI value = (written + zero) * factor. `decimals` is how finely it is shown."""

    symbol: str
    dimension: str
    factor: Fraction
    zero: Fraction = Fraction(0)
    decimals: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A kind of quantity, its SI unit, and the unit that each system shows it in."""

    key: str
    si: str
    metric: str
    us: str


def _unit(symbol: str, dimension: str, factor: str, decimals: int, zero: str = "0") -> Unit:
    return Unit(
        symbol=symbol, dimension=dimension, factor=Fraction(factor), zero=Fraction(zero), decimals=decimals
    )


# Carbon monoxide in mg/m3 is taken at 0 degC and 101.325 kPa, 1 ppm = 1.25 mg/m3 (docs: verdict, rule 9).
_ALL = (
    _unit("%", "gas_fraction", "1/100", 1),
    _unit("ppm", "gas_fraction", "1/1000000", 0),
    _unit("mg/m3 CO", "trace_gas_fraction", "1/1250000", 0),
    _unit("share", "fraction", "1", 3),
    _unit("% full", "fraction", "1/100", 0),
    _unit("% of heat", "fraction", "1/100", 1),
    _unit("% RH", "fraction", "1/100", 0),
    _unit("% battery", "fraction", "1/100", 0),
    _unit("", "ratio", "1", 2),
    _unit("degC", "temperature", "1", 0, "273.15"),
    _unit("degF", "temperature", "5/9", 0, "459.67"),
    _unit("K", "temperature", "1", 0),
    _unit("K diff", "temperature_difference", "1", 1),
    _unit("degF diff", "temperature_difference", "5/9", 1),
    _unit("Pa", "pressure", "1", 0),
    _unit("hPa", "pressure", "100", 0),
    _unit("mbar", "pressure", "100", 1),
    _unit("kPa", "pressure", "1000", 1),
    _unit("bar", "pressure", "100000", 2),
    _unit("psi", "pressure", "6894.757293168", 1),
    _unit("inHg", "pressure", "3386.389", 1),
    _unit("inH2O", "pressure", "249.08891", 2),
    _unit("m", "length", "1", 0),
    _unit("cm", "length", "1/100", 0),
    _unit("mm", "length", "1/1000", 1),
    _unit("ft", "length", "0.3048", 0),
    _unit("in", "length", "0.0254", 1),
    _unit("s", "time", "1", 0),
    _unit("min", "time", "60", 0),
    _unit("h", "time", "3600", 0),
    _unit("d", "time", "86400", 0),
    _unit("m2", "area", "1", 2),
    _unit("m3", "volume", "1", 4),
    _unit("mL", "volume", "1/1000000", 0),
    _unit("L", "volume", "1/1000", 2),
    _unit("US fl oz", "volume", "0.0000295735295625", 1),
    _unit("US gal", "volume", "0.003785411784", 2),
    _unit("kg/s", "mass_flow", "1", 6),
    _unit("kg/h", "mass_flow", "1/3600", 2),
    _unit("lb/h", "mass_flow", "45359237/360000000000", 2),
    _unit("m3/s", "volume_flow", "1", 6),
    _unit("L/h", "volume_flow", "1/3600000", 2),
    _unit("m3/h", "volume_flow", "1/3600", 1),
    _unit("L/min", "volume_flow", "1/60000", 1),
    _unit("US gal/h", "volume_flow", "3785411784/3600000000000000", 3),
    _unit("US gal/min", "volume_flow", "3785411784/60000000000000", 2),
    _unit("W", "power", "1", 0),
    _unit("kW", "power", "1000", 1),
    _unit("Btu/h", "power", "0.29307107", 0),
    _unit("V", "voltage", "1", 1),
    _unit("mV", "voltage", "1/1000", 0),
    _unit("A", "current", "1", 1),
    _unit("mA", "current", "1/1000", 0),
    _unit("ohm", "resistance", "1", 2),
    _unit("kohm", "resistance", "1000", 2),
    _unit("smoke no.", "smoke_number", "1", 1),
    _unit("K/min", "heating_rate", "1/60", 1),
    _unit("degF/min", "heating_rate", "5/540", 1),
    _unit("count", "count", "1", 0),
    _unit("kg/m3", "density", "1", 1),
    _unit("MJ/kg", "specific_energy", "1000000", 2),
    _unit("rpm", "rotational_speed", "1/60", 0),
)

UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _ALL}


def _dimension(key: str, si: str, metric: str, us: str) -> Dimension:
    return Dimension(key=key, si=si, metric=metric, us=us)


DIMENSIONS: dict[str, Dimension] = {
    each.key: each
    for each in (
        _dimension("gas_fraction", "1", "%", "%"),
        _dimension("trace_gas_fraction", "1", "ppm", "ppm"),
        _dimension("fraction", "1", "% of heat", "% of heat"),
        _dimension("ratio", "1", "", ""),
        _dimension("temperature", "K", "degC", "degF"),
        _dimension("temperature_difference", "K", "K diff", "degF diff"),
        _dimension("pressure", "Pa", "kPa", "psi"),
        _dimension("length", "m", "m", "ft"),
        _dimension("area", "m2", "m2", "m2"),
        _dimension("time", "s", "s", "s"),
        _dimension("minutes", "s", "min", "min"),
        _dimension("volume", "m3", "mL", "US fl oz"),
        _dimension("mass_flow", "kg/s", "kg/h", "lb/h"),
        _dimension("volume_flow", "m3/s", "L/h", "US gal/h"),
        _dimension("power", "W", "kW", "Btu/h"),
        _dimension("voltage", "V", "V", "V"),
        _dimension("current", "A", "A", "A"),
        _dimension("resistance", "ohm", "ohm", "ohm"),
        _dimension("smoke_number", "1", "smoke no.", "smoke no."),
        _dimension("heating_rate", "K/s", "K/min", "degF/min"),
        _dimension("count", "1", "count", "count"),
        _dimension("density", "kg/m3", "kg/m3", "kg/m3"),
        _dimension("specific_energy", "J/kg", "MJ/kg", "MJ/kg"),
        _dimension("rotational_speed", "1/s", "rpm", "rpm"),
    )
}
# One dimension in two habits: traces are shown in ppm and may be mg/m3, long times are shown in minutes.
_SAME = {"trace_gas_fraction": ("gas_fraction", "trace_gas_fraction"), "minutes": ("time",)}


def unit(symbol: str) -> Unit:
    """The unit written so. Raises Refusal for a unit that is not in the table."""
    try:
        return UNITS[symbol]
    except KeyError:
        possible = ", ".join(filter(None, UNITS))
        raise Refusal(message("error.unit_unknown", unit=symbol, possible=possible)) from None


@cache
def units_of(dimension: str) -> tuple[str, ...]:
    """The units a reading of this dimension may be written in."""
    family = _SAME.get(dimension, (dimension,))
    return tuple(each.symbol for each in _ALL if each.dimension in family)


@lru_cache(maxsize=4096)
def exact_si(value: Decimal, symbol: str) -> Fraction:
    """The exact SI value of a number as written; what a verdict compares."""
    each = unit(symbol)
    return (Fraction(value) + each.zero) * each.factor


@lru_cache(maxsize=16384)
def to_si(value: float | Decimal, symbol: str) -> float:
    """The SI value of a number in a people's unit."""
    each = unit(symbol)
    return float((Fraction(value) + each.zero) * each.factor)


@lru_cache(maxsize=16384)
def from_si(value: float, symbol: str) -> float:
    """A SI value in a people's unit."""
    each = unit(symbol)
    if not math.isfinite(value):
        return value
    # Exact, rounded once, as by fractions; in whole numbers it takes a fifth of the time.
    over, under = value.as_integer_ratio()
    factor, zero = each.factor, each.zero
    whole = under * factor.numerator * zero.denominator
    return (over * factor.denominator * zero.denominator - zero.numerator * under * factor.numerator) / whole


def width_to_si(width: float | Decimal, symbol: str) -> float:
    """A difference or half width in SI: the zero of the scale does not enter."""
    return float(Fraction(width) * unit(symbol).factor)


@lru_cache(maxsize=16384)
def width_from_si(width: float, symbol: str) -> float:
    """A difference or half width in a people's unit."""
    return float(Fraction(width) / unit(symbol).factor)

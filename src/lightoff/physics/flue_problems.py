"""Which flue readings cannot be, and the sentence for each."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.errors import Declined, LightoffError, Refusal, Refusals
from lightoff.ground.message import Amount, Message, message
from lightoff.ground.values import dataclass
from lightoff.physics import air, burn
from lightoff.physics.fuel import Fuel
from lightoff.physics.uncertain import Array, Real

_AIR_O2 = air.OXYGEN_IN_DRY_AIR_FRACTION
# Intake from the coldest inhabited place to an engine room; flue up to a glowing pipe. Common practice.
_INTAKE_K, _STACK_K = (213.15, 353.15), (213.15, 1473.15)
_PRESSURE_PA = (30e3, 110e3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """The readings of one analysis as arrays of one shape, None where not given."""

    o2_dry_fraction: Array | None
    o2_wet_fraction: Array | None
    co2_dry_fraction: Array | None
    co_dry_fraction: Array | None
    stack_temperature_k: Array | None
    combustion_air_temperature_k: Array | None
    relative_humidity_fraction: Array | None
    pressure_pa: Array | None

    @property
    def holds_oxygen(self) -> bool:
        """Whether oxygen was read, dry or wet."""
        return self.o2_dry_fraction is not None or self.o2_wet_fraction is not None


_DIMENSIONS = {
    "o2_dry_fraction": "gas_fraction",
    "o2_wet_fraction": "gas_fraction",
    "co2_dry_fraction": "gas_fraction",
    "co_dry_fraction": "trace_gas_fraction",
    "stack_temperature_k": "temperature",
    "combustion_air_temperature_k": "temperature",
    "relative_humidity_fraction": "fraction",
    "pressure_pa": "pressure",
}


def check(fuel: Fuel, readings: Readings, *, co2_half_width: Real, extrapolate: bool) -> None:
    """Raises what `problems` finds: a Refusal, Refusals if several, or Declined if nothing is worse."""
    found = problems(fuel, readings, co2_half_width=co2_half_width)
    refusals = tuple(each for each in found if isinstance(each, Refusal))
    if refusals:
        raise refusals[0] if len(refusals) == 1 else Refusals(refusals)
    declined = [each for each in found if isinstance(each, Declined)]
    if declined and not extrapolate:
        raise declined[0]


def problems(fuel: Fuel, readings: Readings, *, co2_half_width: Real = 0.0) -> list[LightoffError]:
    """Everything that is wrong with the readings, at once; for arrays the first row and how many."""
    lacking = _lacking(readings)
    if lacking:
        return [lacking]
    found: list[LightoffError] = []
    for field in fields(readings):
        value = getattr(readings, field.name)
        if value is not None:
            found.extend(_range_problem(field.name, value))
    if not found:
        found.extend(_contradictions(fuel, readings, np.asarray(co2_half_width)))
    return found


def _lacking(r: Readings) -> Refusal | None:
    if r.o2_dry_fraction is not None and r.o2_wet_fraction is not None:
        return Refusal(message("physics.o2_dry_or_wet"), field="o2_wet_fraction")
    if r.o2_dry_fraction is None and r.o2_wet_fraction is None and r.co2_dry_fraction is None:
        return Refusal(message("physics.needs_o2_or_co2"), field="o2_dry_fraction")
    return None


def _range_problem(name: str, value: Array) -> list[LightoffError]:
    bad = _outside(name, value)
    if not np.any(bad):
        return []
    low, high = _possible(name)
    dimension = _DIMENSIONS[name]
    first = float(np.atleast_1d(value)[np.argmax(np.atleast_1d(bad))])
    if not np.isfinite(first):
        return [_refusal(message("physics.not_a_number", what=f"@flue_input.{name}"), bad, name)]
    said = message(
        f"physics.{name}",
        value=Amount(value=first, dimension=dimension),
        low=Amount(value=low, dimension=dimension),
        high=Amount(value=high, dimension=dimension),
    )
    return [_refusal(said, bad, name)]


def _possible(name: str) -> tuple[float, float]:
    return {
        "o2_dry_fraction": (0.0, _AIR_O2),
        "o2_wet_fraction": (0.0, _AIR_O2),
        "co2_dry_fraction": (0.0, 0.25),
        "co_dry_fraction": (0.0, 0.15),
        "stack_temperature_k": _STACK_K,
        "combustion_air_temperature_k": _INTAKE_K,
        "relative_humidity_fraction": (0.0, 1.0),
        "pressure_pa": _PRESSURE_PA,
    }[name]


def _outside(name: str, value: Array) -> NDArray[np.bool_]:
    low, high = _possible(name)
    inside = (value >= low) & (value <= high)
    if name.startswith("o2"):
        inside = inside & (value < high)
    if name.startswith("co2"):
        inside = inside & (value > low)
    return np.asarray(~inside)


def _refusal(said: Message, bad: NDArray[np.bool_], field: str) -> Refusal:
    return Refusal(marked(said, bad), field=field)


def marked(said: Message, rows: NDArray[np.bool_]) -> Message:
    """The sentence itself for one reading; for an array with the first row it is true of, and how many."""
    if rows.ndim == 0:
        return said
    first = int(np.argmax(rows)) + 1
    return message("physics.in_rows", said=said, row=first, count=int(np.count_nonzero(rows)))


def _contradictions(fuel: Fuel, r: Readings, co2_half_width: Array) -> list[LightoffError]:
    found: list[LightoffError] = []
    largest = fuel.stoichiometry.largest_dry_co2_fraction
    co = np.zeros(()) if r.co_dry_fraction is None else r.co_dry_fraction
    if r.co2_dry_fraction is not None:
        above = np.asarray(r.co2_dry_fraction > largest + co2_half_width)
        if r.o2_dry_fraction is None and r.o2_wet_fraction is None:
            above = above | (r.co2_dry_fraction + co > largest)
        if np.any(above):
            said = message(
                "physics.co2_above_largest",
                value=_first(r.co2_dry_fraction, above, "gas_fraction"),
                high=Amount(value=largest, dimension="gas_fraction"),
                fuel=fuel.name,
            )
            found.append(_refusal(said, above, "co2_dry_fraction"))
    for name, o2 in (("o2_dry_fraction", r.o2_dry_fraction), ("o2_wet_fraction", r.o2_wet_fraction)):
        if o2 is not None:
            found.extend(_oxygen_problems(name, o2, co))
    if r.co_dry_fraction is not None and np.any(r.co_dry_fraction > burn.HIGHEST_CO_FRACTION):
        beyond = np.asarray(r.co_dry_fraction > burn.HIGHEST_CO_FRACTION)
        said = message("physics.co_too_much", value=_first(r.co_dry_fraction, beyond, "gas_fraction"))
        found.append(Declined(marked(said, beyond)))
    if r.stack_temperature_k is not None and r.combustion_air_temperature_k is not None:
        colder = np.asarray(r.stack_temperature_k < r.combustion_air_temperature_k)
        if np.any(colder):
            said = message(
                "physics.stack_colder",
                value=_first(r.stack_temperature_k, colder, "temperature"),
                intake=_first(r.combustion_air_temperature_k, colder, "temperature"),
            )
            found.append(_refusal(said, colder, "stack_temperature_k"))
    return found


def _oxygen_problems(name: str, o2: Array, co: Array) -> list[LightoffError]:
    found: list[LightoffError] = []
    short = np.asarray(o2 < 0.5 * co)
    if np.any(short):
        said = message(
            "physics.too_little_air",
            value=_first(o2, short, "gas_fraction"),
            co=_first(co, short, "gas_fraction"),
        )
        found.append(_refusal(said, short, name))
    airy = np.asarray(o2 > burn.HIGHEST_O2_FRACTION)
    if np.any(airy):
        said = message(
            "physics.o2_mostly_air",
            value=_first(o2, airy, "gas_fraction"),
            high=Amount(value=burn.HIGHEST_O2_FRACTION, dimension="gas_fraction"),
        )
        found.append(Declined(marked(said, airy)))
    return found


def _first(value: Array, rows: NDArray[np.bool_], dimension: str) -> Amount:
    whole = np.broadcast_to(value, rows.shape)
    return Amount(value=float(np.atleast_1d(whole)[np.argmax(np.atleast_1d(rows))]), dimension=dimension)

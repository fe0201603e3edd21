"""Which values of a fuel's data sheet cannot be, and the sentence for each."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Amount, message

if TYPE_CHECKING:
    from lightoff.physics.fuel import Fuel, ViscosityPoint

# What a liquid heating or engine fuel can be; outside it a sheet was misread. Common practice, no source.
_POSSIBLE: dict[str, tuple[float, float, str]] = {
    "carbon_fraction": (0.5, 0.95, "fraction"),
    "hydrogen_fraction": (0.05, 0.20, "fraction"),
    "oxygen_fraction": (0.0, 0.40, "fraction"),
    "sulphur_fraction": (0.0, 0.05, "fraction"),
    "moisture_fraction": (0.0, 0.05, "fraction"),
    "density_15c_kg_m3": (650.0, 1000.0, "density"),
    "heating_value_j_kg": (20e6, 52e6, "specific_energy"),
}
# Largest gap of the heating value from that of the atoms; the correlation errs by some 4 %.
_HEAT_GAP_FRACTION = 0.08
# Largest gap of the mass shares from one that counts as rounding on the sheet.
_SUM_GAP = 0.002


def faults_of(fuel: Fuel) -> list[Refusal]:
    """Everything on the sheet that cannot be, at once."""
    found: list[Refusal] = []
    for name, (low, high, dimension) in _POSSIBLE.items():
        entry = getattr(fuel, name)
        if not low <= entry.value <= high:
            found.append(
                Refusal(
                    message(
                        "physics.fuel_value_range",
                        what=f"@fuel_value.{name}",
                        value=Amount(value=entry.value, dimension=dimension),
                        low=Amount(value=low, dimension=dimension),
                        high=Amount(value=high, dimension=dimension),
                    ),
                    field=name,
                )
            )
        elif not 0.0 <= entry.half_width < math.inf:
            found.append(Refusal(message("physics.fuel_half_width", what=f"@fuel_value.{name}"), field=name))
    most = fuel.sulphur_most_fraction
    low, high, dimension = _POSSIBLE["sulphur_fraction"]
    if most is not None and not low <= most.value <= high:
        found.append(
            Refusal(
                message(
                    "physics.fuel_value_range",
                    what="@fuel_value.sulphur_most_fraction",
                    value=Amount(value=most.value, dimension=dimension),
                    low=Amount(value=low, dimension=dimension),
                    high=Amount(value=high, dimension=dimension),
                ),
                field="sulphur_most_fraction",
            )
        )
    total = _sum_of_shares(fuel)
    if not found and abs(total - 1.0) > _SUM_GAP:
        found.append(
            Refusal(
                message("physics.fuel_shares_sum", value=Amount(value=total, dimension="fraction")),
                field="carbon_fraction",
            )
        )
    if fuel.viscosity_points is not None:
        found.extend(_viscosity_faults(*fuel.viscosity_points))
    return found


def _sum_of_shares(fuel: Fuel) -> float:
    return (
        fuel.carbon_fraction.value
        + fuel.hydrogen_fraction.value
        + fuel.oxygen_fraction.value
        + fuel.sulphur_fraction.value
        + fuel.moisture_fraction.value
    )


def _viscosity_faults(first: ViscosityPoint, second: ViscosityPoint) -> list[Refusal]:
    cold, warm = sorted((first, second), key=lambda point: point.temperature_k)
    falls = (
        0.0 < warm.viscosity_m2_s < cold.viscosity_m2_s < 1e-3 and warm.temperature_k > cold.temperature_k > 0
    )
    return [] if falls else [Refusal(message("physics.viscosity_points"), field="viscosity_points")]


def heat_from_composition_j_kg(fuel: Fuel) -> float:
    """Gross heating value expected from the atoms alone, within some 4 %: an alarm, not a value.

    Basis: channiwala_2002 (0.3491 C + 1.1783 H + 0.1005 S - 0.1034 O per cent, MJ/kg).
    """
    return 1e6 * (
        34.91 * fuel.carbon_fraction.value
        + 117.83 * fuel.hydrogen_fraction.value
        + 10.05 * fuel.sulphur_fraction.value
        - 10.34 * fuel.oxygen_fraction.value
    )


def heat_fault(fuel: Fuel) -> Refusal | None:
    """The heating value held against the composition: a refusal where they are 8 % apart or more."""
    expected = heat_from_composition_j_kg(fuel)
    held = fuel.gross_heating_value_j_kg
    if abs(held / expected - 1.0) <= _HEAT_GAP_FRACTION:
        return None
    return Refusal(
        message(
            "physics.fuel_heat_contradicts",
            value=Amount(value=held, dimension="specific_energy"),
            expected=Amount(value=expected, dimension="specific_energy"),
        ),
        field="heating_value_j_kg",
    )

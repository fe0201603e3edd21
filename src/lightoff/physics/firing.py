"""How much the burner is given, and how much of it the coolant gets."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.message import Amount, message
from lightoff.ground.values import dataclass
from lightoff.physics.fuel import FUEL_REFERENCE_TEMPERATURE_K, Fuel, density_kg_m3
from lightoff.physics.gas import MOLAR_MASS_KG_MOL, WATER_LATENT_HEAT_J_MOL
from lightoff.physics.uncertain import Array, Real, Uncertain, propagate


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringRate:
    """What the burner takes: fuel by mass and volume, and the heat in it."""

    fuel_flow_kg_s: Uncertain
    fuel_flow_m3_s: Uncertain
    net_input_w: Uncertain
    gross_input_w: Uncertain


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatToCoolant:
    """What the coolant takes, and its share of the fuel's heat where the firing rate was given."""

    heat_w: Uncertain
    efficiency_net_fraction: Uncertain | None
    efficiency_gross_fraction: Uncertain | None


def firing_rate(
    fuel: Fuel,
    *,
    volume_m3: Real,
    time_s: Real,
    fuel_temperature_k: Real = FUEL_REFERENCE_TEMPERATURE_K,
    volume_half_width_m3: Real = 0.0,
    time_half_width_s: Real = 0.0,
    fuel_temperature_half_width_k: Real = 0.0,
) -> FiringRate:
    """Fuel flow and heat input from a measured volume, the time it took, and the fuel's temperature.

    Parameters: floats or arrays; half widths are expanded uncertainties (coverage 2). That of the fuel's
    density and heat between batches counts too. Raises: Refusal for a volume or time not above zero.
    Basis: astm_d1250 (density at the fuel's temperature).
    """
    _positive(volume_m3=(volume_m3, "volume"), time_s=(time_s, "time"))
    values = _arrays(volume=volume_m3, time=time_s, temperature=fuel_temperature_k)
    widths = _arrays(
        volume=volume_half_width_m3, time=time_half_width_s, temperature=fuel_temperature_half_width_k
    )
    held_gross = fuel.heating_value_basis == "gross"

    def evaluate(v: Mapping[str, Array]) -> dict[str, Array]:
        # The batch's density shifts the whole curve in proportion.
        rho = density_kg_m3(fuel, v["temperature"]) * (v["density"] / fuel.density_15c_kg_m3.value)
        flow = v["volume"] / v["time"]
        extra = v["hydrogen"] - fuel.hydrogen_fraction.value
        latent = fuel.latent_heat_j_kg + extra * _LATENT_PER_HYDROGEN_J_KG
        gross = v["heat"] if held_gross else v["heat"] + latent
        mass = rho * flow
        return {"mass": mass, "volume": flow, "net": mass * (gross - latent), "gross": mass * gross}

    for name, entry in (
        ("density", fuel.density_15c_kg_m3),
        ("heat", fuel.heating_value_j_kg),
        ("hydrogen", fuel.hydrogen_fraction),
    ):
        values[name], widths[name] = np.asarray(entry.value), np.asarray(entry.half_width)
    figures = propagate(evaluate, values, _standard(widths))
    return FiringRate(
        fuel_flow_kg_s=figures["mass"],
        fuel_flow_m3_s=figures["volume"],
        net_input_w=figures["net"],
        gross_input_w=figures["gross"],
    )


# Heat in the vapour from a kilogram of hydrogen: half a mole of water for a mole of hydrogen atoms.
_LATENT_PER_HYDROGEN_J_KG = WATER_LATENT_HEAT_J_MOL / (2 * MOLAR_MASS_KG_MOL["H"])


def heat_to_coolant(
    *,
    coolant_flow_m3_s: Real,
    coolant_density_kg_m3: Real,
    coolant_heat_capacity_j_kg_k: Real,
    supply_temperature_k: Real,
    return_temperature_k: Real,
    flow_half_width_m3_s: Real = 0.0,
    heat_capacity_half_width_j_kg_k: Real = 0.0,
    delta_temperature_half_width_k: Real = 0.0,
    rate: FiringRate | None = None,
) -> HeatToCoolant:
    """Heat that the coolant carries from the heater, and the heater's efficiency by it.

    Parameters: floats or arrays; density where the flow is metered, heat capacity at the mean
    temperature; half widths are expanded uncertainties (coverage 2), that of the temperature difference
    as a whole, because two sensors of one kind share part of their error.
    Raises: Refusal for a flow not above zero or a supply colder than the return.
    """
    _positive(
        coolant_flow_m3_s=(coolant_flow_m3_s, "volume_flow"),
        coolant_density_kg_m3=(coolant_density_kg_m3, "density"),
    )
    difference = np.asarray(supply_temperature_k, dtype=np.float64) - return_temperature_k
    if np.any(~(difference >= 0.0)):
        worst = float(np.min(difference))
        raise Refusal(
            message("physics.supply_colder", value=Amount(value=-worst, dimension="temperature_difference")),
            field="coolant_temperature_supply",
        )
    values = _arrays(
        flow=coolant_flow_m3_s,
        density=coolant_density_kg_m3,
        capacity=coolant_heat_capacity_j_kg_k,
        difference=difference,
    )
    widths = _arrays(
        flow=flow_half_width_m3_s,
        capacity=heat_capacity_half_width_j_kg_k,
        difference=delta_temperature_half_width_k,
    )
    standard = _standard(widths)
    if rate is not None:
        for name, figure in (("net", rate.net_input_w), ("gross", rate.gross_input_w)):
            values[name] = np.asarray(figure.value)
            standard[name] = np.asarray(figure.standard_uncertainty)

    def evaluate(v: Mapping[str, Array]) -> dict[str, Array]:
        heat = v["flow"] * v["density"] * v["capacity"] * v["difference"]
        return {"heat": heat} | {name: heat / v[name] for name in ("net", "gross") if name in v}

    figures = propagate(evaluate, values, standard)
    return HeatToCoolant(
        heat_w=figures["heat"],
        efficiency_net_fraction=figures.get("net"),
        efficiency_gross_fraction=figures.get("gross"),
    )


def _arrays(**numbers: Real) -> dict[str, Array]:
    return {name: np.asarray(number, dtype=np.float64) for name, number in numbers.items()}


def _standard(half_widths: Mapping[str, Array]) -> dict[str, Array]:
    return {name: width / 2.0 for name, width in half_widths.items()}


def _positive(**numbers: tuple[Real, str]) -> None:
    found = []
    for name, (number, dimension) in numbers.items():
        value = np.atleast_1d(np.asarray(number, dtype=np.float64))
        bad = ~((value > 0.0) & np.isfinite(value))
        if np.any(bad):
            said = message(
                "physics.not_above_zero",
                what=f"@flue_input.{name}",
                value=Amount(value=float(value[np.argmax(bad)]), dimension=dimension),
            )
            found.append(Refusal(said, field=name))
    if found:
        raise found[0] if len(found) == 1 else Refusals(tuple(found))

"""How much the burner is given, beside its sheet, and how much of it the coolant gets."""

from __future__ import annotations

import math
from dataclasses import replace

from lightoff.ground.errors import Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, message
from lightoff.judging.assessment import Figure
from lightoff.judging.burn import Burn
from lightoff.judging.practice import COOLANT_HEAT_J_M3K, Practice, judged_ratio, ratios
from lightoff.judging.view import STAGES, Read, View
from lightoff.physics import firing
from lightoff.physics.firing import FiringRate
from lightoff.physics.fuel import FUEL_REFERENCE_TEMPERATURE_K
from lightoff.physics.uncertain import Uncertain
from lightoff.terms.visit import Stage

# Fuel whose temperature nobody read may be this far from 15 degC. Basis: common practice, no source.
UNREAD_FUEL_HALF_WIDTH_K = 25.0


def firing_rate(view: View, burned: tuple[Burn, ...]) -> Practice:
    """Fuel burned by a timed volume, the heat in it, and what became of it."""
    figures: list[Figure] = []
    last = Practice()
    for stage in STAGES:
        volume, time = view.number("fuel_volume", stage), view.number("fuel_time", stage)
        if volume is None or time is None or view.fuel is None:
            continue
        try:
            rate = _rate(view, volume, time, view.number("fuel_temperature", stage))
        except Refusal as error:
            last = Practice(sentences=(error.message,))
            continue
        ids = (volume.reading.id, time.reading.id)
        figures.extend(_figures(view, stage, rate, ids))
        figures.extend(_heat(view, stage, rate, burned, ids))
        last = _against_sheet(view, rate, ids)
    return Practice(figures=tuple(figures), sentences=last.sentences, gates=last.gates)


def _rate(view: View, volume: Read, time: Read, temperature: Read | None) -> FiringRate:
    assert view.fuel is not None
    return firing.firing_rate(
        view.fuel,
        volume_m3=volume.value,
        time_s=time.value,
        fuel_temperature_k=temperature.value if temperature else FUEL_REFERENCE_TEMPERATURE_K,
        volume_half_width_m3=volume.half_width,
        time_half_width_s=time.half_width,
        fuel_temperature_half_width_k=temperature.half_width if temperature else UNREAD_FUEL_HALF_WIDTH_K,
    )


def _figures(view: View, stage: Stage, rate: FiringRate, ids: tuple[str, ...]) -> list[Figure]:
    rated = view.sheet.fuel_flow_kg_s
    low, high = ratios(view, "fuel_flow_ratio")
    by_mass = Estimate(value=rated, low=min(rated, rated * low), high=max(rated, rated * high), coverage=0.95)
    by_volume = by_mass.scaled(float(rate.fuel_flow_m3_s.value) / float(rate.fuel_flow_kg_s.value))
    flow = _figure("fuel_flow", rate.fuel_flow_kg_s, "mass_flow", stage, ids)
    volume_flow = _figure("fuel_volume_flow", rate.fuel_flow_m3_s, "volume_flow", stage, ids)
    return [
        replace(flow, expected=by_mass, by_sheet=True),
        replace(volume_flow, expected=by_volume, by_sheet=True),
        _figure("heat_input_net", rate.net_input_w, "power", stage, ids),
    ]


def _heat(
    view: View, stage: Stage, rate: FiringRate, burned: tuple[Burn, ...], ids: tuple[str, ...]
) -> list[Figure]:
    """Heat to the coolant, by its own flow where that was read, else by what the exhaust leaves."""
    flow = view.number("coolant_flow", stage)
    ends = (
        view.number("coolant_temperature_supply", stage),
        view.number("coolant_temperature_return", stage),
    )
    supply, back = ends
    if flow is not None and supply is not None and back is not None and supply.value >= back.value:
        heat = firing.heat_to_coolant(
            coolant_flow_m3_s=flow.value,
            coolant_density_kg_m3=1.0,
            coolant_heat_capacity_j_kg_k=COOLANT_HEAT_J_M3K,
            supply_temperature_k=supply.value,
            return_temperature_k=back.value,
            flow_half_width_m3_s=flow.half_width,
            heat_capacity_half_width_j_kg_k=0.1 * COOLANT_HEAT_J_M3K,
            delta_temperature_half_width_k=math.hypot(supply.half_width, back.half_width),
            rate=rate,
        )
        found = [_figure("heat_to_coolant", heat.heat_w, "power", stage, ids)]
        if heat.efficiency_net_fraction is not None:
            found.append(_figure("output_over_input", heat.efficiency_net_fraction, "fraction", stage, ids))
        return found
    burn = next((each for each in burned if each.stage is stage and each.gas is not None), None)
    if burn is None or burn.gas is None or burn.gas.efficiency_net_fraction is None:
        return []
    efficiency, given = burn.gas.efficiency_net_fraction, rate.net_input_w
    value = float(efficiency.value) * float(given.value)
    doubt = math.hypot(
        float(efficiency.standard_uncertainty) * float(given.value),
        float(given.standard_uncertainty) * float(efficiency.value),
    )
    heat_left = Uncertain(value=value, standard_uncertainty=doubt)
    return [_figure("heat_to_coolant", heat_left, "power", stage, (*ids, *burn.readings))]


def _figure(key: str, value: Uncertain, dimension: str, stage: Stage, ids: tuple[str, ...]) -> Figure:
    return Figure(key=key, estimate=value.estimate(), dimension=dimension, stage=stage, readings=ids)


def _against_sheet(view: View, rate: FiringRate, ids: tuple[str, ...]) -> Practice:
    said = message(
        "judging.fuel_flow",
        flow=Amount(
            value=float(rate.fuel_flow_m3_s.value),
            dimension="volume_flow",
            half_width=float(rate.fuel_flow_m3_s.half_width()),
        ),
        heat=Amount(value=float(rate.net_input_w.value), dimension="power"),
        share=Amount(
            value=float(rate.fuel_flow_kg_s.value) / view.sheet.fuel_flow_kg_s, dimension="fraction"
        ),
    )
    ratio = rate.fuel_flow_kg_s.estimate().scaled(1.0 / view.sheet.fuel_flow_kg_s)
    return judged_ratio(view, "fuel_flow_ratio", ratio, said, readings=ids)

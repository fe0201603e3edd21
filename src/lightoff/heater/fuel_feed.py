"""Fuel from the tank to the nozzle: suction, pump or siphon, and what goes missing on the way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.heater.rating import Rating
from lightoff.physics.air import SEA_LEVEL_PRESSURE_PA
from lightoff.physics.suction import air_release_share, siphon_flow_ratio, suction_vacuum_pa
from lightoff.physics.uncertain import Array, Real
from lightoff.terms.shelf import Feed

LINE_LENGTH_M, LINE_DIAMETER_M = 4.0, 0.004
"""Suction line of an installation in order. Judgement, no source."""
CLEAN_FILTER_PA = 3_000.0
"""Vacuum over a clean filter at rated flow on the sheet's fuel; about 1 inHg in trade tables. Second-hand."""
SIPHON_RATED_PA = 8_000.0
"""Suction of the nozzle that draws a siphon's fuel. Judgement, no source."""
SIPHON_FEELS = 0.25
"""Share of the line's vacuum that a siphon nozzle feels: a pump lifts to its regulator. Judgement."""
USUAL_LIFT_M = 0.5
"""From the fuel's level up to the pump, as the sheet has it in mind. Judgement, no source."""
MOST_VACUUM_SHARE = 0.9
"""Of the atmosphere: what a small pump draws against a shut line. Judgement, no source."""
NARROWED_PUMP, WEAK_PUMP_SIPHON = 0.3, 0.3
"""Powers with which a narrowed nozzle holds back a pump of strokes, and a weak pump a siphon. Judgement."""
SIPHON_PART: Final[Mapping[Feed, float]] = {Feed.METERING_PUMP: 0.0, Feed.UNKNOWN: 0.5, Feed.SIPHON: 1.0}
"""How far a sheet's feed follows the nozzle's suction: not at all, nobody knows, wholly."""
LINE_VOLUME_M3 = LINE_LENGTH_M * np.pi * LINE_DIAMETER_M**2 / 4.0
_LEAST = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelFlow:
    """Each (n,)."""

    burnable_kg_s: Array
    full_line_kg_s: Array  # of the same pump and nozzle, while its line stands full and gives all
    standing_kg_s: Array  # with the air and water that come, before lift, filter and line hold it back
    delivered_share: Array  # of what the feed would give if line and nozzle held nothing but fuel
    vacuum_pa: Array
    line_bubbles_share: Array  # of air in what comes to the pump
    bubbles_share: Array  # of air in what comes out of the nozzle


def fuel_flow(
    rating: Rating,
    *,
    density_kg_m3: float,
    viscosity_ratio: Array,
    lift_m: Array,
    filter_restriction: Array,
    line_restriction: Array,
    suction_air: Array,
    ring_air: Array,
    water: Array,
    uncovered: Array,
    pump_ratio: Array,
    pump_open: Array,
    nozzle_fuel_area: Array,
    nozzle_suction_ratio: Array,
    siphon_law: Array,
    siphon_part: Array,
    atmosphere_pa: float,
) -> FuelFlow:
    """What reaches the flame. `siphon_part`: 0 a metering pump, 1 a siphon, between where nobody knows.

    The vacuum is that of the rated flow, the suction of a siphon that of its atmosphere and nozzle over
    rated. In the usual installation at sea level the answer is the sheet's own flow. With a full line
    no lift, filter or line holds back more than usual and no air or water comes: left are pump and nozzle.
    Basis: hagen_poiseuille, henry_law, orifice_law; the shares are judgement, no source.
    """
    usual = usual_vacuum_pa(rating)
    vacuum = np.asarray(
        _vacuum_pa(
            rating,
            density_kg_m3=density_kg_m3,
            viscosity_ratio=viscosity_ratio,
            lift_m=lift_m,
            filter_restriction=filter_restriction,
            line_restriction=line_restriction,
        )
    )
    vacuum = np.minimum(vacuum, MOST_VACUUM_SHARE * atmosphere_pa)
    drawn_pa = np.maximum(vacuum, 0.0)  # fuel that runs down by itself is under pressure
    released = np.asarray(air_release_share(vacuum_pa=drawn_pa, atmosphere_pa=atmosphere_pa))
    solid = (1.0 - released) * (1.0 - suction_air) * (1.0 - uncovered)
    arrives = solid * (1.0 - pump_open) * (1.0 - water)
    past_ring = 1.0 - ring_air  # atomising air leaks into the fuel at the nozzle, whatever the line gives
    metered = np.maximum(pump_ratio * nozzle_fuel_area**NARROWED_PUMP, _LEAST)
    held_back = (vacuum - usual) * SIPHON_FEELS
    drawn, at_full_line = (
        np.asarray(
            siphon_flow_ratio(
                suction_ratio=nozzle_suction_ratio,
                lift_pressure_pa=pressure_pa,
                rated_suction_pa=SIPHON_RATED_PA,
                density_ratio=density_kg_m3 / rating.fuel_density_kg_m3,
            )
        )
        for pressure_pa in (held_back, np.minimum(held_back, 0.0))
    )
    own = nozzle_fuel_area * pump_ratio**WEAK_PUMP_SIPHON * siphon_law
    # The sheet's flow was measured behind a line that gives up a little air as well.
    usually_solid = 1.0 - usual_release_share(usual)
    most_kg_s = rating.fuel_volume_m3_s / usually_solid * density_kg_m3 * past_ring
    full_kg_s = most_kg_s * _between(metered, np.maximum(at_full_line * own, _LEAST), siphon_part)
    return FuelFlow(
        burnable_kg_s=most_kg_s * _between(metered, np.maximum(drawn * own, _LEAST), siphon_part) * arrives,
        full_line_kg_s=full_kg_s * np.maximum(arrives, usually_solid),
        standing_kg_s=full_kg_s * arrives,
        delivered_share=arrives * past_ring,
        vacuum_pa=drawn_pa,
        line_bubbles_share=1.0 - solid,
        bubbles_share=1.0 - solid * past_ring,
    )


def usual_vacuum_pa(rating: Rating) -> float:
    """Vacuum at the pump in the installation that the sheet has in mind."""
    return float(
        np.asarray(
            _vacuum_pa(
                rating,
                density_kg_m3=rating.fuel_density_kg_m3,
                viscosity_ratio=1.0,
                lift_m=USUAL_LIFT_M,
                filter_restriction=1.0,
                line_restriction=1.0,
            )
        )
    )


def usual_release_share(vacuum_pa: float) -> float:
    """Share of a stroke that dissolved air fills in the usual installation at sea level."""
    return float(np.asarray(air_release_share(vacuum_pa=vacuum_pa, atmosphere_pa=SEA_LEVEL_PRESSURE_PA)))


def _vacuum_pa(
    rating: Rating,
    *,
    density_kg_m3: float,
    viscosity_ratio: Real,
    lift_m: Real,
    filter_restriction: Real,
    line_restriction: Real,
) -> Real:
    viscosity_m2_s = rating.fuel_viscosity_m2_s * np.asarray(viscosity_ratio, dtype=np.float64)
    return suction_vacuum_pa(
        lift_m=lift_m,
        fuel_density_kg_m3=density_kg_m3,
        kinematic_viscosity_m2_s=viscosity_m2_s * line_restriction,
        volume_flow_m3_s=rating.fuel_volume_m3_s,
        line_length_m=LINE_LENGTH_M,
        line_diameter_m=LINE_DIAMETER_M,
        filter_resistance_pa_s_m3=CLEAN_FILTER_PA
        / rating.fuel_volume_m3_s
        * filter_restriction
        * viscosity_ratio,
    )


def _between(metered: Array, siphoned: Array, part: Array) -> Array:
    """The geometric middle of both feeds by their parts."""
    return np.asarray(metered * np.exp(part * np.log(siphoned / metered)))

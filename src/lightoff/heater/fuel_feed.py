"""Fuel from the tank to the nozzle: suction, pump or siphon, and what goes missing on the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.heater.rating import Rating
from lightoff.physics.suction import air_release_share, siphon_flow_ratio, suction_vacuum_pa
from lightoff.physics.uncertain import Array
from lightoff.terms.shelf import Feed

LINE_LENGTH_M, LINE_DIAMETER_M = 4.0, 0.004
"""Suction line of an installation in order. Judgement, no source."""
CLEAN_FILTER_PA = 3_000.0
"""Vacuum over a clean filter at rated flow on fuel of 4 mm2/s; about 1 inHg in trade tables. Second-hand."""
FILTER_VISCOSITY_M2_S = 4.0e-6
SIPHON_RATED_PA = 8_000.0
"""Suction of the nozzle that draws a siphon's fuel. Judgement, no source."""
SIPHON_FEELS = 0.25
"""Share of the line's vacuum that a siphon nozzle feels: a pump lifts to its regulator. Judgement."""
USUAL_LIFT_M, USUAL_VISCOSITY_M2_S = 0.5, 4.5e-6
"""An installation and a fuel as the sheet has them in mind. Judgement, no source."""
LINE_VOLUME_M3 = LINE_LENGTH_M * np.pi * LINE_DIAMETER_M**2 / 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelFlow:
    """Each (n,)."""

    burnable_kg_s: Array
    delivered_share: Array  # of what the feed would give if its line held
    vacuum_pa: Array
    bubbles_share: Array


def fuel_flow(
    rating: Rating,
    *,
    density_kg_m3: float,
    viscosity_m2_s: Array,
    lift_m: Array,
    filter_restriction: Array,
    line_restriction: Array,
    suction_air: Array,
    water: Array,
    uncovered: Array,
    pump_ratio: Array,
    pump_open: Array,
    nozzle_fuel_area: Array,
    atomising_ratio: Array,
    siphon_law: Array,
    siphon_part: Array,
    atmosphere_pa: float,
) -> FuelFlow:
    """What reaches the flame. `siphon_part`: 0 a metering pump, 1 a siphon, between where nobody knows.

    Basis: hydrostatic and laminar loss (`physics.suction`, hagen_poiseuille); the shares are judgement, no source.
    """
    rated_m3_s = rating.fuel_volume_m3_s
    vacuum = np.asarray(
        suction_vacuum_pa(
            lift_m=lift_m,
            fuel_density_kg_m3=density_kg_m3,
            kinematic_viscosity_m2_s=viscosity_m2_s * line_restriction,
            volume_flow_m3_s=rated_m3_s,
            line_length_m=LINE_LENGTH_M,
            line_diameter_m=LINE_DIAMETER_M,
            filter_resistance_pa_s_m3=(
                CLEAN_FILTER_PA / rated_m3_s * filter_restriction * viscosity_m2_s / FILTER_VISCOSITY_M2_S
            ),
        )
    )
    vacuum = np.minimum(vacuum, 0.9 * atmosphere_pa)
    released = np.asarray(air_release_share(vacuum_pa=np.maximum(vacuum, 0.0), atmosphere_pa=atmosphere_pa))
    bubbles = 1.0 - (1.0 - released) * (1.0 - suction_air)
    line = (1.0 - bubbles) * (1.0 - uncovered) * (1.0 - pump_open)
    # A pump of strokes pushes a narrowed nozzle's fuel nearly all through; a siphon cannot.
    metered = pump_ratio * nozzle_fuel_area**0.3
    drawn = np.asarray(
        siphon_flow_ratio(
            suction_ratio=atomising_ratio,
            lift_pressure_pa=(vacuum - _usual_vacuum_pa(rating)) * SIPHON_FEELS,
            rated_suction_pa=SIPHON_RATED_PA,
            density_ratio=density_kg_m3 / rating.fuel_density_kg_m3,
        )
    )
    siphoned = drawn * nozzle_fuel_area * pump_ratio**0.3 * siphon_law
    ratio = metered ** (1.0 - siphon_part) * np.maximum(siphoned, 1e-6) ** siphon_part
    return FuelFlow(
        burnable_kg_s=rated_m3_s * density_kg_m3 * ratio * line * (1.0 - water),
        delivered_share=line * (1.0 - water),
        vacuum_pa=np.maximum(vacuum, 0.0),
        bubbles_share=1.0 - (1.0 - bubbles) * (1.0 - uncovered),  # a bare pick-up draws air
    )


def _usual_vacuum_pa(rating: Rating) -> float:
    return float(
        np.asarray(
            suction_vacuum_pa(
                lift_m=USUAL_LIFT_M,
                fuel_density_kg_m3=rating.fuel_density_kg_m3,
                kinematic_viscosity_m2_s=USUAL_VISCOSITY_M2_S,
                volume_flow_m3_s=rating.fuel_volume_m3_s,
                line_length_m=LINE_LENGTH_M,
                line_diameter_m=LINE_DIAMETER_M,
                filter_resistance_pa_s_m3=(
                    CLEAN_FILTER_PA / rating.fuel_volume_m3_s * USUAL_VISCOSITY_M2_S / FILTER_VISCOSITY_M2_S
                ),
            )
        )
    )


def siphon_part(feed: Feed) -> tuple[float, float]:
    """Mean and spread of `siphon_part` for a sheet's feed."""
    return {Feed.METERING_PUMP: (0.0, 0.0), Feed.SIPHON: (1.0, 0.0), Feed.UNKNOWN: (0.5, 0.35)}[feed]

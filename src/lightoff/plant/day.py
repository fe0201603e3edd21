"""What of a prediction is the same in every row: the type's rating, the place, the fuel."""

from __future__ import annotations

import math

from lightoff.ground.values import dataclass
from lightoff.heater.gas_side import GasSide, gas_side
from lightoff.heater.rating import Rating, rate
from lightoff.physics import air, coolant
from lightoff.physics.altitude import REFERENCE_PLACE, Place
from lightoff.physics.fuel import Fuel, density_kg_m3, viscosity_m2_s
from lightoff.plant.conditions import Conditions
from lightoff.terms.shelf import Sheet

CHAMBER_COOLS_S = 1_800.0
"""In which a chamber loses most of its warmth over the air. Judgement, no source."""
HOLDS_S, DRAINS_S, MOST_DRAINED = 10 * 86_400.0, 120 * 86_400.0, 0.4
"""How long a fuel line stays full, in what time it then drains, and how far. Judgement, no source."""
MAY_BE_EMPTY = 0.1
"""Drained share from which people are told that the line may be empty. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Densities over those of the reference place."""

    rating: Rating
    conditions: Conditions
    gas: GasSide
    density_ratio: float  # oxygen in a volume of air here, over the reference place's
    set_density_ratio: float  # ... where the air was set
    pressure_pa: float
    fuel_density_kg_m3: float
    fuel_viscosity_m2_s: float
    coolant_j_m3_k: float
    chamber_k: float  # before the igniter heats
    drained_share: float  # of the fuel line, by standing


def day_of(sheet: Sheet, conditions: Conditions) -> Day:
    """One type in these conditions. Raises Declined for fuel colder than 233 K or hotter than 423 K."""
    rating = rate(sheet, conditions.rated_fuel)
    here = Place.at_altitude(
        conditions.altitude_m,
        air_temperature_k=conditions.air_temperature_k,
        relative_humidity_fraction=conditions.relative_humidity_fraction,
    )
    where_set = Place.at_altitude(
        conditions.set_altitude_m, air_temperature_k=conditions.set_air_temperature_k
    )
    reference = float(REFERENCE_PLACE.dry_air_mol_m3)
    return Day(
        rating=rating,
        conditions=conditions,
        gas=gas_side(conditions.fuel),
        density_ratio=float(here.dry_air_mol_m3) / reference,
        set_density_ratio=float(where_set.dry_air_mol_m3) / reference,
        pressure_pa=float(air.standard_pressure_pa(conditions.altitude_m)),
        fuel_density_kg_m3=float(density_kg_m3(conditions.fuel, conditions.fuel_temperature_k)),
        fuel_viscosity_m2_s=float(
            viscosity_m2_s(_of_known_viscosity(conditions), conditions.fuel_temperature_k)
        ),
        coolant_j_m3_k=float(coolant.heat_j_m3_k(conditions.coolant_glycol_fraction)),
        chamber_k=_chamber_k(conditions),
        drained_share=_drained_share(conditions.since_fired_s),
    )


def _chamber_k(conditions: Conditions) -> float:
    """As warm as the coolant when the after-run ends, then cooling to the air."""
    air_k, since = conditions.air_temperature_k, conditions.since_fired_s
    if since is None:
        return air_k
    return air_k + max(conditions.coolant_start_k - air_k, 0.0) * math.exp(-since / CHAMBER_COOLS_S)


def _drained_share(since_fired_s: float | None) -> float:
    """Nothing within the first days; then more and more of the line runs back to the tank."""
    standing = 0.0 if since_fired_s is None else max(since_fired_s - HOLDS_S, 0.0)
    return MOST_DRAINED * (1.0 - math.exp(-standing / DRAINS_S))


def stood_long(since_fired_s: float | None) -> bool:
    """Whether a fuel line may have run empty by standing; False where nobody knows how long it stood."""
    return _drained_share(since_fired_s) >= MAY_BE_EMPTY


def _of_known_viscosity(conditions: Conditions) -> Fuel:
    """The fuel, or where its sheet tells no viscosity the one that the heater was rated on. Judgement."""
    return conditions.fuel if conditions.fuel.viscosity_points else conditions.rated_fuel

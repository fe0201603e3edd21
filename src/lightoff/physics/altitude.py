"""What altitude, weather, supply voltage and fuel do to the air ratio.

    lambda there = lambda here x (dry air in a cubic metre, there / here)
                               x (fan volume, there / here)
                               x (fuel mass, here / there)

A centrifugal fan on a fixed duct moves a fixed volume at a fixed speed, whatever the density: both its
pressure and the duct's resistance go with density. Basis: fan_laws, ideal_gas.
"""

from __future__ import annotations

import math

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, message
from lightoff.ground.values import dataclass
from lightoff.physics import air
from lightoff.physics.uncertain import Array, Real, plain
from lightoff.terms.shelf import Feed


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where and when a burner runs: the air at its intake, its supply and its fuel.

    `supply_v` at the heater's plug; `fuel_density_kg_m3` at the fuel's temperature. Each a float, or
    arrays of one shape. A voltage or density left None at one of two places is taken as equal at both.
    """

    pressure_pa: Real
    air_temperature_k: Real
    relative_humidity_fraction: Real
    supply_v: Real | None = None
    fuel_density_kg_m3: Real | None = None

    @classmethod
    def at_altitude(
        cls,
        altitude_m: Real,
        *,
        air_temperature_k: Real | None = None,
        relative_humidity_fraction: Real = 0.0,
        supply_v: Real | None = None,
        fuel_density_kg_m3: Real | None = None,
    ) -> Place:
        """A place by its height, with the standard atmosphere's pressure, and its temperature if None."""
        standard = air.standard_temperature_k(altitude_m)
        return cls(
            pressure_pa=air.standard_pressure_pa(altitude_m),
            air_temperature_k=standard if air_temperature_k is None else air_temperature_k,
            relative_humidity_fraction=relative_humidity_fraction,
            supply_v=supply_v,
            fuel_density_kg_m3=fuel_density_kg_m3,
        )

    @property
    def dry_air_mol_m3(self) -> Real:
        """Dry air in a cubic metre."""
        water = air.water_in_air_fraction(
            temperature_k=self.air_temperature_k,
            relative_humidity_fraction=self.relative_humidity_fraction,
            pressure_pa=self.pressure_pa,
        )
        return air.dry_air_mol_m3(
            temperature_k=self.air_temperature_k, pressure_pa=self.pressure_pa, water_fraction=water
        )


REFERENCE_PLACE = Place(
    pressure_pa=air.SEA_LEVEL_PRESSURE_PA,
    air_temperature_k=air.REFERENCE_AIR_TEMPERATURE_K,
    relative_humidity_fraction=0.0,
)
"""15 degC, dry, sea level: where figures are compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedLaw:
    """How fuel flow answers to its surroundings.

    Fuel mass goes as (air density)^`air_density_exponent`, (supply voltage)^`voltage_exponent` and
    (fuel density)^`fuel_density_exponent`; fan volume goes as (supply voltage)^`fan_voltage_exponent`.
    """

    air_density_exponent: float
    voltage_exponent: float
    fuel_density_exponent: float
    fan_voltage_exponent: float = 1.0


METERING_PUMP = FeedLaw(air_density_exponent=0.0, voltage_exponent=0.0, fuel_density_exponent=1.0)
"""Fixed strokes: a fixed volume while each stroke completes; a fan of a brushed motor follows its voltage.
Common practice, no source."""
SIPHON = FeedLaw(air_density_exponent=0.5, voltage_exponent=0.0, fuel_density_exponent=0.5)
"""Fuel drawn by the jet of atomising air: suction goes with air density, flow with its root, so that
fuel thins out with the air in part. Common practice, no source; lift and air pressure shift it."""


_LAWS = {
    Feed.METERING_PUMP: (METERING_PUMP,),
    Feed.SIPHON: (SIPHON,),
    Feed.UNKNOWN: (METERING_PUMP, SIPHON),
}


def feed_laws(feed: Feed) -> tuple[FeedLaw, ...]:
    """The laws that a sheet's way of feeding stands for: both where it is unknown."""
    return _LAWS[feed]


def air_ratio_change(*, here: Place, there: Place, law: FeedLaw = METERING_PUMP) -> Real:
    """Factor by which lambda changes on the way from here to there, the setting untouched.

    Basis: fan_laws, ideal_gas; the exponents of `law` are common practice.

    >>> hot_pass = Place.at_altitude(1500.0, air_temperature_k=303.15, relative_humidity_fraction=0.3)
    >>> round(1.35 * air_ratio_change(here=REFERENCE_PLACE, there=hot_pass), 2)
    1.05
    """
    air_change = np.asarray(there.dry_air_mol_m3) / np.asarray(here.dry_air_mol_m3)
    volts = _relative(here.supply_v, there.supply_v)
    fuel_density = _relative(here.fuel_density_kg_m3, there.fuel_density_kg_m3)
    fuel_change = (
        air_change**law.air_density_exponent
        * volts**law.voltage_exponent
        * fuel_density**law.fuel_density_exponent
    )
    return plain(air_change * volts**law.fan_voltage_exponent / fuel_change)


def _relative(here: Real | None, there: Real | None) -> Array:
    if here is None or there is None:
        return np.ones(())
    return np.asarray(there, dtype=np.float64) / np.asarray(here, dtype=np.float64)


def air_ratio_there(air_ratio: Estimate, *, here: Place, there: Place, feed: Feed) -> Estimate:
    """The air ratio that this setting will show there; wider where the feed is unknown."""
    changes = [float(air_ratio_change(here=here, there=there, law=each)) for each in feed_laws(feed)]
    return Estimate(
        value=air_ratio.value * sum(changes) / len(changes),
        low=air_ratio.low * min(changes),
        high=air_ratio.high * max(changes),
        coverage=air_ratio.coverage,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingWindow:
    """Air ratios to set here so that the burn stays within bounds at every place named.

    None of them suit if `low` is above `high`: then no one setting serves all the places.
    """

    low: float
    high: float

    @property
    def exists(self) -> bool:
        """Whether one setting serves all the places."""
        return self.low <= self.high


def setting_window(
    *,
    here: Place,
    places: tuple[Place, ...],
    lowest_air_ratio: float,
    highest_air_ratio: float,
    feed: Feed,
) -> SettingWindow:
    """The window of air ratios to set here so that at each place lambda stays within the bounds.

    `places` hold floats. Set for the worst state that is meant: hot, high, humid, low volts. Here counts
    too only if it is among the places. Raises Refusal if the bounds are exchanged or no place is named.
    """
    if not 1.0 <= lowest_air_ratio < highest_air_ratio or not places:
        raise Refusal(
            message(
                "physics.setting_bounds",
                low=Amount(value=lowest_air_ratio, dimension="ratio"),
                high=Amount(value=highest_air_ratio, dimension="ratio"),
            ),
            field="air_ratio",
        )
    changes = [
        float(air_ratio_change(here=here, there=place, law=each))
        for place in places
        for each in feed_laws(feed)
    ]
    return SettingWindow(low=lowest_air_ratio / min(changes), high=highest_air_ratio / max(changes))


def derate_factor(
    *, air_ratio: float, target_air_ratio: float, here: Place, there: Place, feed: Feed
) -> float:
    """Share of today's fuel that the air there can burn at the target air ratio; never above one.

    For an unknown feed the smaller share. Basis: fan_laws.
    """
    if not (air_ratio >= 1.0 and target_air_ratio >= 1.0 and math.isfinite(air_ratio)):
        raise Refusal(
            message(
                "physics.setting_bounds",
                low=Amount(value=target_air_ratio, dimension="ratio"),
                high=Amount(value=air_ratio, dimension="ratio"),
            ),
            field="air_ratio",
        )
    change = min(float(air_ratio_change(here=here, there=there, law=each)) for each in feed_laws(feed))
    return min(1.0, air_ratio * change / target_air_ratio)

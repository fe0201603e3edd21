"""Another place, another season: the same heater as it is set here, and how it would burn there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from lightoff.ground.errors import NotFound
from lightoff.ground.message import message
from lightoff.heater.burning import SMOKE_POINT_AIR_RATIO
from lightoff.physics.altitude import Place, SettingWindow, setting_window
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.band import Band, bands
from lightoff.plant.baseline import unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import COLUMN, PARAMETERS, spreads
from lightoff.shelf import Shelf
from lightoff.terms.shelf import Sheet
from lightoff.work.read_numbers import RATED_FUEL

FILTERS: Mapping[str, float] = {"clean": 0.0, "half used": 1.2, "near its end": 2.2}
"""State of the fuel filter, as the logarithm of its restriction. Judgement, no source."""
SHOWN = (
    "flue_o2",
    "flue_co",
    "smoke_number",
    "stack_gas_temperature",
    "time_to_light",
    "supply_voltage_igniter",
    "igniter_current",
)
"""Readings that the page sets side by side."""
LEANEST = 1.9
"""Air ratio above which a burner of this kind burns cold and sharp. Common practice, no source."""
_MARGIN = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One place and day, SI. `rest_v` None for the usual; `fuel` and `filter` by key."""

    altitude_m: float
    air_temperature_k: float
    rest_v: float | None
    fuel: str
    filter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Burns:
    """How the heater burns at one spot. Chances and `air_ratio` bands over what is not known of the unit."""

    air_ratio: Band
    smokes: float
    lights: float
    efficiency: float
    readings: Mapping[str, Band]


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """Both spots, and the window of air ratios to set here so that it stays within bounds at both."""

    here: Burns
    there: Burns
    window: SettingWindow


def elsewhere(sheet: Sheet, here: Spot, there: Spot, shelf: Shelf) -> Elsewhere:
    """The heater set for `here`, at both spots. Raises NotFound for a fuel that is not on the shelf."""
    lowest = SMOKE_POINT_AIR_RATIO + _MARGIN
    places = tuple(
        Place.at_altitude(each.altitude_m, air_temperature_k=each.air_temperature_k) for each in (here, there)
    )
    return Elsewhere(
        here=_burns(sheet, here, here, shelf),
        there=_burns(sheet, there, here, shelf),
        window=setting_window(
            here=places[0],
            places=places,
            lowest_air_ratio=lowest,
            highest_air_ratio=LEANEST,
            feed=sheet.feed,
        ),
    )


def _burns(sheet: Sheet, spot: Spot, set_at: Spot, shelf: Shelf) -> Burns:
    fuel = shelf.fuels.get(spot.fuel)
    if fuel is None:
        raise NotFound(message("work.no_such_fuel", fuel=spot.fuel, possible=", ".join(shelf.fuels)))
    liquid = max(spot.air_temperature_k, 240.0)
    conditions = Conditions(
        fuel=fuel,
        rated_fuel=shelf.fuels[RATED_FUEL],
        altitude_m=spot.altitude_m,
        air_temperature_k=spot.air_temperature_k,
        fuel_temperature_k=liquid,
        coolant_start_k=liquid,
        rest_v=spot.rest_v,
        set_altitude_m=set_at.altitude_m,
        set_air_temperature_k=set_at.air_temperature_k,
    )
    unit = unknown_unit()
    unit = replace(unit, mean=unit.mean.copy())
    one = spreads(sheet)
    unit.mean[COLUMN["filter_restriction"]] = FILTERS[spot.filter] / one[COLUMN["filter_restriction"]]
    moves = np.concatenate([np.zeros((1, one.size)), np.diag(one), -np.diag(one)])
    seen = predict(sheet, conditions, moves + unit.mean * one, with_signs=False)
    ratio, ratio_wide = _spread(np.log(seen.air_ratio))
    margin, margin_wide = _spread(seen.smoke_margin)
    logit, logit_wide = _spread(np.log(seen.lit / (1.0 - np.minimum(seen.lit, 1.0 - 1e-9))))
    return Burns(
        air_ratio=Band(
            middle=float(np.exp(ratio)),
            low=float(np.exp(ratio - 2.0 * ratio_wide)),
            high=float(np.exp(ratio + 2.0 * ratio_wide)),
        ),
        smokes=float(cumulative(np.asarray(-margin / margin_wide))),
        # A logistic of a normal, evened out over its spread.
        lights=float(1.0 / (1.0 + np.exp(-logit / np.sqrt(1.0 + np.pi * logit_wide**2 / 8.0)))),
        efficiency=float(seen.efficiency[0]),
        readings={key: each for key, each in bands(sheet, conditions, unit).items() if key in SHOWN},
    )


def _spread(values: Array) -> tuple[float, float]:
    """Middle and standard deviation from one value and its moves by one spread of each parameter."""
    count = len(PARAMETERS)
    slopes = 0.5 * (values[1 : 1 + count] - values[1 + count :])
    return float(values[0]), float(np.sqrt(np.sum(slopes**2)) + 1e-9)

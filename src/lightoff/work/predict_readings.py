"""What a heater of a type would read somewhere, in order or with faults."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.plant.band import Band, bands
from lightoff.plant.baseline import unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import COLUMN, PARAMETERS
from lightoff.shelf import Shelf
from lightoff.terms.shelf import Sheet
from lightoff.work.elsewhere import air_ratio_of, possible_heaters
from lightoff.work.read_numbers import RATED_FUEL

COLDEST_K, HOTTEST_K = 213.15, 333.15
LOWEST_M, HIGHEST_M = -500.0, 6000.0
"""Where the model is asked at all; it was thought about from -30 to 45 degC and up to 4,000 m."""
MOST_VOLTS = 1.5
"""Of the sheet's supply: above it a battery of the other kind was meant. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A heater type and a place, SI. `rest_v` None for the usual; `severity` 0 to 1 of each fault's range."""

    sheet: str
    fuel: str
    altitude_m: float = 0.0
    air_temperature_k: float = 288.15
    rest_v: float | None = None
    faults: tuple[str, ...] = ()
    severity: float = 0.5


def predict_readings(asked: Asked, shelf: Shelf) -> Prediction:
    """Two rows: the heater in order, and with the faults. Raises NotFound and Refusal."""
    sheet, conditions = _there(asked, shelf)
    rows = np.zeros((2, len(PARAMETERS)))
    for key in asked.faults:
        if key not in shelf.faults:
            raise NotFound(message("work.no_such_fault", fault=key, possible=", ".join(shelf.faults)))
        low, high = shelf.faults[key].severity
        for parameter, shift in shelf.faults[key].shifts.items():
            rows[1, COLUMN[parameter]] += (low + asked.severity * (high - low)) * shift
    return predict(sheet, conditions, rows)


def bands_there(asked: Asked, shelf: Shelf) -> Mapping[str, Band]:
    """Where nineteen in twenty sound heaters of the type read there. Raises NotFound and Refusal."""
    return bands(*_there(asked, shelf))


def air_ratio_there(asked: Asked, shelf: Shelf) -> Band:
    """The air ratio of sound heaters of the type there: wide where nobody knows how the fuel comes.

    Raises NotFound and Refusal.
    """
    return air_ratio_of(possible_heaters(*_there(asked, shelf), unknown_unit()))


def _there(asked: Asked, shelf: Shelf) -> tuple[Sheet, Conditions]:
    sheet, fuel = shelf.sheets.get(asked.sheet), shelf.fuels.get(asked.fuel)
    if sheet is None:
        raise NotFound(message("shop.no_such_sheet", sheet=asked.sheet, possible=", ".join(shelf.sheets)))
    if fuel is None:
        raise NotFound(message("work.no_such_fuel", fuel=asked.fuel, possible=", ".join(shelf.fuels)))
    inside = LOWEST_M <= asked.altitude_m <= HIGHEST_M and COLDEST_K <= asked.air_temperature_k <= HOTTEST_K
    volts = sheet.supply_v if asked.rest_v is None else asked.rest_v
    if not inside or not 0.0 <= asked.severity <= 1.0 or not 0.0 < volts <= MOST_VOLTS * sheet.supply_v:
        raise Refusal(message("work.place_out_of_range"), field="altitude")
    liquid = max(asked.air_temperature_k, 240.0)
    return sheet, Conditions(
        fuel=fuel,
        rated_fuel=shelf.fuels[RATED_FUEL],
        altitude_m=asked.altitude_m,
        air_temperature_k=asked.air_temperature_k,
        fuel_temperature_k=liquid,
        coolant_start_k=liquid,
        rest_v=asked.rest_v,
    )

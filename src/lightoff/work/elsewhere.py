"""Another place, another season: the same heater as it is set here, and how it would burn there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from lightoff.ground import units
from lightoff.ground.errors import NotFound
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.heater.burning import SMOKE_POINT_AIR_RATIO
from lightoff.physics.altitude import Place, SettingWindow, setting_window
from lightoff.physics.burn import co_air_free_fraction
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.band import Band, bands
from lightoff.plant.baseline import Baseline, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import COLUMN, normal_rows, spreads
from lightoff.plant.quantities import COLUMN as QUANTITY
from lightoff.plant.quantities import QUANTITIES
from lightoff.shelf import Shelf
from lightoff.terms.shelf import Sheet
from lightoff.work.read_numbers import RATED_FUEL
from lightoff.work.unit_baseline import unit_baseline
from lightoff.work.workshop import Workshop

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
ROWS = 1024
"""Possible heaters that chances are counted over."""
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
    """How the heater burns at one spot. Bands and chances are over what is not known of the unit; of them
    `co_over_limit` is that of air-free carbon monoxide above its limit while it burns."""

    air_ratio: Band
    smokes: float
    lights: float
    co_over_limit: float
    efficiency: float
    readings: Mapping[str, Band]


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """Both spots, and the window of air ratios to set here so that it stays within bounds at both.

    `co_limit_fraction` is the air-free carbon monoxide above which it is not fit; `good_visits` taught what
    is held of this very unit, nought where it may be any of its type.
    """

    here: Burns
    there: Burns
    window: SettingWindow
    co_limit_fraction: float
    good_visits: int


def elsewhere_of(workshop: Workshop, heater_id: str, here: Spot, there: Spot) -> Elsewhere:
    """A heater of the book with what its good visits taught of it. Raises NotFound."""
    line, shelf = workshop.book.line(heater_id), workshop.shelf
    sheet = sheet_named(line.heater.sheet, shelf)
    cases = workshop.book.cases_of(heater_id, latest=1)
    known = unknown_unit()
    if cases:
        (last,) = cases
        known = unit_baseline(replace(last, history=(*last.history, last.visit)), shelf)
    return elsewhere(sheet, here, there, shelf, baseline=known, kind=line.vehicle.kind)


def sheet_named(key: str, shelf: Shelf) -> Sheet:
    """The sheet of a heater. Raises NotFound for one that is not on the shelf."""
    if key not in shelf.sheets:
        raise NotFound(message("shop.no_such_sheet", sheet=key, possible=", ".join(shelf.sheets)))
    return shelf.sheets[key]


def elsewhere(
    sheet: Sheet,
    here: Spot,
    there: Spot,
    shelf: Shelf,
    *,
    baseline: Baseline | None = None,
    kind: str = "",
) -> Elsewhere:
    """The heater set for `here`, at both spots. `kind` of vehicle, for the limit.

    Raises NotFound for a fuel that is not on the shelf.
    """
    known = baseline or unknown_unit()
    limit = _co_limit_fraction(sheet, shelf, kind)
    places = tuple(
        Place.at_altitude(each.altitude_m, air_temperature_k=each.air_temperature_k) for each in (here, there)
    )
    burns = [_burns(sheet, _conditions(spot, here, shelf), spot, known, limit) for spot in (here, there)]
    return Elsewhere(
        here=burns[0],
        there=burns[1],
        window=setting_window(
            here=places[0],
            places=places,
            lowest_air_ratio=SMOKE_POINT_AIR_RATIO + _MARGIN,
            highest_air_ratio=LEANEST,
            feed=sheet.feed,
        ),
        co_limit_fraction=limit,
        good_visits=known.visits,
    )


def _co_limit_fraction(sheet: Sheet, shelf: Shelf, kind: str) -> float:
    """Air-free carbon monoxide above which the heater is not fit, as shop and sheet have it."""
    row = shelf.limits.strictest("co_air_free", "not fit", kind=kind, sheet=sheet)
    if row is None or row.value is None:  # a shop tightens rows and removes none
        raise AssertionError("the limits hold no row for air-free carbon monoxide")
    return units.to_si(row.value, row.unit)


def _conditions(spot: Spot, set_at: Spot, shelf: Shelf) -> Conditions:
    fuel = shelf.fuels.get(spot.fuel)
    if fuel is None:
        raise NotFound(message("work.no_such_fuel", fuel=spot.fuel, possible=", ".join(shelf.fuels)))
    liquid = max(spot.air_temperature_k, 240.0)
    return Conditions(
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


def _burns(sheet: Sheet, conditions: Conditions, spot: Spot, known: Baseline, limit: float) -> Burns:
    unit = replace(known, mean=known.mean.copy())
    one = spreads(sheet)
    unit.mean[COLUMN["filter_restriction"]] += FILTERS[spot.filter] / one[COLUMN["filter_restriction"]]
    seen = possible_heaters(sheet, conditions, unit)
    sure = predict(sheet, conditions, (unit.mean * one)[None, :], with_signs=False)
    return Burns(
        air_ratio=air_ratio_of(seen),
        smokes=float(np.mean(seen.smoke_margin < 0.0)),
        lights=float(np.mean(seen.lit)),
        co_over_limit=_co_over(seen, limit),
        efficiency=float(sure.efficiency[0]),
        readings={key: each for key, each in bands(sheet, conditions, unit).items() if key in SHOWN},
    )


def possible_heaters(sheet: Sheet, conditions: Conditions, unit: Baseline) -> Prediction:
    """What `ROWS` heaters would read that this one may be, as far as is known of it."""
    moves = _TABLE @ np.linalg.cholesky(unit.covariance).T
    return predict(sheet, conditions, (unit.mean + moves) * spreads(sheet), with_signs=False)


def air_ratio_of(seen: Prediction) -> Band:
    """The air ratio within which nineteen in twenty of these heaters burn."""
    low, middle, high = np.quantile(seen.air_ratio, [0.025, 0.5, 0.975])
    return Band(middle=float(middle), low=float(low), high=float(high))


def _co_over(seen: Prediction, limit: float) -> float:
    """Chance that what is read is above the limit, free of air, the reading's own scatter included."""
    co, o2 = (seen.numeric[:, QUANTITY[key]] for key in ("flue_co", "flue_o2"))
    free = np.asarray(co_air_free_fraction(co_fraction=co, o2_fraction=o2, extrapolate=True))
    away = (np.log(free) - np.log(limit)) / QUANTITIES["flue_co"].slack
    return float(np.mean(cumulative(np.asarray(away))))


def _table() -> Array:
    """Fixed standard normal rows in opposite pairs, (rows, parameters): nothing is left to chance."""
    half = normal_rows(np.random.default_rng(19_120_229), ROWS // 2)
    return np.concatenate([half, -half])


_TABLE = _table()

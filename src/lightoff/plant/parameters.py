"""The unknowns of one heater: what may differ from its sheet, and by how much in a sound one.

A shift of nought is a healthy heater. Three kinds: "log" multiplies by exp(shift), "add" adds in SI (soot
and scale in metres), "share" runs from nought (healthy) to one (wholly open, absent or let through).
`spread` is one standard deviation among sound heaters, engineering judgement without a source unless a
comment says otherwise; wide on purpose where nobody measured. `persistent` ones stay with a unit from
visit to visit, the others are of the day. `part` names the piece whose renewal takes the shift away.
A closure is a constant of an empirical law: its spread carries how little is known of the law itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.terms.shelf import Feed, Sheet


class Kind(StrEnum):
    """How a shift acts."""

    LOG = "log"
    ADD = "add"
    SHARE = "share"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One unknown of a heater. `spread` in the unit of the shift: log units, SI, or a share."""

    key: str
    kind: Kind
    spread: float
    system: str
    persistent: bool = True
    part: str = ""
    closure: bool = False


def _log(key: str, spread: float, system: str, **more: bool | str) -> Parameter:
    return Parameter(key=key, kind=Kind.LOG, spread=spread, system=system, **more)  # type: ignore[arg-type]


def _add(key: str, spread: float, system: str, **more: bool | str) -> Parameter:
    return Parameter(key=key, kind=Kind.ADD, spread=spread, system=system, **more)  # type: ignore[arg-type]


def _share(key: str, system: str, spread: float = 0.005, **more: bool | str) -> Parameter:
    return Parameter(key=key, kind=Kind.SHARE, spread=spread, system=system, **more)  # type: ignore[arg-type]


_ALL: Final = (
    # Supply and control
    _add("battery_voltage", 0.012, "supply", persistent=False, part="battery"),
    _log("battery_resistance", 0.30, "supply", part="battery"),
    _log("supply_resistance", 0.25, "supply", part="wiring"),
    _log("ground_resistance", 0.30, "supply", part="wiring"),
    _share("power_open", "supply", part="wiring"),
    _share("control_dead", "control", part="control"),
    _share("call_open", "operating", persistent=False),
    _share("igniter_drive_open", "control", part="control"),
    # Ignition
    _log("igniter_contact", 0.35, "ignition", part="connector"),
    _log("igniter_resistance", 0.05, "ignition", part="igniter"),
    _share("igniter_open", "ignition", part="igniter"),
    _log("igniter_seat", 0.05, "ignition", part="igniter"),
    # Air path. Twice these spreads together are about a tenth of the air flow, the widest grade of ISO 13348
    # for fans (10 %, from memory, unverified).
    _log("fan_speed", 0.03, "air", part="fan"),
    _log("fan_friction", 0.20, "air", part="fan"),
    _share("fan_open", "air", part="fan"),
    _log("inlet_restriction", 0.08, "air", part="inlet"),
    _log("exhaust_restriction", 0.08, "exhaust", part="exhaust"),
    _share("exhaust_return", "exhaust", part="exhaust"),
    _share("exhaust_leak", "exhaust", part="exhaust"),
    _log("air_setting", 0.05, "air"),
    # Fuel
    _log("pump_rate", 0.03, "fuel", part="fuel_pump"),
    _share("pump_open", "fuel", part="fuel_pump"),
    _log("filter_restriction", 0.35, "fuel", part="fuel_filter"),
    _log("line_restriction", 0.20, "fuel", part="fuel_line"),
    _share("suction_air", "fuel", part="fuel_line"),
    _add("lift", 0.10, "fuel"),
    _share("water", "fuel", persistent=False, part="fuel"),
    _log("viscosity", 0.08, "fuel", persistent=False, part="fuel"),
    _log("heating_value", 0.01, "fuel", persistent=False, part="fuel"),
    _share("unprimed", "fuel", persistent=False),
    _share("pickup_uncovered", "fuel", persistent=False, part="fuel"),
    _share("valve_shut", "fuel", part="fuel_valve"),
    _share("valve_weep", "fuel", part="fuel_valve"),
    # Atomising. Nozzles are made to 5 % of their flow (common practice, no source), small compressors to 7 %
    # of their delivery (ISO 1217, from memory, unverified); both taken as two spreads, rounded up.
    _log("compressor_capacity", 0.05, "atomising", part="compressor"),
    _share("compressor_open", "atomising", part="compressor"),
    _log("intake_restriction", 0.15, "atomising", part="intake_filter"),
    _share("air_line_leak", "atomising", 0.01, part="air_line"),
    _log("nozzle_air_area", 0.03, "atomising", part="nozzle"),
    _log("nozzle_fuel_area", 0.03, "atomising", part="nozzle"),
    _log("spray", 0.08, "atomising", part="nozzle"),
    _share("spray_lopsided", "atomising", 0.02, part="nozzle"),
    _share("drip", "atomising", part="nozzle_ring"),
    # Burn and jacket, gas side
    _add("burn_tube_soot", 1.0e-4, "burn", part="burn_tube"),
    _add("jacket_soot", 8.0e-5, "burn", part="jacket"),
    _share("tube_crack", "burn", part="burn_tube"),
    _share("solvent", "burn", persistent=False),
    _log("heat_exchange", 0.06, "burn"),
    # Flame detection
    _log("sensor_gain", 0.15, "flame detection", part="flame_sensor"),
    _log("window_soot", 0.20, "flame detection", part="window"),
    _share("false_flame", "flame detection", part="flame_sensor"),
    # Coolant and circuit
    _log("coolant_flow", 0.08, "coolant", part="circulation_pump"),
    _share("coolant_air", "coolant", 0.01),
    _share("coolant_low", "coolant", 0.02),
    _share("circulation_open", "coolant", part="circulation_pump"),
    _share("jacket_leak", "coolant", part="jacket"),
    _add("jacket_scale", 5.0e-5, "coolant", part="jacket"),
    _log("emitter", 0.15, "circuit"),
    _share("zone_shut", "circuit", 0.02, part="zone_valve"),
    _log("hot_water_exchange", 0.10, "hot water", part="hot_water_exchanger"),
    _add("thermostat_offset", 1.5, "coolant", part="thermostat"),
    _add("high_limit_offset", 1.5, "coolant", part="high_limit"),
    _share("high_limit_open", "coolant", part="high_limit"),
    _add("coolant_sensor_offset", 1.0, "coolant", part="coolant_sensor"),
    _share("engine_leak", "circuit", part="engine_exchanger"),
    _share("check_valve_pass", "circuit", part="check_valve"),
    # Closure constants: how little is known of the laws themselves
    _add("smoke_point", 0.04, "burn", closure=True),
    _log("co_floor", 0.35, "burn", closure=True),
    _log("co_slope", 0.15, "burn", closure=True),
    _log("pipe_cooling", 0.20, "exhaust", closure=True),
    _log("light_delay", 0.12, "ignition", closure=True),
    _log("fan_law", 0.03, "air", closure=True),
    _log("siphon_law", 0.05, "fuel", closure=True),
    _add("feed_law", 0.02, "fuel", closure=True),  # see `spreads`
    _log("flame_light", 0.15, "flame detection", closure=True),
    _log("room_dilution", 0.60, "exhaust", closure=True),
    # What came later, see `normal_rows`
    _share("ring_air", "atomising", part="nozzle_ring"),  # atomising air into the fuel, at the nozzle
)
_LATER: Final = 1

PARAMETERS: Final[Mapping[str, Parameter]] = MappingProxyType({each.key: each for each in _ALL})
"""Every parameter by its key, in the order of the columns of `shifts`."""
COLUMN: Final[Mapping[str, int]] = MappingProxyType({each.key: at for at, each in enumerate(_ALL)})
SPREADS: Final[Array] = np.array([each.spread for each in _ALL])
"""One standard deviation of each among sound heaters whose sheet says how they feed; see `spreads`."""
FEED_UNKNOWN_SPREAD: Final = 0.35
"""Of `feed_law` where nobody knows whether the fuel follows the nozzle's suction (1) or not (0)."""
_MOST_LOG: Final = 9.0
"""A resistance, flow or opening eight thousand times what it should be is as any further. Judgement."""
_BY_KIND: Final = sorted(range(len(_ALL)), key=lambda at: list(Kind).index(_ALL[at].kind))
_PLACE: Final = {_ALL[column].key: at for at, column in enumerate(_BY_KIND)}
_FIRST_ADD, _FIRST_SHARE = (
    sum(each.kind in kinds for each in _ALL) for kinds in ((Kind.LOG,), (Kind.LOG, Kind.ADD))
)


def spreads(sheet: Sheet) -> Array:
    """One standard deviation of each parameter among sound heaters of a type, (parameters,).

    Wider where its sheet does not say how it feeds: then what altitude does is a band, never one answer.
    """
    if sheet.feed is not Feed.UNKNOWN:
        return SPREADS
    wide = SPREADS.copy()
    wide[COLUMN["feed_law"]] = FEED_UNKNOWN_SPREAD
    return wide


def normal_rows(rng: np.random.Generator, count: int, *, more: int = 0) -> Array:
    """Standard normal rows, (count, parameters + `more`).

    Parameters that came later have a stream of their own: fixed tables and invented heaters stay, in all
    that was there before, as they were drawn.
    """
    older = len(_ALL) - _LATER
    drawn = rng.normal(size=(count, older + more))
    later = rng.spawn(1)[0].normal(size=(_LATER, count)).T
    return np.concatenate([drawn[:, :older], later, drawn[:, older:]], axis=1)


class Shifts:
    """Rows of shifts read by name: `factor` of a log one, `amount` of the others, clipped to what can be.

    Every column is worked out at once, kind by kind, each in one piece of memory.
    """

    __slots__ = ("_values", "count")

    def __init__(self, rows: Array) -> None:
        self.count = rows.shape[0]  # (n, parameters)
        values = np.asarray(rows.T[_BY_KIND], dtype=np.float64)  # a copy: the rows are the caller's
        factors, shares = values[:_FIRST_ADD], values[_FIRST_SHARE:]
        np.clip(factors, -_MOST_LOG, _MOST_LOG, out=factors)
        np.exp(factors, out=factors)
        np.maximum(shares, 0.0, out=shares)
        np.minimum(shares, 1.0, out=shares)
        self._values = values

    def factor(self, key: str) -> Array:
        """exp(shift), (n,)."""
        return self._row(key, Kind.LOG)

    def amount(self, key: str) -> Array:
        """The shift of an "add" parameter, SI, (n,)."""
        return self._row(key, Kind.ADD)

    def layer(self, key: str) -> Array:
        """Thickness of soot or scale, m, never below nought, (n,)."""
        return np.maximum(self._row(key, Kind.ADD), 0.0)

    def share(self, key: str) -> Array:
        """A share from nought to one, (n,)."""
        return self._row(key, Kind.SHARE)

    def _row(self, key: str, kind: Kind) -> Array:
        if PARAMETERS[key].kind is not kind:
            raise TypeError(f"{key} is {PARAMETERS[key].kind}, not {kind}")
        return np.asarray(self._values[_PLACE[key]])

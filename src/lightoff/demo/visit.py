"""One invented visit: what a careful technician would read of a heater in this state, minute by minute.

Every reading of the heater comes from the plant: its nature, its wear and what is wrong, here and today.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from enum import Enum
from typing import Any

import numpy as np

from lightoff.demo.notebook import Notebook
from lightoff.demo.shown import Shown
from lightoff.demo.troubles import COMPLAINTS, Trouble
from lightoff.demo.unit import Unit
from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.ground.values import dataclass
from lightoff.heater.rating import rate
from lightoff.physics.fuel import Fuel, density_kg_m3
from lightoff.physics.uncertain import Array
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import COLUMN
from lightoff.terms.people import Heater
from lightoff.terms.shelf import Catalogue
from lightoff.terms.visit import EventKind, Place, Stage, Visit


class Kit(Enum):
    """Which instruments came along."""

    EYES = 1
    BOTTLE = 2
    PROBE = 3


class Ending(Enum):
    """How a visit ends."""

    MENDED = "mended and serviced"
    WAITS = "a part is on order, left as it was found"
    ISOLATED = "not to be fired: left isolated"
    OPEN = "under way, or to be gone on with"


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """What a visit is about, before anything is read."""

    heater: Heater
    unit: Unit
    place: Place
    started_at: datetime
    kit: Kit
    trouble: Trouble | None
    until: datetime | None = None
    stays_open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelves:
    """What an invented visit is made from. `meters` names the shop's instrument of each class."""

    fuels: Mapping[str, Fuel]
    catalogue: Catalogue
    meters: Mapping[str, str]


RATED_FUEL = "diesel_2"
FUELS = ("diesel_2", "diesel_2", "b5", "winter_50_50")
_ANNUAL = "Nozzle filter, nozzle O-ring, fuel filter and compressor intake filter were renewed."
_ON_ORDER = "A part is on order; the heater was left as it was found."
_DRAINED = "The chamber was drained and left to dry; the heater stays isolated until the part is here."
_STEP = 0.02
_SETTINGS = np.arange(-0.36, 0.62, _STEP)
"""Turns of the air setting that a technician tries, as logarithms."""
_SET_OFF = {Kit.PROBE: 0.015, Kit.BOTTLE: 0.03, Kit.EYES: 0.04}
"""How far off, as a logarithm, the air is set with this kit. Judgement, no source."""
_MAY_WAIT = 0.45
"""Chance that the part of a heater that still burns is not on the van. Judgement, no source."""
_MAY_BE_ISOLATED = 0.2
"""Chance that the part of one that does not light is not. Judgement, no source."""


def invent_visit(rng: np.random.Generator, call: Call, shelves: Shelves) -> tuple[Visit, Ending]:
    """One visit and how it ended; the unit is mended, serviced and set by it."""
    here = _weather(rng, call.place, call.started_at)
    fuel = shelves.fuels[FUELS[int(rng.integers(len(FUELS)))]]
    rated = shelves.fuels[RATED_FUEL]
    conditions = _conditions(here, fuel, rated)
    unit, trouble = call.unit, call.trouble
    mended = unit.mended(rng, [fault.part for fault in trouble.faults] if trouble else ())
    today = unit.of_the_day(rng)
    left = mended.nature + mended.worn + today
    rows = np.stack(
        [unit.nature + unit.worn + today + _faults(trouble), *(left + _turned(each) for each in _SETTINGS)]
    )
    seen = predict(unit.sheet, conditions, rows)
    found = Shown(rng, seen, 0, shelves.catalogue)
    wanted = rate(unit.sheet, rated).air_ratio * float(rng.lognormal(0.0, _SET_OFF[call.kit]))
    turn = _nearest(seen, wanted)
    after = Shown(rng, seen, 1 + turn, shelves.catalogue)
    ending = _ending(rng, call, found, after)
    if ending is Ending.MENDED:
        unit.become(mended)
        unit.nature[COLUMN["air_setting"]] += _SETTINGS[turn]
    book = Notebook(
        rng=rng,
        heater=call.heater,
        started_at=call.started_at,
        until=call.until,
        meters=shelves.meters,
        catalogue=shelves.catalogue,
    )
    _as_found(book, call, found, conditions.air_temperature_k)
    if trouble and trouble.complaint and not found.steady:
        # Whoever is called for fumes inside looks along the exhaust, though nothing burns.
        book.state("exhaust_path", 26, "leaking inside", Stage.AS_FOUND)
    if trouble and ending is Ending.MENDED:
        _looked_at(book, trouble)
    if ending in (Ending.MENDED, Ending.WAITS) or call.until is not None:
        shown = found if ending is Ending.WAITS else after
        _as_left(book, call, shown, conditions, careless=rng.random() < 0.22)
        if shown is after and abs(_SETTINGS[turn]) > _STEP / 2:
            book.adjusted(78)
    return _written(call, book, here=here, fuel=fuel, ending=ending), ending


def _written(call: Call, book: Notebook, *, here: Place, fuel: Fuel, ending: Ending) -> Visit:
    trouble = call.trouble
    repaired = (trouble.done,) if trouble else ()
    done = {
        Ending.MENDED: (*repaired, _ANNUAL),
        Ending.WAITS: (_ON_ORDER,),
        Ending.ISOLATED: repaired if trouble and trouble.complaint else (_DRAINED,),
        Ending.OPEN: (),
    }
    said = next((each.state for each in book.readings if each.key == "owner_says"), None)
    says = trouble.complaint if trouble and trouble.complaint else COMPLAINTS.get(said or "", "")
    return Visit(
        id=time_ordered_id(call.started_at, book.rng.bytes(RANDOM_BYTES)),
        heater=call.heater.id,
        started_at=call.started_at,
        closed_at=None if ending is Ending.OPEN else book.at(150),
        technician="J. Aalto",
        reason="call" if trouble else "annual service",
        complaint=says,
        work_done=done[ending],
        service_complete=ending is Ending.MENDED,
        fuel=fuel.key,
        place=here,
        readings=tuple(book.readings),
        events=tuple(book.events),
    )


def _weather(rng: np.random.Generator, place: Place, at: datetime) -> Place:
    """Air of the season: colder in winter and with height."""
    winter = np.cos(2 * np.pi * (at.timetuple().tm_yday - 15) / 365)
    warmth = 10.0 - 9.0 * winter - 0.0065 * (place.altitude_m or 0.0) + rng.normal(0.0, 3.0)
    humidity = round(float(np.clip(rng.normal(0.7, 0.12), 0.3, 0.98)), 2)
    return replace(
        place, air_temperature_k=round(273.15 + float(warmth), 2), relative_humidity_fraction=humidity
    )


def _conditions(here: Place, fuel: Fuel, rated: Fuel) -> Conditions:
    """Place and fuel; the air was set where the heater was made, and what was set since is a shift."""
    air_k = here.air_temperature_k or 288.15
    return Conditions(
        fuel=fuel,
        rated_fuel=rated,
        altitude_m=here.altitude_m or 0.0,
        air_temperature_k=air_k,
        relative_humidity_fraction=here.relative_humidity_fraction or 0.0,
        fuel_temperature_k=max(air_k, 250.0),
        coolant_start_k=air_k + 4.0,
    )


def _faults(trouble: Trouble | None) -> Array:
    shifts = np.zeros(len(COLUMN))
    for fault, amount in trouble.amounts() if trouble else ():
        for key, shift in fault.shifts.items():
            shifts[COLUMN[key]] += amount * shift
    return shifts


def _turned(setting: float) -> Array:
    row = np.zeros(len(COLUMN))
    row[COLUMN["air_setting"]] = setting
    return row


def _nearest(seen: Prediction, wanted: float) -> int:
    """The turn of the setting that brings the air ratio to where the technician wants it."""
    return int(np.argmin(np.abs(np.log(seen.air_ratio[1:] / wanted))))


def _ending(rng: np.random.Generator, call: Call, found: Shown, after: Shown) -> Ending:
    if call.until is not None or call.stays_open:
        return Ending.OPEN
    if call.trouble is not None:
        if call.trouble.complaint:
            return Ending.ISOLATED
        needs_part = any(fault.part for fault in call.trouble.faults)
        if needs_part and found.steady and rng.random() < _MAY_WAIT:
            return Ending.WAITS
        wet = found.asked and not found.lit
        if needs_part and wet and rng.random() < _MAY_BE_ISOLATED:
            return Ending.ISOLATED
    # Nobody leaves a heater that does not stand after the work.
    return Ending.MENDED if after.steady else Ending.ISOLATED


def _as_found(book: Notebook, call: Call, found: Shown, intake_k: float) -> None:
    stage = Stage.AS_FOUND
    book.state("fuel_smell", 3, "none", stage)
    book.told("hour_meter", 3, call.unit.hours, stage)
    if call.trouble is not None:
        book.state("owner_says", 4, found.look("owner_says", other_than="runs well"), stage)
        book.state("last_work", 4.5, _last_work(book.rng, call.trouble), stage)
    tries = {"first try": 0, "second try": 1, "later try": 2}.get(found.light_off, call.unit.sheet.trials)
    book.told("trials_without_flame", 10, tries if found.asked else 0, stage)
    book.state("light_off", 10, found.light_off, stage)
    book.state("stop_step", 14, found.stops_at, stage)
    _electrics(book, 11, found, stage)
    if call.trouble is not None:
        for minute, key in enumerate(("igniter_lamp", "smoke_colour", "fan_sound", "compressor_sound")):
            book.state(key, 10 + 0.1 * minute, found.look(key), stage)
    if not found.lit:
        if found.asked:
            book.state("chamber_look", 20, found.look("chamber_look"), stage)
        return
    book.event(EventKind.FLAME, 10)
    book.measured("time_to_light", 10.5, found.number("time_to_light"), stage)
    if found.dies:
        ran_s = found.number("run_time_before_stop")
        book.measured("run_time_before_stop", 10 + ran_s / 60, ran_s, stage)
        book.state("air_bubbles", 13, found.look("air_bubbles"), stage)
        book.event(EventKind.FLAME_OUT, 10 + ran_s / 60)
        return
    if call.kit is Kit.PROBE:
        _gas(book, 17, 1, found, intake_k, stage)
    if call.kit is not Kit.EYES:
        _smoke(book, 19, found, stage)
    if call.trouble is not None and call.trouble.complaint:
        book.told("outdoor_co", 20, 0.4, stage, **_by(book, "living_space_co_meter"))
        book.measured("living_space_co_running", 22, found.number("living_space_co_running"), stage)
        book.state("exhaust_path", 26, "leaking inside", stage)
    book.event(EventKind.FLAME_OUT, 24)


def _last_work(rng: np.random.Generator, trouble: Trouble) -> str:
    """What the owner had touched last: work brings its own mistakes."""
    brings = [kind.replace("_", " ") for fault in trouble.faults for kind in fault.after]
    return brings[0] if brings and rng.random() < 0.7 else "nothing"


def _looked_at(book: Notebook, trouble: Trouble) -> None:
    """What the fault shows to somebody who opens and looks, as it was found."""
    for fault, amount in trouble.amounts():
        for reading, states in fault.shows.items():
            for state, chance in states.items():
                if book.rng.random() < chance * (0.5 + 0.5 * amount):
                    book.state(reading, 33, state, Stage.AS_FOUND)
                    break


def _as_left(book: Notebook, call: Call, left: Shown, conditions: Conditions, *, careless: bool) -> None:
    stage, rng = Stage.AS_LEFT, book.rng
    room, probe = _by(book, "living_space_co_meter"), _by(book, "flue_gas_probe")
    book.event(EventKind.OPENED, 30)
    book.event(EventKind.CLOSED_UP, 80)
    book.told("outdoor_co", 86, max(0.0, rng.normal(0.3, 0.4)), stage, **room)
    if not careless:
        book.told("living_space_co_off", 88, max(0.0, rng.normal(0.5, 0.5)), stage, **room)
    if call.kit is Kit.PROBE:
        book.state("probe_zero", 89, "outdoors", stage, place="ten steps upwind of the vehicle")
        book.state("sampling_line", 90, "tight", stage)
        book.told("fresh_air_o2_before", 90, 20.9 + rng.normal(0, 0.05), stage, decimals=1, **probe)
        book.told("fresh_air_co_before", 90, 0.0, stage, **probe)
    if any(each.key == "chamber_look" and each.state == "wet" for each in book.readings):
        book.state("chamber_look", 79, "dry", stage)
    book.event(EventKind.FLAME, 92)
    book.state("light_off", 92, left.light_off, stage)
    book.told("trials_without_flame", 92, 0 if left.light_off == "first try" else 1, stage)
    book.measured("time_to_light", 92.5, left.number("time_to_light"), stage)
    _electrics(book, 92.2, left, stage)
    book.told("co_response", 93, rng.uniform(6, 25), stage, **room)
    if call.kit is Kit.PROBE:
        book.told("co_response", 93, rng.uniform(40, 160), stage, **probe)
    book.state("fuel_joints_1_min", 93.5, "dry", stage)
    _warm_up(book, left, call, conditions.coolant_start_k)
    if call.kit is Kit.PROBE:
        _gas(book, 99, 1, left, conditions.air_temperature_k, stage)
        _gas(book, 101, 2, left, conditions.air_temperature_k, stage)
    book.state("fuel_joints_10_min", 102.5, "dry", stage)
    if call.kit is not Kit.EYES:
        smoke = _smoke(book, 104, left, stage)
        book.state("smoke_spot_look", 104, "grey" if smoke >= 1.0 else "no colour", stage)
        _bottle(book, 106, left, conditions)
    book.state("exhaust_path", 112, "sound and clear", stage)
    book.state("inlet_path", 112, "seated and clear", stage)
    book.measured("living_space_co_running", 116, left.number("living_space_co_running"), stage)
    if call.kit is Kit.PROBE:
        book.told("fresh_air_o2_after", 121, 20.9 + rng.normal(0, 0.05), stage, decimals=1, **probe)
        book.told("fresh_air_co_after", 121, max(0.0, rng.normal(0.3, 0.5)), stage, **probe)
    book.event(EventKind.FLAME_OUT, 124)
    ran_on = left.number("after_run_time")
    book.state("after_run", 124 + ran_on / 60, left.look("after_run"), stage)
    book.measured("after_run_time", 124 + ran_on / 60, ran_on, stage)


def _by(book: Notebook, kind: str) -> dict[str, Any]:
    """The shop's own instrument of a class."""
    return {"instrument": book.meters[kind]}


def _gas(book: Notebook, minute: float, number: int, shown: Shown, intake_k: float, stage: Stage) -> None:
    """One set of flue readings."""
    bases = {"flue_o2": "dry", "flue_co2": "measured"}
    for key in ("flue_o2", "flue_co2", "flue_co", "stack_gas_temperature"):
        book.measured(key, minute, shown.number(key), stage, set_number=number, basis=bases.get(key))
    book.measured("combustion_air_temperature", minute, intake_k, stage, set_number=number)


def _smoke(book: Notebook, minute: float, shown: Shown, stage: Stage) -> float:
    """A smoke spot, told in halves as the eye does."""
    spot = round(2.0 * max(shown.number("smoke_number") + book.rng.normal(0.0, 0.15), 0.0)) / 2.0
    book.told("smoke_number", minute, min(spot, 9.0), stage, decimals=1, **_by(book, "smoke_pump"))
    return spot


def _electrics(book: Notebook, minute: float, shown: Shown, stage: Stage) -> None:
    book.measured("supply_voltage_rest", minute - 1, shown.number("supply_voltage_rest"), stage)
    if shown.asked:
        book.measured("supply_voltage_igniter", minute, shown.number("supply_voltage_igniter"), stage)
        book.measured("igniter_current", minute, shown.number("igniter_current"), stage)


def _warm_up(book: Notebook, left: Shown, call: Call, start_k: float) -> None:
    """Coolant at the start and some minutes later, before the thermostat has its say."""
    room_k = max(call.unit.sheet.thermostat_off_k - 3.0 - start_k, 10.0)
    minutes = int(np.clip(room_k / max(60.0 * left.number("warm_up_rate"), 0.1), 2, 9))
    end_k = start_k + min(60.0 * minutes * left.number("warm_up_rate"), room_k)
    book.measured("coolant_temperature_start", 93, start_k, Stage.AS_LEFT)
    book.measured("coolant_temperature_end", 93 + minutes, end_k, Stage.AS_LEFT)
    book.told("warm_up_time", 93 + minutes, minutes, Stage.AS_LEFT)


def _bottle(book: Notebook, minute: float, left: Shown, conditions: Conditions) -> None:
    """A measured bottle at the fuel's temperature."""
    seconds, liquid_k = 480.0, conditions.fuel_temperature_k
    volume = left.number("fuel_flow") * seconds / float(density_kg_m3(conditions.fuel, liquid_k))
    book.measured("fuel_volume", minute, volume, Stage.AS_LEFT)
    book.told("fuel_time", minute, seconds, Stage.AS_LEFT)
    book.measured("fuel_temperature", minute, liquid_k, Stage.AS_LEFT)

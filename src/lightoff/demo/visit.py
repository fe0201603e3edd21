"""One invented visit: what a careful technician would read of a heater in this state, minute by minute.

The gas is made atom by atom by the physics; meters add noise well inside their class. It is a plain
generator and not the judging model: what it invents is judged like any other visit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import Decimal
from enum import Enum

import numpy as np

from lightoff.demo.unit import Unit
from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.physics import air, altitude, burn
from lightoff.physics.fuel import Fuel, density_kg_m3
from lightoff.terms.people import Heater
from lightoff.terms.visit import Event, EventKind, Place, Reading, Stage, Visit


class Kit(Enum):
    """Which instruments came along."""

    EYES = 1
    BOTTLE = 2
    PROBE = 3


class Trouble(Enum):
    """What is wrong on arrival; the number is how often, relative to the others."""

    NONE = ("", 0.0)
    RICH = ("Smokes and smells.", 3.0)
    AIR_LEAK = ("Lights, then dies.", 3.0)
    WEAK_IGNITER = ("Takes long to light, sometimes twice.", 4.0)
    LOW_SUPPLY = ("Does not start in the morning.", 3.0)
    SOOTED = ("Takes longer to heat than last year.", 3.0)
    INDOORS = ("Headache in the morning.", 1.0)
    WET = ("Tried several times, does not light.", 1.2)
    JOINT = ("Smell of fuel in the compartment.", 1.2)

    @property
    def complaint(self) -> str:
        """What the owner says."""
        return self.value[0]

    @property
    def weight(self) -> float:
        """How often it is met, relative to the others."""
        return self.value[1]


_CURES = {
    Trouble.RICH: "The inlet tube was seated again and the air was set.",
    Trouble.AIR_LEAK: "The O-ring of the filter head was renewed; it drew air.",
    Trouble.WEAK_IGNITER: "The igniter was renewed.",
    Trouble.LOW_SUPPLY: "The corroded ground lug was cleaned and the supply lead renewed.",
    Trouble.SOOTED: "Burn tube and jacket were brushed clean.",
    Trouble.INDOORS: "The exhaust clamp inside the compartment had opened; the vehicle was left and aired.",
    Trouble.WET: "The chamber was drained and left to dry; the heater stays isolated.",
    Trouble.JOINT: "The flare at the pump was made again.",
}
_ANNUAL = "Nozzle filter, nozzle O-ring, fuel filter and compressor intake filter were renewed."


@dataclass(slots=True, kw_only=True)
class _Notebook:
    """Gathers readings and events of one visit with their times."""

    rng: np.random.Generator
    heater: Heater
    started_at: datetime
    until: datetime | None
    meters: Mapping[str, str]
    readings: list[Reading] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)

    def at(self, minute: float) -> datetime:
        return self.started_at + timedelta(seconds=round(60 * minute))

    def future(self, minute: float) -> bool:
        return self.until is not None and self.at(minute) >= self.until

    def number(
        self, key: str, minute: float, value: float, unit: str, decimals: int, stage: Stage, **more: object
    ) -> None:
        shown = Decimal(f"{max(value, 0.0) if unit not in ('degC',) else value:.{decimals}f}")
        self._add(key, minute, stage, value=shown, unit=unit, confirmed=shown == 0, **more)

    def state(self, key: str, minute: float, state: str, stage: Stage, **more: object) -> None:
        self._add(key, minute, stage, state=state, **more)

    def event(self, kind: EventKind, minute: float) -> None:
        if not self.future(minute):
            at = self.at(minute)
            self.events.append(Event(id=self._id(at), heater=self.heater.id, kind=kind, at=at))

    def _add(self, key: str, minute: float, stage: Stage, **more: object) -> None:
        if self.future(minute):
            return
        at = self.at(minute)
        if stage is Stage.AS_LEFT:
            more.setdefault("test", "1")
        self.readings.append(
            Reading(
                id=self._id(at),
                heater=self.heater.id,
                key=key,
                stage=stage,
                taken_at=at,
                **more,  # type: ignore[arg-type]
            )
        )

    def _id(self, at: datetime) -> str:
        return time_ordered_id(at, self.rng.bytes(RANDOM_BYTES))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Burn:
    """The state of the flame and of the rest, as found or as left."""

    air_ratio: float
    co_ppm: float
    smoke: float
    stack_rise_k: float
    light_off_s: float
    igniter_share: float
    rest_v: float
    wiring_ohm: float
    inside_ppm: float


def invent_visit(
    rng: np.random.Generator,
    *,
    heater: Heater,
    unit: Unit,
    place: Place,
    fuels: Mapping[str, Fuel],
    started_at: datetime,
    kit: Kit,
    trouble: Trouble,
    meters: Mapping[str, str],
    until: datetime | None,
) -> Visit:
    """One visit of this kit to this heater; what lies after `until` has not happened yet.

    `meters` names the shop's instrument of each class.
    """
    here = _weather(rng, place, started_at)
    fuel = fuels[("diesel_2", "diesel_2", "b5", "winter_50_50")[int(rng.integers(4))]]
    book = _Notebook(rng=rng, heater=heater, started_at=started_at, until=until, meters=meters)
    found, left = _states(rng, unit, here, trouble)
    hopeless = trouble in (Trouble.INDOORS, Trouble.WET)
    # Now and then a part is on order, and the heater is left as it was found, to be mended later.
    waits = trouble in (Trouble.RICH, Trouble.SOOTED) and rng.random() < 0.6
    left = replace(found, inside_ppm=left.inside_ppm) if waits else left
    _as_found(book, kit, found, trouble, unit, here, fuel)
    if not hopeless:
        _as_left(book, kit, left, unit, here, fuel, careless=rng.random() < 0.22)
    serviced = not hopeless and not waits and until is None
    done: tuple[str, ...] = (_CURES[trouble],) if trouble in _CURES and until is None else ()
    done = ("A part is on order; the heater was left as it was found.",) if waits else done
    return Visit(
        id=time_ordered_id(started_at, rng.bytes(RANDOM_BYTES)),
        heater=heater.id,
        started_at=started_at,
        closed_at=None if until is not None else book.at(150),
        technician="J. Aalto",
        reason="call" if trouble is not Trouble.NONE else "annual service",
        complaint=trouble.complaint,
        work_done=(*done, _ANNUAL) if serviced else done,
        service_complete=serviced,
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


def _states(rng: np.random.Generator, unit: Unit, here: Place, trouble: Trouble) -> tuple[_Burn, _Burn]:
    change = float(
        altitude.air_ratio_change(
            here=altitude.REFERENCE_PLACE,
            there=altitude.Place.at_altitude(
                here.altitude_m or 0.0,
                air_temperature_k=here.air_temperature_k,
                relative_humidity_fraction=here.relative_humidity_fraction or 0.0,
            ),
            law=altitude.feed_laws(unit.sheet.feed)[0],
        )
    )
    # A technician sets the air for the place: what is left is near the unit's own setting.
    ratio = max(1.18, unit.air_ratio * change**0.35)
    worn = 1.0 - 0.25 * min(unit.igniter_wear, 0.5)
    left = _Burn(
        air_ratio=ratio,
        co_ppm=_co(ratio, 0.0, rng),
        smoke=float(np.clip(rng.normal(0.15, 0.2), 0.0, 0.5)),
        stack_rise_k=unit.clean_stack_rise_k * (1.0 + 0.1 * unit.soot),
        light_off_s=unit.light_off_s * (1.0 + 0.5 * unit.igniter_wear),
        igniter_share=worn,
        rest_v=unit.sheet.supply_v * float(rng.normal(1.055, 0.012)),
        wiring_ohm=unit.wiring_ohm,
        inside_ppm=float(max(0.0, rng.normal(0.6, 0.6))),
    )
    found = replace(
        left,
        co_ppm=_co(ratio, unit.soot, rng),
        smoke=float(np.clip(0.3 + 2.2 * unit.soot, 0.0, 5.0)),
        stack_rise_k=unit.stack_rise_k,
    )
    match trouble:
        case Trouble.RICH:
            rich = float(rng.uniform(1.03, 1.13))
            found = replace(found, air_ratio=rich, co_ppm=_co(rich, unit.soot, rng), smoke=4.5)
        case Trouble.WEAK_IGNITER:
            found = replace(found, igniter_share=0.72, light_off_s=2.1 * unit.light_off_s)
            left = replace(left, igniter_share=1.0, light_off_s=unit.light_off_s)
            unit.igniter_wear = 0.0
        case Trouble.LOW_SUPPLY:
            found = replace(found, wiring_ohm=0.19, rest_v=0.985 * unit.sheet.supply_v)
        case Trouble.SOOTED:
            found = replace(found, stack_rise_k=1.4 * unit.clean_stack_rise_k, smoke=2.5)
        case Trouble.INDOORS:
            found = replace(found, inside_ppm=float(rng.uniform(38, 95)))
        case _:
            pass
    return found, left


def _co(air_ratio: float, soot: float, rng: np.random.Generator) -> float:
    """CO of the flame in ppm of dry gas: a floor, a wall towards too little air, a slope towards too much."""
    rich = 900.0 * float(np.exp(-(air_ratio - 1.05) / 0.035))
    lean = 90.0 * max(0.0, air_ratio - 1.6)
    return float((26.0 + rich + lean + 60.0 * soot) * rng.lognormal(0.0, 0.12))


def _as_found(
    book: _Notebook, kit: Kit, state: _Burn, trouble: Trouble, unit: Unit, here: Place, fuel: Fuel
) -> None:
    stage = Stage.AS_FOUND
    book.state("fuel_smell", 3, "strong" if trouble is Trouble.JOINT else "none", stage)
    book.number("hour_meter", 3, float(book.rng.integers(300, 2600)), "h", 0, stage)
    if trouble is Trouble.WET:
        book.number("trials_without_flame", 8, 3, "count", 0, stage)
        book.state("chamber_look", 20, "wet", stage)
        book.state("light_off", 8, "did not light", stage)
        return
    second = trouble in (Trouble.WEAK_IGNITER, Trouble.AIR_LEAK)
    book.number("trials_without_flame", 10, 1.0 if second else 0.0, "count", 0, stage)
    book.state("light_off", 10, "second try" if second else "first try", stage)
    _electrics(book, 11, state, unit, stage)
    book.event(EventKind.FLAME, 10)
    book.number("time_to_light", 10.5, state.light_off_s + book.rng.normal(0, 1), "s", 0, stage)
    if trouble is Trouble.JOINT:
        book.state("fuel_joints_1_min", 12, "dripping", stage)
        book.event(EventKind.FLAME_OUT, 12.5)
        return
    if trouble is Trouble.AIR_LEAK:
        book.state("stop_step", 14, "running", stage)
        book.event(EventKind.FLAME_OUT, 14)
        return
    if kit is Kit.PROBE:
        _gas(book, 17, 1, state, here, fuel, stage)
    if kit is not Kit.EYES:
        book.number(
            "smoke_number", 19, round(2 * state.smoke) / 2, "smoke no.", 1, stage, **_by(book, "smoke_pump")
        )
    if trouble is Trouble.INDOORS:
        meter = _by(book, "living_space_co_meter")
        book.number("outdoor_co", 20, 0.4, "ppm", 0, stage, **meter)
        book.number("living_space_co_running", 22, state.inside_ppm, "ppm", 0, stage, **meter)
        book.state("exhaust_path", 26, "leaking inside", stage)
    book.event(EventKind.FLAME_OUT, 24)


def _as_left(
    book: _Notebook, kit: Kit, state: _Burn, unit: Unit, here: Place, fuel: Fuel, *, careless: bool
) -> None:
    stage, rng = Stage.AS_LEFT, book.rng
    room, probe = _by(book, "living_space_co_meter"), _by(book, "flue_gas_probe")
    book.event(EventKind.OPENED, 30)
    book.event(EventKind.CLOSED_UP, 80)
    book.number("outdoor_co", 86, max(0.0, rng.normal(0.3, 0.4)), "ppm", 0, stage, **room)
    if not careless:
        book.number("living_space_co_off", 88, max(0.0, rng.normal(0.5, 0.5)), "ppm", 0, stage, **room)
    if kit is Kit.PROBE:
        book.state("probe_zero", 89, "outdoors", stage, place="ten steps upwind of the vehicle")
        book.state("sampling_line", 90, "tight", stage)
        book.number("fresh_air_o2_before", 90, 20.9 + rng.normal(0, 0.05), "%", 1, stage, **probe)
        book.number("fresh_air_co_before", 90, 0.0, "ppm", 0, stage, **probe)
    book.event(EventKind.FLAME, 92)
    book.state("light_off", 92, "first try", stage)
    book.number("trials_without_flame", 92, 0, "count", 0, stage)
    book.number("time_to_light", 92.5, state.light_off_s + rng.normal(0, 1), "s", 0, stage)
    _electrics(book, 92.2, state, unit, stage)
    book.number("co_response", 93, rng.uniform(6, 25), "ppm", 0, stage, **room)
    if kit is Kit.PROBE:
        book.number("co_response", 93, rng.uniform(40, 160), "ppm", 0, stage, **probe)
    book.state("fuel_joints_1_min", 93.5, "dry", stage)
    start = here.air_temperature_k or 288.15
    thermometer = _by(book, "contact_thermometer")
    book.number("coolant_temperature_start", 93, start + 4 - 273.15, "degC", 0, stage, **thermometer)
    if kit is Kit.PROBE:
        _gas(book, 99, 1, state, here, fuel, stage)
        _gas(book, 101, 2, state, here, fuel, stage)
    book.state("fuel_joints_10_min", 102.5, "dry", stage)
    sheet = unit.sheet
    full = sheet.heat_output_w / (3.7e6 * sheet.coolant_volume_m3)  # K/s into its own coolant
    warm = min(start + 4 + 600 * full * rng.uniform(0.5, 0.85), sheet.thermostat_off_k - 1)
    book.number("coolant_temperature_end", 103, warm - 273.15, "degC", 0, stage, **thermometer)
    book.number("warm_up_time", 103, 10, "min", 0, stage)
    if kit is not Kit.EYES:
        book.number(
            "smoke_number",
            104,
            round(2 * state.smoke) / 2,
            "smoke no.",
            1,
            stage,
            **_by(book, "smoke_pump"),
        )
        book.state("smoke_spot_look", 104, "grey" if state.smoke >= 1.0 else "no colour", stage)
        _bottle(book, 106, unit, fuel, start, stage)
    book.state("exhaust_path", 112, "sound and clear", stage)
    book.state("inlet_path", 112, "seated and clear", stage)
    book.number("living_space_co_running", 116, state.inside_ppm, "ppm", 0, stage, **room)
    if kit is Kit.PROBE:
        book.number("fresh_air_o2_after", 121, 20.9 + rng.normal(0, 0.05), "%", 1, stage, **probe)
        book.number("fresh_air_co_after", 121, max(0.0, rng.normal(0.3, 0.5)), "ppm", 0, stage, **probe)
    book.event(EventKind.FLAME_OUT, 124)
    book.state("after_run", 124 + sheet.after_run_s / 60, "ran its length", stage)
    book.number(
        "after_run_time", 124 + sheet.after_run_s / 60, sheet.after_run_s + rng.normal(0, 2), "s", 0, stage
    )


def _by(book: _Notebook, kind: str) -> dict[str, object]:
    """The shop's own instrument of a class."""
    return {"instrument": book.meters[kind]}


def _gas(
    book: _Notebook, minute: float, number: int, state: _Burn, here: Place, fuel: Fuel, stage: Stage
) -> None:
    """One set of flue readings: the fuel burned atom by atom, read with a little noise."""
    rng, probe = book.rng, _by(book, "flue_gas_probe")
    gas = burn.products(
        fuel.stoichiometry, air_ratio=max(state.air_ratio, 1.0), co_dry_fraction=state.co_ppm * 1e-6
    ).dry_fractions()
    intake = (here.air_temperature_k or 288.15) + 1.0
    stack = intake + state.stack_rise_k * (1.0 + 0.25 * (state.air_ratio - 1.35))
    more = {**probe, "set_number": number}
    book.number(
        "flue_o2", minute, 100 * float(gas["O2"]) + rng.normal(0, 0.05), "%", 1, stage, basis="dry", **more
    )
    book.number(
        "flue_co2",
        minute,
        100 * float(gas["CO2"]) + rng.normal(0, 0.06),
        "%",
        1,
        stage,
        basis="measured",
        **more,
    )
    book.number("flue_co", minute, state.co_ppm + rng.normal(0, 1.5), "ppm", 0, stage, **more)
    book.number(
        "stack_gas_temperature", minute, stack - 273.15 + rng.normal(0, 1.0), "degC", 0, stage, **more
    )
    book.number(
        "combustion_air_temperature", minute, intake - 273.15 + rng.normal(0, 0.3), "degC", 0, stage, **more
    )


def _electrics(book: _Notebook, minute: float, state: _Burn, unit: Unit, stage: Stage) -> None:
    sheet, rng = unit.sheet, book.rng
    ohm = sheet.igniter_v**2 / sheet.igniter_w / state.igniter_share
    current = state.rest_v / (ohm + state.wiring_ohm)
    meter = _by(book, "multimeter")
    book.number("supply_voltage_rest", minute - 1, state.rest_v, "V", 1, stage, **meter)
    loaded = state.rest_v - current * state.wiring_ohm
    book.number("supply_voltage_igniter", minute, loaded, "V", 1, stage, **meter)
    book.number(
        "igniter_current", minute, current + rng.normal(0, 0.05), "A", 1, stage, **_by(book, "dc_clamp")
    )


def _bottle(book: _Notebook, minute: float, unit: Unit, fuel: Fuel, air_k: float, stage: Stage) -> None:
    """A measured bottle: the rated mass of fuel, give or take, at the fuel's temperature."""
    seconds = 480.0
    mass = unit.sheet.fuel_flow_kg_s * seconds * book.rng.normal(1.0, 0.025)
    volume = mass / float(density_kg_m3(fuel, max(air_k, air.REFERENCE_AIR_TEMPERATURE_K - 25.0)))
    book.number("fuel_volume", minute, 1e6 * volume, "mL", 0, stage, **_by(book, "measured_bottle"))
    book.number("fuel_time", minute, seconds, "s", 0, stage)
    book.number(
        "fuel_temperature", minute, air_k - 273.15, "degC", 0, stage, **_by(book, "contact_thermometer")
    )

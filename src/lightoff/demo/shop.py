"""An invented shop over three seasons, drawn from one seed and the plant's own physics."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import date, datetime, timedelta

import numpy as np

from lightoff.demo import names
from lightoff.demo.troubles import FUMES_INSIDE, NO_HEAT, draw_trouble
from lightoff.demo.unit import Unit, draw_unit
from lightoff.demo.visit import Call, Ending, Kit, Shelves, invent_visit
from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.ground.values import dataclass
from lightoff.physics.fuel import Fuel
from lightoff.terms.case import Case
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Vehicle, VehicleKind
from lightoff.terms.shelf import Catalogue, Fault, Sheet
from lightoff.terms.visit import Place, Visit

HEATERS = 64
SEASONS = 3
_KINDS = (
    (VehicleKind.COACH, 18),
    (VehicleKind.BOAT, 14),
    (VehicleKind.CABIN, 12),
    (VehicleKind.WORKSHOP, 10),
)
_CALLS = (5, 17, 29)
"""Places in the fleet whose last call is not finished."""
_LEFT_OFF = HEATERS - 1
"""Place of the heater that was left switched off a week ago: a list of who needs a visit begins with it."""
_KITS = (Kit.PROBE, Kit.PROBE, Kit.PROBE, Kit.PROBE, Kit.PROBE, Kit.BOTTLE, Kit.EYES)


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoShop:
    """The shop and one case a visit, oldest first; `open_visit` is the one still under way, `calls` those
    that will be gone on with another day. `units` are the heaters as their last visit left them, by id.
    """

    shop: Shop
    cases: tuple[Case, ...]
    open_visit: str
    calls: tuple[str, ...]
    units: Mapping[str, Unit] = field(compare=False)  # arrays, which compare each number for itself


def invent_shop(
    rng: np.random.Generator,
    *,
    fuels: Mapping[str, Fuel],
    sheets: Mapping[str, Sheet],
    faults: Mapping[str, Fault],
    catalogue: Catalogue,
    now: datetime,
    more_of: DemoShop | None = None,
    number: int = 1,
) -> DemoShop:
    """Sixty-four heaters and some three hundred visits up to `now`, marked as invented throughout.

    `more_of` is a shop invented before, which gets more heaters: its instruments read them, and their
    vehicles bear the `number` behind their names.
    """
    shop = _shop()
    instruments = more_of.cases[0].instruments if more_of else _instruments(rng, now)
    meters = {each.kind: each.id for each in instruments.values()}
    shelves = Shelves(fuels=fuels, catalogue=catalogue, meters=meters)
    cases: list[Case] = []
    units = dict[str, Unit]()
    open_visit, calls = "", []
    for index, (owner, vehicle, heater, unit, place) in enumerate(_fleet(rng, sheets, now, number)):
        visits = _visits(rng, (heater, unit, place), faults, shelves, now=now)
        units[heater.id] = unit
        if index == 0 or index in _CALLS:
            started = now - (timedelta(minutes=45) if index == 0 else timedelta(hours=20 + index))
            trouble = draw_trouble(rng, faults, among=(NO_HEAT[_CALLS.index(index)],)) if index else None
            call = Call(
                heater=heater,
                unit=unit,
                place=place,
                started_at=started,
                kit=Kit.PROBE,
                trouble=trouble,
                until=None if index else now,
                stays_open=index != 0,
            )
            under_way, _ = invent_visit(rng, call, shelves)
            if index == 0:
                open_visit = under_way.id
            else:
                calls.append(under_way.id)
            visits.append(under_way)
        if index == _LEFT_OFF:
            # A generator of its own: at whatever hour the shop is invented, this call is in it.
            drawn = rng.spawn(1)[0]
            call = Call(
                heater=heater,
                unit=unit,
                place=place,
                started_at=(now - timedelta(days=7)).replace(hour=10, minute=20, second=0),
                kit=Kit.PROBE,
                trouble=draw_trouble(drawn, faults, among=(FUMES_INSIDE,)),
            )
            visits = [each for each in visits if each.started_at < call.started_at]
            visits.append(invent_visit(drawn, call, shelves)[0])
        cases.extend(
            Case(
                visit=visit,
                heater=heater,
                vehicle=vehicle,
                owner=owner,
                instruments=instruments,
                shop=shop,
            )
            for visit in visits
        )
    cases.sort(key=lambda case: (case.visit.started_at, case.visit.id))
    return DemoShop(shop=shop, cases=tuple(cases), open_visit=open_visit, calls=tuple(calls), units=units)


def _shop() -> Shop:
    name, address, telephone, email, technician = names.SHOP
    return Shop(
        name=name, address=address, telephone=telephone, email=email, technician=technician, invented=True
    )


def _instruments(rng: np.random.Generator, now: datetime) -> Mapping[str, Instrument]:
    """The van's meters; electronic ones go for calibration each September."""
    september = date(now.year if now.month > 9 else now.year - 1, 9, 2)
    earlier = tuple(september.replace(year=september.year - back) for back in range(1, SEASONS + 1))
    listed = (
        ("Flue gas probe", "flue_gas_probe", True),
        ("Room CO meter", "living_space_co_meter", True),
        ("Smoke pump", "smoke_pump", False),
        ("Contact thermometer", "contact_thermometer", True),
        ("Multimeter", "multimeter", True),
        ("DC clamp", "dc_clamp", True),
        ("Measured bottle", "measured_bottle", False),
        ("Low pressure gauge", "low_pressure_gauge", False),
    )
    made = {}
    for name, kind, electronic in listed:
        id_ = _id(rng, now - timedelta(days=900))
        made[id_] = Instrument(
            id=id_,
            name=name,
            kind=kind,
            serial=f"INV-{int(rng.integers(1000, 9999))}",
            calibrated_on=september if electronic else None,
            earlier_calibrations=earlier if electronic else (),
            o2_basis="dry" if kind == "flue_gas_probe" else "",
        )
    return made


def _fleet(
    rng: np.random.Generator, sheets: Mapping[str, Sheet], now: datetime, number: int
) -> list[tuple[Owner, Vehicle, Heater, Unit, Place]]:
    begun = now - timedelta(days=365 * SEASONS + 60)
    people = [f"{first} {last}" for first in names.FIRST for last in names.LAST]
    rng.shuffle(people)
    keys = sorted(sheets)
    fleet = []
    for kind, count in _KINDS:
        for name in names.VEHICLES[kind][:count]:
            owner_name = "Mira Oduya" if name == "Saltgrass" else people.pop()
            owner = Owner(
                id=_id(rng, begun),
                name=owner_name,
                telephone=f"555 01{int(rng.integers(10, 99))}",
                email=f"{owner_name.split()[0].lower()}@example.invalid",
            )
            shown = name if number == 1 else f"{name} {number}"
            vehicle = Vehicle(id=_id(rng, begun), owner=owner.id, name=shown, kind=kind)
            spot, altitude = names.PLACES[int(rng.integers(len(names.PLACES)))]
            if kind is VehicleKind.BOAT:
                spot, altitude = names.PLACES[int(rng.integers(3))]
            which = ("aft heater", "forward heater") if rng.random() < 0.32 else ("heater",)
            if name == "Saltgrass":
                which = ("aft heater",)
            for each in which:
                sheet = sheets[keys[int(rng.integers(len(keys)))]]
                heater = Heater(
                    id=_id(rng, begun),
                    vehicle=vehicle.id,
                    name=each,
                    sheet=sheet.key,
                    serial=f"{int(rng.integers(100, 9999)):04d}",
                    fitted_on=(begun - timedelta(days=int(rng.integers(0, 1500)))).date(),
                )
                fleet.append(
                    (owner, vehicle, heater, draw_unit(rng, sheet), Place(name=spot, altitude_m=altitude))
                )
    fleet.sort(key=lambda row: not row[1].name.startswith("Saltgrass"))
    return fleet[:HEATERS]


def _visits(
    rng: np.random.Generator,
    whose: tuple[Heater, Unit, Place],
    faults: Mapping[str, Fault],
    shelves: Shelves,
    *,
    now: datetime,
) -> list[Visit]:
    """Autumn services, and in between the calls that a heater's nature brings; wear grows with time."""
    heater, unit, place = whose
    visits: list[Visit] = []
    begun = now - timedelta(days=365 * SEASONS)
    last, waiting = begun, None
    for started, chance in _plan(rng, unit.frailty, begun):
        if started > now - timedelta(days=1):
            continue
        unit.age(rng, years=max((started - last).days, 0) / 365.0)
        last = started
        trouble = waiting or (draw_trouble(rng, faults) if rng.random() < chance else None)
        call = Call(
            heater=heater,
            unit=unit,
            place=place,
            started_at=started,
            kit=_KITS[int(rng.integers(len(_KITS)))],
            trouble=trouble,
        )
        visit, ending = invent_visit(rng, call, shelves)
        # What was left as it was found is met again.
        waiting = trouble if ending in (Ending.WAITS, Ending.ISOLATED) else None
        visits.append(visit)
    return visits


def _plan(rng: np.random.Generator, frailty: float, begun: datetime) -> list[tuple[datetime, float]]:
    """When the shop comes, and how likely it is that something is wrong then."""
    plan = []
    for season in range(SEASONS):
        autumn = begun + timedelta(days=365 * season + int(rng.integers(-20, 70)))
        plan.append((autumn, 0.12))
        if rng.random() < frailty:
            plan.append((autumn + timedelta(days=int(rng.integers(60, 130))), 0.85))
        if rng.random() < 0.26:
            plan.append((autumn + timedelta(days=int(rng.integers(140, 200))), 0.1))
    return [
        (day.replace(hour=int(rng.integers(8, 15)), minute=int(rng.integers(0, 60)), second=0), chance)
        for day, chance in plan
    ]


def _id(rng: np.random.Generator, at: datetime) -> str:
    return time_ordered_id(at, rng.bytes(RANDOM_BYTES))

"""Serves an invented shop from a folder: the real server, to be killed. Arguments: folder, port, kit.

Its clock goes ahead of the computer's by the seconds that stand in the file "ahead" beside the shop.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import uvicorn

from lightoff.ground.ids import time_ordered_id
from lightoff.records import SHOP, Noun, body_of
from lightoff.terms.entry import Entry
from lightoff.terms.part import MoveKind
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Vehicle, VehicleKind
from lightoff.terms.visit import Place, Reading, Stage
from lightoff.web.app import create_app
from lightoff.work.close_visit import close_visit
from lightoff.work.move_part import Exchange, move_part
from lightoff.work.start_visit import start_visit
from lightoff.work.workshop import Workshop, open_shop

PROBE = {"flue_gas_probe": "Probe A", "smoke_pump": "Smoke pump"}
PLAIN = {"living_space_co_meter": "Room CO meter", "multimeter": "Multimeter", "dc_clamp": "Clamp"}
# What a shop of kit one, two and three owns.
ONE = {**PLAIN, "contact_thermometer": "Contact thermometer"}
TWO = {
    **ONE,
    "smoke_pump": "Smoke pump",
    "measured_bottle": "Measured bottle",
    "low_pressure_gauge": "Air gauge",
    "vacuum_gauge": "Vacuum gauge",
}
KITS = {"plain": PLAIN, "full": {**PROBE, **PLAIN}, "one": ONE, "two": TWO, "three": {**TWO, **PROBE}}
SERVED = ("one", "two", "three")  # shops that were here a year ago
BOATS = {"Saltgrass": "aft heater", "Sandpiper": "bow heater", "Whimbrel": "rear heater"}


def keep(workshop: Workshop, noun: Noun, named: str, *, subject: str) -> None:
    """One noun into the book."""
    now = datetime.now(tz=UTC)
    id_ = time_ordered_id(now, os.urandom(10))
    entry = Entry(id=id_, subject=subject, field=named, value=body_of(noun), author="J. Aalto", at=now)
    workshop.book.keep([entry])


def furnish(workshop: Workshop, *, owned: dict[str, str], reads_dry: tuple[str, ...] = ()) -> None:
    """Three vehicles of one owner, and the shop's instruments; of some it was said that they dry the gas."""
    keep(workshop, Shop(name="Tern Lane Heat", technician="J. Aalto", invented=True), "shop", subject=SHOP)
    keep(workshop, Owner(id="owner-1", name="Mira Oduya"), "owner", subject="owner-1")
    for vehicle, heater in BOATS.items():
        boat = Vehicle(id=f"v-{vehicle}", owner="owner-1", name=vehicle, kind=VehicleKind.BOAT)
        keep(workshop, boat, "vehicle", subject=boat.id)
        unit = Heater(id=f"h-{vehicle}", vehicle=boat.id, name=heater, sheet="generic_12_kw", serial="0417")
        keep(workshop, unit, "heater", subject=unit.id)
    for kind, name in owned.items():
        meter = Instrument(id=f"m-{kind}", name=name, kind=kind, calibrated_on=date.today())
        if kind in reads_dry:
            meter = replace(meter, o2_basis="dry")
        keep(workshop, meter, "instrument", subject=meter.id)


def serve_last_year(workshop: Workshop, *, owned: dict[str, str]) -> None:
    """Last year's service of the first heater: fuel and place, how the probe read, a spare igniter aboard."""
    then, heater, by = datetime.now(tz=UTC) - timedelta(days=366), "h-Saltgrass", "J. Aalto"
    place = Place(name="Kestrel Quay", altitude_m=4.0)
    visit = start_visit(
        workshop, heater, then, author=by, randomness=os.urandom(10), fuel="diesel_2", place=place
    )

    def new_id() -> str:
        return time_ordered_id(datetime.now(tz=UTC), os.urandom(10))

    for key, value, basis in (("flue_o2", "5.0", "dry"), ("flue_co2", "11.7", "measured")):
        if "flue_gas_probe" in owned:
            read = Reading(
                id=new_id(),
                heater=heater,
                key=key,
                stage=Stage.AS_LEFT,
                value=Decimal(value),
                unit="%",
                instrument="m-flue_gas_probe",
                basis=basis,
                taken_at=then + timedelta(minutes=40),
                test="1",
                set_number=1,
            )
            keep(workshop, read, "reading", subject=visit)
    kept = Exchange(kind="igniter", fate=MoveKind.KEPT)
    move_part(workshop, visit, kept, then + timedelta(hours=1), author=by, new_id=new_id)
    about = replace(workshop.book.visit(visit), service_complete=True)
    stands = workshop.book.standing("visit", visit)[0].id
    said = Entry(
        id=new_id(), subject=visit, field="visit", value=body_of(about), author=by, at=then, corrects=stands
    )
    workshop.book.keep([said])
    close_visit(workshop, visit, then + timedelta(hours=2), author=by, randomness=os.urandom(10))


def main() -> None:
    """Open or furnish, then serve until killed."""
    folder, port = Path(sys.argv[1]), int(sys.argv[2])
    is_new = not folder.exists()
    workshop = open_shop(folder)
    ahead = folder.with_name("ahead")

    def now() -> datetime:
        return datetime.now(tz=UTC) + timedelta(seconds=float(ahead.read_text()) if ahead.exists() else 0)

    if is_new:
        served = sys.argv[3] in SERVED
        furnish(workshop, owned=KITS[sys.argv[3]], reads_dry=("flue_gas_probe",) if served else ())
        if served:
            serve_last_year(workshop, owned=KITS[sys.argv[3]])
    uvicorn.run(create_app(workshop, now=now), host="127.0.0.1", port=port, log_level="warning")


if __name__ == "__main__":
    main()

"""Owners, vehicles and heaters: added and mended on one page."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff.ground.errors import Refusal
from lightoff.terms.entry import Entry
from lightoff.terms.people import Heater, Owner, Vehicle, VehicleKind
from lightoff.web.conflicts import of_heater
from lightoff.web.forms import LONGEST_TEXT, Typed, entry_of, mended, new_id, standing
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.find_known import find_known

rooms = Rooms()


@rooms.get("/heaters/new")
def new_heater(request: Request) -> Response:
    """A blank page for a heater, its vehicle and its owner; what is known already is not asked again.

    `known` are words to find an owner or a vehicle by that stands in the book.
    """
    page = Page.of(request)
    owner, vehicle = page.asked("owner"), page.asked("vehicle")
    known_vehicle = page.book.vehicle(vehicle) if vehicle else None
    known_owner = (
        page.book.owner(known_vehicle.owner if known_vehicle else owner) if vehicle or owner else None
    )
    values = {"owner": owner, "vehicle": vehicle, "shown_at": page.now.isoformat()}
    for name in ("owner_id", "vehicle_id", "heater_id", "owner_entry", "vehicle_entry", "heater_entry"):
        values[name] = new_id(page.now)
    return _form(page, values=values, owner=known_owner, vehicle=known_vehicle, searched=page.asked("known"))


@rooms.post("/heaters/new")
async def add_heater(request: Request) -> Response:
    """Keeps a new heater with its vehicle and owner."""
    page = Page.of(request)
    typed = await Typed.of(request)
    at = typed.moment("shown_at", page.now)
    kind, _, picked = typed.line("pick").partition(":")
    vehicle_id = picked if kind == "vehicle" else typed.line("vehicle")
    owner_id = picked if kind == "owner" else typed.line("owner")
    vehicle = page.book.vehicle(vehicle_id) if vehicle_id else None
    owner = page.book.owner(vehicle.owner if vehicle else owner_id) if vehicle or owner_id else None
    entries: list[Entry] = []
    if owner is None:
        owner = _owner(typed, id=typed.identity("owner_id", at))
        entries.append(_entry(page, owner, "owner", at, typed.identity("owner_entry", at)))
        owner_made = True
    else:
        owner_made = False
    vehicle_made = vehicle is None
    if vehicle is None:
        vehicle = _vehicle(typed, id=typed.identity("vehicle_id", at), owner=owner.id)
        entries.append(_entry(page, vehicle, "vehicle", at, typed.identity("vehicle_entry", at)))
    heater = _heater(page, typed, id=typed.identity("heater_id", at), vehicle=vehicle.id)
    entries.append(_entry(page, heater, "heater", at, typed.identity("heater_entry", at)))
    if not typed.problems:
        try:
            page.book.keep(entries)
            return RedirectResponse(f"/heaters/{heater.id}", status_code=303)
        except Refusal as refusal:
            typed.gather(refusal)
    return _form(
        page,
        values={**typed.values, "owner": owner_id, "vehicle": vehicle_id},
        owner=None if owner_made else owner,
        vehicle=None if vehicle_made else vehicle,
        typed=typed,
    )


@rooms.get("/heaters/{id}/edit")
def edit_heater(request: Request, id: str) -> Response:  # noqa: A002
    """The same page, filled."""
    page = Page.of(request)
    heater = page.book.heater(id)
    vehicle = page.book.vehicle(heater.vehicle)
    owner = page.book.owner(vehicle.owner)
    values = {
        "owner_stands": standing(page.book, "owner", owner.id),
        "vehicle_stands": standing(page.book, "vehicle", vehicle.id),
        "heater_stands": standing(page.book, "heater", heater.id),
        "owner_name": owner.name,
        "owner_address": owner.address,
        "owner_telephone": owner.telephone,
        "owner_email": owner.email,
        "vehicle_name": vehicle.name,
        "vehicle_kind": vehicle.kind.value,
        "vehicle_description": vehicle.description,
        "vehicle_registration": vehicle.registration,
        "heater_name": heater.name,
        "heater_sheet": heater.sheet,
        "heater_serial": heater.serial,
        "heater_fitted_on": heater.fitted_on.isoformat() if heater.fitted_on else "",
        "heater_note": heater.note,
    }
    return _form(page, values=values, editing=heater)


@rooms.post("/heaters/{id}/edit")
async def mend_heater(request: Request, id: str) -> Response:  # noqa: A002
    """Keeps what was changed; what was not changed gets no entry."""
    page = Page.of(request)
    typed = await Typed.of(request)
    heater = page.book.heater(id)
    vehicle = page.book.vehicle(heater.vehicle)
    owner = page.book.owner(vehicle.owner)
    said = (
        ("owner", _owner(typed, id=owner.id)),
        ("vehicle", _vehicle(typed, id=vehicle.id, owner=owner.id)),
        ("heater", _heater(page, typed, id=heater.id, vehicle=vehicle.id)),
    )
    if not typed.problems:
        try:
            entries = [
                entry
                for kind, noun in said
                for entry in mended(
                    page.book, typed.values.get(f"{kind}_stands", ""), _entry(page, noun, kind, page.now)
                )
            ]
            if entries:
                page.book.keep(entries)
            return RedirectResponse(f"/heaters/{heater.id}", status_code=303)
        except Refusal as refusal:
            typed.gather(refusal)
    return _form(page, values=dict(typed.values), editing=heater, typed=typed)


def _form(
    page: Page,
    *,
    values: dict[str, str],
    owner: Owner | None = None,
    vehicle: Vehicle | None = None,
    editing: Heater | None = None,
    typed: Typed | None = None,
    searched: str = "",
) -> Response:
    problems = {
        name: page.speaker.say(each.message) for name, each in (typed.problems if typed else {}).items()
    }
    return page.show(
        "people.html",
        status=422 if problems else 200,
        values=values,
        owner=owner,
        vehicle=vehicle,
        editing=editing,
        searched=searched.strip(),
        known=find_known(page.house.workshop, searched),
        problems=problems,
        conflicts=of_heater(page, editing) if editing else [],
        kinds=[kind.value for kind in VehicleKind],
        sheets=list(page.shelf.sheets.values()),
    )


def _entry(page: Page, noun: Any, kind: str, at: datetime, id: str = "") -> Entry:  # noqa: A002
    return entry_of(noun, kind, subject=noun.id, author=page.shop.technician, at=at, id=id)


def _owner(typed: Typed, *, id: str) -> Owner:  # noqa: A002
    return Owner(
        id=id,
        name=typed.line("owner_name", needed=True),
        address=typed.line("owner_address", longest=LONGEST_TEXT),
        telephone=typed.line("owner_telephone"),
        email=typed.line("owner_email"),
    )


def _vehicle(typed: Typed, *, id: str, owner: str) -> Vehicle:  # noqa: A002
    kind = typed.choice("vehicle_kind", [each.value for each in VehicleKind])
    return Vehicle(
        id=id,
        owner=owner,
        name=typed.line("vehicle_name", needed=True),
        kind=VehicleKind(kind) if kind in set(VehicleKind) else VehicleKind.COACH,
        description=typed.line("vehicle_description"),
        registration=typed.line("vehicle_registration"),
    )


def _heater(page: Page, typed: Typed, *, id: str, vehicle: str) -> Heater:  # noqa: A002
    return Heater(
        id=id,
        vehicle=vehicle,
        name=typed.line("heater_name", needed=True),
        sheet=typed.choice("heater_sheet", page.shelf.sheets),
        serial=typed.line("heater_serial"),
        fitted_on=typed.day("heater_fitted_on"),
        note=typed.line("heater_note", longest=LONGEST_TEXT),
    )

"""The visit: one scrolling card from arrival to hand-over, and the judgement that follows it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import timedelta
from functools import lru_cache
from os import urandom
from typing import Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from lightoff import drawing
from lightoff.ground import units
from lightoff.ground.errors import NotFound
from lightoff.ground.ids import RANDOM_BYTES
from lightoff.ground.message import Amount, message
from lightoff.judging.assessment import Assessment, GateResult, Judgement
from lightoff.records.codec import body_of
from lightoff.terms.case import Case
from lightoff.terms.entry import Entry, Json
from lightoff.terms.visit import Acceptance, Reading
from lightoff.web import card, conflicts
from lightoff.web.entries import entries_sent
from lightoff.web.expecting import field_scales
from lightoff.web.field import drawn_fields
from lightoff.web.forms import Typed, entry_of, new_id
from lightoff.web.leading import leading
from lightoff.web.left_off import ago_in_words, left_off
from lightoff.web.page import MARKS, Page, pieces, subscripted
from lightoff.web.rooms import Rooms
from lightoff.web.script_words import script_words
from lightoff.web.tasks import tasks_of
from lightoff.work.assess_visit import assess_visit
from lightoff.work.close_visit import close_visit
from lightoff.work.last_few import LastFew
from lightoff.work.plausible import POSSIBLE_OF_A_PLACE, doubts
from lightoff.work.preview_visit import preview_visit as previewed
from lightoff.work.start_visit import is_bare, take_back_visit

rooms = Rooms()
_triangle = lru_cache(maxsize=256)(drawing.triangle)
# Work that a technician taps instead of types; stored in the words of the shop's language.
USUAL_WORK = (
    "yearly_parts",
    "nozzle",
    "fuel_filter",
    "chamber",
    "paths",
    "igniter",
    "flame_eye",
    "air_filter",
    "fuel_joints",
)
_DECIMALS = {"ft": 0}  # of a place; one of any other unit
# The part of which such work puts a piece in: its own entry is made elsewhere, and asked for here.
PIECE_OF_WORK = {
    "nozzle": "nozzle",
    "fuel_filter": "fuel_filter",
    "igniter": "igniter",
    "air_filter": "intake_filter",
}
# How many fields of the first two steps stand open; the rest is one tap away.
_OPEN_FIELDS = {"arrive": 4, "found": 9, "work": 0}


@rooms.get("/visits/{id}")
def show_visit(request: Request, id: str) -> Response:  # noqa: A002
    """The card."""
    page = Page.of(request)
    case, assessment = assess_visit(page.house.workshop, id, page.now)
    steps = card.filled_steps(case, page.shelf.catalogue)
    every = [field for _, fields in steps for field in fields]
    response = page.show(
        "visit.html",
        case=case,
        bare=is_bare(case.visit),
        steps=[(step, *_split(step, fields)) for step, fields in steps],
        after_the_flame=card.AFTER_THE_FLAME,
        subject=_subject(page, case),
        left_off=left_off(page, case),
        stands_again=_stands_again(page, id),
        test=card.current_test(case.visit),
        visit_body=_json(body_of(case.visit)),
        visit_entry=_visit_entry(page, id),
        late=[each for each in case.visit.readings if _is_late(each, case)],
        moments=sorted(case.visit.events, key=lambda each: each.at),
        fuels=[(key, page.text_or(f"fuel.{key}", key)) for key in page.shelf.fuels],
        usual_work=[(page.speaker.text(f"web_work.{key}"), PIECE_OF_WORK.get(key, "")) for key in USUAL_WORK],
        about=_about(page, case),
        fault_line=_fault_line(page, case),
        conflicts=conflicts.of_case(page, case),
        drawn=drawn_fields(
            page,
            every,
            case,
            scales=field_scales(page, case, assessment, every),
            doubts=_doubts(page, case),
        ),
        next=leading(page, case, assessment, steps),
        words=script_words(page),
        tasks=tasks_of(page, case, page.now),
        **_judged(page, assessment),
    )
    response.set_cookie("lightoff_last", case.heater.id, max_age=34_560_000, samesite="lax")
    return response


@rooms.post("/visits/{id}/preview")
async def preview_visit(request: Request, id: str) -> Response:  # noqa: A002
    """Judges the visit as if the entries sent were kept, and keeps none; pieces of the page come back."""
    drafts = entries_sent(await request.body())
    return await run_in_threadpool(_previewed, request, id, drafts)


def _previewed(request: Request, visit: str, drafts: Sequence[Entry]) -> Response:
    page = Page.of(request)
    case, assessment = previewed(page.house.workshop, visit, drafts, page.now)
    steps = card.filled_steps(case, page.shelf.catalogue)
    every = [field for _, fields in steps for field in fields]
    return JSONResponse(
        {
            "assessment": page.part("assessment.html", **_judged(page, assessment)),
            "verdict": assessment.verdict.verdict.value,
            "scales": field_scales(page, case, assessment, every),
            "doubts": _doubts(page, case),
            "next": asdict(leading(page, case, assessment, steps)),
        }
    )


@rooms.get("/visits/{id}/history/{slot}")
def field_history(request: Request, id: str, slot: str) -> Response:  # noqa: A002
    """Everything that ever stood in one field, newest first."""
    page = Page.of(request)
    asked = next(
        (each for _, slots in card.steps_of(page.shelf.catalogue) for each in slots if each.id == slot), None
    )
    if asked is None:
        raise NotFound(message("web_error.not_found", path=slot[:100]))
    lines = page.book.history(id)
    spoken = {each.entry.id for each in lines if _speaks_of(each.entry.value, asked)}
    # A withdrawal has no body: it belongs to what it corrects.
    shown = [each for each in lines if each.entry.id in spoken or each.entry.corrects in spoken]
    return page.show(
        "history.html", lines=[_line(page, each) for each in shown if each.entry.field == "reading"]
    )


@rooms.post("/visits/{id}/close")
def end_visit(request: Request, id: str) -> Response:  # noqa: A002
    """The technician ends the visit."""
    page = Page.of(request)
    author = page.book.visit(id).technician or page.shop.technician
    close_visit(page.house.workshop, id, page.now, author=author, randomness=urandom(RANDOM_BYTES))
    return RedirectResponse(f"/visits/{id}/hand-over", status_code=303)


@rooms.post("/visits/{id}/take-back")
def take_back(request: Request, id: str) -> Response:  # noqa: A002
    """Nobody came: a visit that was begun by mistake goes."""
    page = Page.of(request)
    heater = take_back_visit(page.house.workshop, id, page.now, author=page.shop.technician, new_id=new_id)
    return RedirectResponse(f"/heaters/{heater}", status_code=303)


@rooms.post("/visits/{id}/reopen")
def reopen_visit(request: Request, id: str) -> Response:  # noqa: A002
    """Takes the close back; what was entered after it is late no more, and history shows both."""
    page = Page.of(request)
    closes = [each.entry for each in page.book.history(id) if each.is_live and each.entry.field == "close"]
    author = page.book.visit(id).technician or page.shop.technician
    page.book.keep(
        [
            page.book.undoing(each.id, id=new_id(page.now), author=author, at=page.now)
            for each in closes
            if each.value is not None
        ]
    )
    return RedirectResponse(f"/visits/{id}", status_code=303)


@rooms.post("/visits/{id}/accept")
async def accept_late(request: Request, id: str) -> Response:  # noqa: A002
    """A person lets a late reading stand."""
    page = Page.of(request)
    typed = await Typed.of(request)
    visit = page.book.visit(id)
    accepted = Acceptance(id=new_id(page.now), reading=typed.line("reading"))
    author = visit.technician or page.shop.technician
    page.book.keep([entry_of(accepted, "accept", subject=id, author=author, at=page.now, id=accepted.id)])
    return RedirectResponse(f"/visits/{id}", status_code=303)


def _judged(page: Page, assessment: Assessment) -> dict[str, Any]:
    drawn = _triangle(assessment.triangle, page.speaker) if assessment.triangle else ""
    gates = assessment.verdict.gates
    return {
        "assessment": assessment,
        "triangle": Markup(drawn),
        "open_gates": [_gate(page, each) for each in gates if each.judgement is not Judgement.WITHIN],
        "met_gates": [_gate(page, each) for each in gates if each.judgement is Judgement.WITHIN],
    }


def _gate(page: Page, gate: GateResult) -> Markup:
    """What one gate of the verdict says."""
    speaker, environment = page.speaker, page.house.environment
    own = tuple(speaker.own.items())
    # By what is written in it: 5.0 and 5.00 are equal, and stand on the page as they were typed.
    rows = tuple((each, str(each.value), str(each.tolerance)) for each in gate.limits)
    known = (environment, speaker, own, gate.gate, gate.judgement, gate.missing[:1], rows, repr(gate.said))
    return _gates.of(known, lambda: pieces(environment, MARKS, speaker).gate(gate))


# Most gates say the same of one visit and the next.
_gates: LastFew[Markup] = LastFew(4096)


def _doubts(page: Page, case: Case) -> dict[str, dict[str, Any]]:
    """What is odd about each reading, and whether the technician may still insist."""
    told: dict[str, dict[str, Any]] = {}
    confirmed = {each.id for each in case.visit.readings if each.confirmed}
    fuel = page.shelf.fuels.get(case.visit.fuel)
    sheet = page.shelf.sheets.get(case.heater.sheet)
    for each in doubts(case.visit.readings, page.shelf.catalogue, fuel, sheet=sheet):
        here = told.setdefault(each.reading, {"sentence": "", "ask": each.reading not in confirmed})
        here["sentence"] = f"{here['sentence']} {page.speaker.say(each.said)}".strip()
    for reading in case.visit.readings:
        if _is_bare_zero(reading) and reading.id not in told:
            sentence = page.speaker.text("web.zero_to_confirm")
            told[reading.id] = {"sentence": sentence, "ask": not reading.confirmed}
    return told


def _is_bare_zero(reading: Reading) -> bool:
    """A CO of nought, which must be meant and not typed by habit."""
    return reading.value == 0 and reading.key in card.ZERO_TO_CONFIRM and not reading.confirmed


def _split(step: card.Step, fields: Sequence[card.Field]) -> tuple[list[card.Field], ...]:
    """The fields that stand open, those one tap away, and those that the shop cannot read."""
    shown = [each for each in fields if each.owned]
    most = _OPEN_FIELDS.get(step.key, len(shown))
    folded = [each for each in shown[most:] if each.reading is None]
    stands_open = [*shown[:most], *(each for each in shown[most:] if each.reading is not None)]
    return stands_open, folded, [each for each in fields if not each.owned]


def _subject(page: Page, case: Case) -> Markup:
    started = case.visit.started_at
    ago = page.now - started
    parts = [page.speaker.text("web.started", day=page.speaker.date_of(started), clock=started)]
    if timedelta(minutes=1) < ago < timedelta(hours=48) and not case.visit.closed_at:
        parts.append(ago_in_words(page, ago))
    if case.visit.reason:
        parts.append(case.visit.reason)
    return subscripted(", ".join(parts))


def _stands_again(page: Page, visit: str) -> Markup | None:
    """That a visit was taken back, and who had something of it all the same."""
    found = page.book.standing_again("visit", (visit,)).get(visit)
    if found is None:
        return None
    named = found.withdrawn_by and found.stands_by
    return page.text(
        "web.stands_again" if named else "web.stands_again_nobody",
        who=found.withdrawn_by,
        day=page.speaker.date_of(found.withdrawn_at),
        clock=found.withdrawn_at,
        since=found.stands_at,
        by=found.stands_by,
    )


def _fault_line(page: Page, case: Case) -> Markup:
    """What the way to the suspects says: where the search stands, if it was begun."""
    entries = page.shelf.catalogue.entries
    given = [
        each
        for each in case.visit.readings
        if each.key in entries and entries[each.key].area in card.NOT_ON_THE_CARD
    ]
    last = max((each.entered_at or each.taken_at or case.visit.started_at for each in given), default=None)
    if last is None:
        return page.text("web_fault.find_line")
    if len(given) == 1:
        return page.text("web_fault.find_on_line_one", clock=last)
    return page.text("web_fault.find_on_line", count=len(given), clock=last)


def _about(page: Page, case: Case) -> dict[str, Any]:
    place, to = case.visit.place, case.visit.destination
    before = next((each.place for each in reversed(case.history) if each.place.name), None)
    length, temperature = page.speaker.unit_key("length"), page.speaker.unit_key("temperature")

    def shown(value: float | None, unit: str) -> str:
        said = "" if value is None else f"{units.from_si(value, unit):.{_DECIMALS.get(unit, 1)}f}"
        return said.removesuffix(".0")

    return {
        "length": {**_factors(length), **_possible(page, "length")},
        "temperature": {**_factors(temperature), **_possible(page, "temperature")},
        "altitude": shown(place.altitude_m, length),
        "last_place": {"name": before.name, "altitude": shown(before.altitude_m, length)} if before else None,
        "air": shown(place.air_temperature_k, temperature),
        "to_altitude": shown(to.altitude_m if to else None, length),
    }


def _possible(page: Page, dimension: str) -> dict[str, Any]:
    low, high = POSSIBLE_OF_A_PLACE[dimension]
    ends = {name: Amount(value=end, dimension=dimension) for name, end in (("low", low), ("high", high))}
    return {"low": low, "high": high, "beyond": page.speaker.text(f"web.place_beyond_{dimension}", **ends)}


def _factors(unit: str) -> dict[str, float]:
    """The factors of a unit for the capture script: this table stays their only home."""
    each = units.unit(unit)
    return {
        "factor": float(each.factor),
        "zero": float(each.zero),
        "decimals": _DECIMALS.get(unit, 1),
    }


def _is_late(reading: Reading, case: Case) -> bool:
    closed, entered = case.visit.closed_at, reading.entered_at
    return closed is not None and entered is not None and entered > closed and reading.accepted_by is None


def _visit_entry(page: Page, visit_id: str) -> str:
    """The entry that says what the visit is, which a change of it corrects."""
    standing = page.book.standing("visit", visit_id)
    return standing[0].id if standing else ""


def _speaks_of(value: Json, slot: card.Slot) -> bool:
    if not isinstance(value, dict):
        return False
    alike = (value.get("key"), value.get("stage")) == (slot.key, slot.stage.value)
    return alike and (slot.set_number is None or value.get("set_number") == slot.set_number)


def _line(page: Page, line: Any) -> dict[str, Any]:
    entry: Entry = line.entry
    body = entry.value if isinstance(entry.value, dict) else None
    return {
        "body": _json(body) if body else "",
        "shown": _shown(page, body),
        "at": entry.at,
        "author": entry.author,
        "is_live": line.is_live,
    }


def _shown(page: Page, body: Mapping[str, Any] | None) -> str:
    if body is None:
        return page.speaker.text("web.withdrawn")
    if body.get("state"):
        return page.speaker.state_word(str(body.get("key", "")), str(body["state"]))
    number = str(body.get("value") or "----")
    return f"{number} {page.speaker.symbol(str(body.get('unit', '')))}".strip()


def _json(value: Json) -> str:
    return json.dumps(value, ensure_ascii=False)

"""Find the fault: who is suspected and why, and the next step to take, one at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter
from markupsafe import Markup
from pydantic import Field as Bounded
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from lightoff import drawing
from lightoff.faultfinding import Finding, Kind, Step, telling
from lightoff.ground.message import Message
from lightoff.shelf import REPAIR
from lightoff.terms.case import Case
from lightoff.terms.visit import Reading, Stage
from lightoff.web import card
from lightoff.web.entries import MOST_ENTRIES, EntryIn
from lightoff.web.field import drawn_fields
from lightoff.web.forms import Typed, entry_of, new_id
from lightoff.web.page import Page
from lightoff.web.script_words import script_words
from lightoff.work.find_fault import NOT_DONE, FaultCase, find_fault, find_in_case
from lightoff.work.preview_visit import drafted_case

rooms = APIRouter(tags=["fault finding"])
FIRST_QUESTIONS = ("owner_says", "last_work")
"""What is asked before anything is read."""
MOST_OTHER_STEPS = 6
BY_TELEPHONE = frozenset(
    {"owner_says", "last_work", "light_off", "stop_step", "smoke_colour", "exhaust_smell", "fuel_at_pickup",
     "fuel_bought", "charger", "panel_switch", "thermostat_set", "zone_heat", "hot_water", "fan_sound",
     "burner_sound", "coolant_level", "place_height", "lockout_state", "tank_trend", "solvent_smell"}
)  # fmt: skip
"""What an owner can answer without opening or touching anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownSuspect:
    """One suspect as the sheet shows it."""

    name: Markup
    key: str
    chance: Markup
    share: Markup
    strip: Markup
    speaks_for: tuple[Message, ...]
    speaks_against: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownStep:
    """One step as the page shows it; `choice` is its address among the others."""

    step: Step
    choice: str
    name: Markup
    how: Markup
    why: Message
    outcomes: tuple[Message, ...]
    fields: tuple[Markup, ...]
    keys: tuple[str, ...]


@rooms.get("/visits/{id}/fault", include_in_schema=False)
def show_fault(request: Request, id: str, step: str = "", by: str = "") -> Response:  # noqa: A002
    """The suspects with the next step, or the one that was chosen; `by=telephone` before a trip."""
    page = Page.of(request)
    found = find_fault(page.house.workshop, id)
    case, telephone = found.case, by == "telephone"
    steps = _steps(found.finding, telephone=telephone)
    chosen = next((each for each in steps if _choice(each) == step), None) or _looked_at(found, step)
    now = chosen or (steps[0] if steps else found.finding.steps[0])
    asked = [key for key in FIRST_QUESTIONS if key not in found.evidence.known]
    if asked and chosen is None:
        now = Step(
            kind=Kind.READING, key=asked[0], minutes=1.0, opens="", cautions=(), expected_minutes=0.0,
            saves_minutes=0.0, outcomes=(),
        )  # fmt: skip
    return page.show(
        "fault.html",
        case=case,
        telephone=telephone,
        sheet=_sheet(page, found),
        now=_shown_step(page, now, case),
        others=[_shown_step(page, each, case) for each in steps if each != now][:MOST_OTHER_STEPS],
        known=_known(page, found),
        parts=_parts(found.finding, page) if telephone else (),
        visit_body="{}",
        visit_entry="",
        test=card.current_test(case.visit),
        words=script_words(page),
    )


@rooms.post("/visits/{id}/fault/preview", summary="The suspects with unsaved entries on top; nothing is kept")
def preview_fault(
    request: Request,
    id: str,  # noqa: A002
    drafts: Annotated[list[EntryIn], Bounded(max_length=MOST_ENTRIES)],
) -> JSONResponse:
    """The sheet as if the drafts were kept."""
    page = Page.of(request)
    case = drafted_case(page.house.workshop, id, [each.entry() for each in drafts])
    found = find_in_case(case, page.shelf, whiskers=False)
    return JSONResponse({"sheet": page.part("fault_sheet.html", **_sheet(page, found))})


@rooms.post("/visits/{id}/fault/cannot", include_in_schema=False)
async def cannot(request: Request, id: str) -> Response:  # noqa: A002
    """A step that could not be taken here: kept, and asked no more."""
    page = Page.of(request)
    typed = await Typed.of(request)
    visit = page.book.visit(id)
    for key in typed.line("keys").split():
        made = new_id(page.now)
        tried = key.startswith(REPAIR) or page.shelf.catalogue.entries[key].area == "trial"
        reading = Reading(
            id=made,
            heater=visit.heater,
            key=key,
            stage=Stage.AS_FOUND,
            taken_at=page.now,
            state=NOT_DONE if tried else None,
            note="" if tried else NOT_DONE,
        )
        author = visit.technician or page.shop.technician
        page.book.keep([entry_of(reading, "reading", subject=id, author=author, at=page.now, id=made)])
    by = "?by=telephone" if typed.line("by") == "telephone" else ""
    return RedirectResponse(f"/visits/{id}/fault{by}", status_code=303)


def _sheet(page: Page, found: FaultCase) -> dict[str, Any]:
    finding = found.finding
    return {
        "conclusion": telling.conclusion(finding),
        "suspects": [
            ShownSuspect(
                name=page.text(f"fault.{each.fault}"),
                key=each.fault,
                chance=page.text(telling.chance_word(each.chance)),
                share=page.text(
                    "web_fault.share",
                    percent=round(100 * each.chance),
                    low=round(100 * each.low),
                    high=round(100 * each.high),
                ),
                strip=Markup(
                    drawing.chance(
                        each.chance,
                        each.low,
                        each.high,
                        page.speaker,
                        title=page.speaker.text(f"fault.{each.fault}"),
                    )
                ),
                speaks_for=telling.speaks_for(each, found.evidence),
                speaks_against=telling.speaks_against(each, found.evidence),
            )
            for each in finding.suspects
        ],
        "sound": page.text("web_fault.sound", percent=round(100 * finding.sound)),
        "unlisted": page.text("web_fault.unlisted", percent=round(100 * finding.unknown)),
        "stop": finding.chamber_first,
    }


def _steps(finding: Finding, *, telephone: bool) -> Sequence[Step]:
    if not telephone:
        return finding.steps
    return [each for each in finding.steps if each.kind is Kind.READING and each.key in BY_TELEPHONE]


def _looked_at(found: FaultCase, choice: str) -> Step | None:
    """The repair of a suspect that somebody wants to go for, whatever the ranking says."""
    kind, _, key = choice.partition(".")
    if kind != Kind.REPAIR.value or key not in {each.fault for each in found.finding.suspects}:
        return None
    return Step(
        kind=Kind.REPAIR, key=key, minutes=0.0, opens="", cautions=(), expected_minutes=0.0,
        saves_minutes=0.0, outcomes=(),
    )  # fmt: skip


def _choice(step: Step) -> str:
    return f"{step.kind.value}.{step.key}"


def _shown_step(page: Page, step: Step, case: Case) -> ShownStep:
    keys = telling.readings_of(step)
    if step.kind is Kind.TRIAL:
        keys = (step.key,)
    elif step.kind is Kind.REPAIR:
        keys = (REPAIR + step.key,)
    fields = [card.field_for(key, Stage.AS_FOUND, case, page.shelf.catalogue) for key in keys]
    drawn = drawn_fields(page, fields, case, scales={}, doubts={})
    return ShownStep(
        step=step,
        choice=_choice(step),
        name=page.text(telling.step_name(step)),
        how=page.text(telling.step_how(step)),
        why=telling.why(step),
        outcomes=telling.outcomes(step),
        fields=tuple(drawn.values()),
        keys=keys,
    )


def _known(page: Page, found: FaultCase) -> Mapping[str, Markup]:
    """Fields of everything that is known, to be mended or taken back."""
    keys = [
        each.key
        for each in sorted(found.case.visit.readings, key=lambda each: each.id, reverse=True)
        if each.stage is Stage.AS_FOUND and each.key in page.shelf.catalogue.entries
    ]
    fields = [
        card.field_for(key, Stage.AS_FOUND, found.case, page.shelf.catalogue) for key in dict.fromkeys(keys)
    ]
    return drawn_fields(page, fields, found.case, scales={}, doubts={})


def _parts(finding: Finding, page: Page) -> tuple[Markup, ...]:
    """Parts that the suspects would use up: what to carry."""
    faults = [page.shelf.faults[each.fault] for each in finding.suspects]
    return tuple(page.text(f"part.{key}") for key in dict.fromkeys(each.part for each in faults if each.part))

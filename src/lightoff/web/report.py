"""Hand-over: three statements apart, every gate with its reason, the report, the visit as a file."""

from __future__ import annotations

import json
import re
import unicodedata
from datetime import date
from typing import Any

import tomli
from starlette.requests import Request
from starlette.responses import Response

from lightoff.ground.errors import NotFound
from lightoff.ground.message import message
from lightoff.judging.assessment import Figure
from lightoff.judging.noted import instead, noted
from lightoff.judging.steps_told import steps_told
from lightoff.terms.case import Case
from lightoff.terms.part import MoveKind
from lightoff.terms.visit import Reading, Stage
from lightoff.texts import sets_words
from lightoff.web.figures import band_told, how_had
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.asked_about import asked_about
from lightoff.work.assess_visit import assess_visit
from lightoff.work.find_fault import LookedFor, fault_looked_for
from lightoff.work.next_due import next_due
from lightoff.work.order_of_visit import unanswered
from lightoff.work.part_lives import lives_ahead
from lightoff.work.parts_fitted import with_parts
from lightoff.work.parts_used import PartUsed, parts_used
from lightoff.work.photo_pairs import photo_pairs, steps_by_key
from lightoff.work.units import unit_of
from lightoff.work.visit_file_writing import write_visit_file

rooms = Rooms()


@rooms.get("/visits/{id}/hand-over")
def hand_over(request: Request, id: str) -> Response:  # noqa: A002
    """Work done, what was measured, verdict; and all that led to it."""
    page = Page.of(request)
    case, assessment = assess_visit(page.house.workshop, id, page.now)
    page = page.by_clock_of(case.visit)
    case = with_parts(case, page.house.workshop)
    found = fault_looked_for(case, page.shelf, page.house.workshop.derived)
    left = assessment.figures(Stage.AS_LEFT)
    keys = list(dict.fromkeys(each.key for each in (*left, *assessment.figures(Stage.AS_FOUND))))
    rows = [
        (key, assessment.figure(key, Stage.AS_FOUND), assessment.figure(key, Stage.AS_LEFT)) for key in keys
    ]
    used = _parts(page, case)
    pairs, alone = photo_pairs(case.visit.photos, steps_by_key(page.shelf.procedures.values()))
    return page.show(
        "handover.html",
        asked=asked_about(case, page.shelf),
        pairs=pairs,
        alone=alone,
        case=case,
        assessment=assessment,
        rows=rows,
        number=lambda figure: _number(page, figure),
        how=lambda figure: how_had(page, case, figure),
        band=lambda figure: band_told(page, figure),
        steps=steps_told(case, unanswered=_unanswered(page, case), with_parts=False),
        **_parts_told(page, used),
        noted=noted(case, assessment, besides=found.told if found else ()),
        sets=lambda figure: sets_words(figure.sets, figure.dimension, page.speaker),
        absent=lambda key, stage: _absent(page, instead(case, assessment, key, Stage(stage))),
        trouble=_trouble(page, found),
        typed=_typed(page, case),
    )


def _unanswered(page: Page, case: Case) -> tuple[str, ...]:
    return unanswered(case, page.shelf, planning=page.book.planning())


def _typed(page: Page, case: Case) -> str:
    """All that was typed by hand and prints."""
    visit, shop = case.visit, page.shop
    of_shop = (shop.name, shop.technician, shop.address)
    of_visit = (visit.place.name, visit.technician, visit.complaint, visit.note, *visit.work_done)
    captions = (each.caption for each in visit.photos)
    return " ".join((case.owner.name, case.vehicle.name, case.heater.name, *of_shop, *of_visit, *captions))


def _trouble(page: Page, found: LookedFor | None) -> dict[str, Any] | None:
    """The search for a fault as the paper tells it, where there was one."""
    if found is None:
        return None
    from lightoff.report.trouble import trouble  # slow to import, and few pages need it

    return trouble(found, page.speaker)


@rooms.get("/visits/{id}/report.pdf")
def owner_report(request: Request, id: str) -> Response:  # noqa: A002
    """The owner's report."""
    from lightoff.report import owner_report as written  # slow to import, and few pages need it

    page = Page.of(request)
    case, assessment = assess_visit(page.house.workshop, id, page.now)
    page, case = page.by_clock_of(case.visit), with_parts(case, page.house.workshop)
    paper = page.asked("paper")
    chosen = paper if paper in {"a4", "letter"} else page.shop.paper
    data = written(
        case,
        assessment,
        speaker=page.speaker,
        photos=_photos(page, case),
        paper=chosen,
        shelf=page.shelf,
        attachment=write_visit_file(case),
        found=fault_looked_for(case, page.shelf, page.house.workshop.derived),
        parts=_parts(page, case),
        due=next_due(page.house.workshop, case.visit, page.now),
        unanswered=_unanswered(page, case),
    )
    page.work_ahead("lives of parts", lambda: lives_ahead(page.house.workshop, page.now))
    name = report_name(case.vehicle.name, case.heater.name, case.visit.day_of(case.visit.started_at))
    return Response(
        data,
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="{name}"'},
    )


def report_name(vehicle: str, heater: str, day: date) -> str:
    """The file's name, so that reports of two heaters do not meet: letters and figures of ASCII alone."""
    plain = unicodedata.normalize("NFKD", f"{vehicle} {heater}").encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
    return f"{words or 'heater'}-{day.isoformat()}.pdf"


@rooms.get("/visits/{id}.{kind}")
def visit_file(request: Request, id: str, kind: str) -> Response:  # noqa: A002
    """The visit as a file: the same that the command line reads."""
    page = Page.of(request)
    media_type = {"json": "application/json", "toml": "application/toml"}.get(kind)
    if media_type is None:
        raise NotFound(message("web_error.not_found", path=request.url.path[:200]))
    data = write_visit_file(with_parts(page.book.case(id), page.house.workshop))
    if kind == "json":
        # The same tables; numbers stay text, so that "4.80" is not shortened.
        tables = tomli.loads(data.decode(), parse_float=str)
        data = json.dumps(tables, ensure_ascii=False, indent=1, default=lambda at: at.isoformat()).encode()
    name = f"visit-{id}.{kind}"
    return Response(
        data, media_type=media_type, headers={"content-disposition": f'attachment; filename="{name}"'}
    )


def _parts_told(page: Page, used: tuple[PartUsed, ...]) -> dict[str, Any]:
    """The parts as the paper tells them, where any moved."""
    if not used:
        return {"parts": [], "parts_total": None}
    from lightoff.report.content import part_words, total_words  # slow to import, and few pages need it

    return {
        "parts": part_words(used, page.speaker),
        "parts_total": total_words(used, page.speaker),
    }


def _parts(page: Page, case: Case) -> tuple[PartUsed, ...]:
    kept = any(each.kind is MoveKind.KEPT for each in case.visit.moves)
    pieces = unit_of(page.house.workshop, case.heater.id, page.now).pieces if kept else ()
    prices = page.shop.prices_on_report
    return parts_used(page.book, page.shelf, case.visit, with_prices=prices, pieces=pieces)


def _photos(page: Page, case: Case) -> dict[str, bytes]:
    """The pictures that have arrived; one that is still on a phone is left out."""
    found: dict[str, bytes] = {}
    for each in case.visit.photos:
        try:
            found[each.sha256] = page.book.photo_bytes(each.sha256)
        except NotFound:
            continue
    return found


def _absent(page: Page, said: Reading | str) -> str:
    return page.speaker.text(f"absent.{said}") if isinstance(said, str) else page.speaker.reading(said)


def _number(page: Page, figure: Figure | None) -> str:
    return "" if figure is None else page.speaker.number(figure.estimate.value, figure.dimension)

"""What the shop reckons with: one form, kept like the shop's name."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff.ground.errors import Refusal
from lightoff.records import PLANNING, SHOP
from lightoff.terms.people import PLANNING_BOUNDS, Planning
from lightoff.web.forms import Typed, entry_of, mended, standing
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms

rooms = Rooms()
_WHOLE = ("spring_month", "spring_day", "service_months", "service_hours")
_NUMBER = re.compile(r"\d{1,9}([.,]\d{1,4})?", re.ASCII)


@rooms.get("/planning")
def show_planning(request: Request) -> Response:
    """The form as it stands."""
    return _show(Page.of(request))


@rooms.post("/planning")
async def mend_planning(request: Request) -> Response:
    """Keeps what was typed; a box left blank goes back to the judgement that ships."""
    page = Page.of(request)
    typed = await Typed.of(request)
    said: dict[str, Any] = {}
    for name, (low, high) in PLANNING_BOUNDS.items():
        text = typed.line(name)
        if not text:
            continue
        number = Decimal(text.replace(",", ".")) if _NUMBER.fullmatch(text) else None
        if number is None or not low <= number <= high or (name in _WHOLE and number % 1):
            typed.problem(name, "web_planning.number", low=str(low), high=str(high))
            continue
        said[name] = int(number) if name in _WHOLE else number
    if not typed.problems:
        try:
            entry = entry_of(
                Planning(**said), PLANNING, subject=SHOP, author=page.shop.technician, at=page.now
            )
            page.book.keep(mended(page.book, typed.values.get("stands", ""), entry))
            return RedirectResponse("/planning", status_code=303)
        except Refusal as refusal:
            typed.gather(refusal)
    return _show(page, typed=typed)


def _show(page: Page, *, typed: Typed | None = None) -> Response:
    planning = page.book.planning()
    values = {
        name: format(getattr(planning, name), "f" if name not in _WHOLE else "d") for name in PLANNING_BOUNDS
    }
    problems = {
        name: page.speaker.say(each.message) for name, each in (typed.problems if typed else {}).items()
    }
    return page.show(
        "planning.html",
        status=422 if problems else 200,
        values={**values, "stands": standing(page.book, PLANNING, SHOP), **(typed.values if typed else {})},
        problems=problems,
        month_names=[(str(at), page.text(f"month.{at}")) for at in range(1, 13)],
    )

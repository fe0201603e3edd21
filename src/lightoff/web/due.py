"""Who needs a visit: by day, with the reasons and what to bring."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from lightoff.web.page import Page, subscripted
from lightoff.web.rooms import Rooms
from lightoff.work.who_needs_visit import who_needs_visit

rooms = Rooms()


@rooms.get("/due")
def show_due(request: Request) -> Response:
    """The list, the most pressing first."""
    page = Page.of(request)
    found = who_needs_visit(page.house.workshop, page.now)
    return page.show(
        "due.html",
        lines=[
            (
                each.line,
                page.text("web_part.due_now")
                if each.by <= page.now
                else page.text("web_part.due_by", day=each.by.date()),
                [subscripted(page.speaker.say(said)) for said in each.reasons],
                ", ".join(page.text(f"part.{part}") for part in each.parts),
            )
            for each in found
        ],
    )

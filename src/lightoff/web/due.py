"""Who needs a visit: by day, with the reasons and what to bring."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from lightoff.web.gathering import gathered
from lightoff.web.page import Page, subscripted
from lightoff.web.rooms import Rooms
from lightoff.work.who_needs_visit import Due, to_be_judged, who_needs_visit

rooms = Rooms()
A_PAGE = 40
MOST_JUDGED, FEW_JUDGED = 80, 0
"""Last visits judged anew for one answer, some four seconds of work; where more wait than that none is, and
they go on while the page is read. Judgement."""


@rooms.get("/due")
def show_due(request: Request) -> Response:
    """A page of the list, the most pressing first."""
    page = Page.of(request)
    asked = request.query_params.get("from", "")
    first = int(asked) if asked.isdecimal() and len(asked) < 7 else 0
    workshop, now = page.house.workshop, page.now

    def work() -> tuple[Due, ...]:
        most = MOST_JUDGED if to_be_judged(workshop, now) <= MOST_JUDGED else FEW_JUDGED
        return who_needs_visit(workshop, now, first=first, count=A_PAGE + 1, most_judged=most)

    found = gathered(page, work)
    if isinstance(found, Response):
        return found
    return page.show(
        "due.html",
        more=first + A_PAGE if len(found) > A_PAGE else 0,
        a_page=A_PAGE,
        to_be_judged=to_be_judged(page.house.workshop, page.now),
        lines=[
            (
                each.line,
                page.text("web_part.due_now")
                if each.by <= page.now
                else page.text("web_part.due_by", day=page.speaker.date_of(each.by)),
                [subscripted(page.speaker.say(said)) for said in each.reasons],
                _to_bring(page, each),
            )
            for each in found[:A_PAGE]
        ],
    )


def _to_bring(page: Page, due: Due) -> str:
    """The yearly parts in one word, and what else may not last."""
    kinds = page.shelf.part_types
    yearly = {key for key, kind in kinds.items() if kind.annual}
    others = [key for key in due.parts if key not in yearly]
    named = [page.text("web_part.yearly_parts")] if yearly & set(due.parts) else []
    named += [page.text_or(f"part.{key}", kinds[key].label or key) for key in others]
    return ", ".join(named)

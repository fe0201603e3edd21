"""Entries that contradict each other, side by side, and the one tap that chooses between them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff.ground.message import Message
from lightoff.ground.values import dataclass
from lightoff.judging.disputed import is_used, names_of, noun_said, of_this_visit, says, who_and_when
from lightoff.records import SHOP
from lightoff.terms.case import Case
from lightoff.terms.conflict import Conflict
from lightoff.terms.people import Heater, Instrument
from lightoff.web.forms import Typed, new_id
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.choose_entry import choose_entry

rooms = Rooms()
_OWN_PAGE = re.compile(r"/settings|/(visits|heaters)/[A-Za-z0-9_.:-]+(/edit)?", re.ASCII)
_PARTS = frozenset(("visit", "reading", "event", "photo", "move", "step", "close", "accept"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One candidate as the page shows it; `over` are the entries that it would stand over."""

    entry: str
    says: Message
    who: Message
    over: str
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One conflict as the page shows it; `counts` says that it keeps the verdict from being proven."""

    noun: Message
    counts: bool
    choices: tuple[Choice, ...]


def of_case(page: Page, case: Case) -> list[Shown]:
    """The conflicts of a visit's own nouns."""
    return shown(of_this_visit(case), names_of(case))


def of_heater(page: Page, heater: Heater) -> list[Shown]:
    """The conflicts of a heater, its vehicle and its owner."""
    vehicle = page.book.vehicle(heater.vehicle)
    owner = page.book.owner(vehicle.owner)
    names = {each.id: each.name for each in (heater, vehicle, owner)}
    return shown(page.book.conflicts(tuple(names)), names)


def of_shop(page: Page, instruments: Iterable[Instrument]) -> list[Shown]:
    """The conflicts of the shop and its instruments."""
    names = {each.id: each.name for each in instruments}
    return shown(page.book.conflicts((SHOP, *names)), names)


def shown(conflicts: Iterable[Conflict], names: Mapping[str, str]) -> list[Shown]:
    """Each conflict with its candidates, oldest first."""
    return [_shown(each, names) for each in conflicts]


def _shown(conflict: Conflict, names: Mapping[str, str]) -> Shown:
    entries = [each.entry for each in conflict.candidates]
    choices = tuple(
        Choice(
            entry=each.entry,
            says=says(conflict, each, names),
            who=who_and_when(each),
            over=" ".join(other for other in entries if other != each.entry),
            # A heater, its vehicle or a visit is mended and not taken back: without it nothing is shown.
            is_open=each.says is not None or conflict.noun in _PARTS - {"visit"},
        )
        for each in conflict.candidates
    )
    return Shown(noun=noun_said(conflict, names), counts=is_used(conflict), choices=choices)


@rooms.post("/conflicts/choose")
async def choose(request: Request) -> Response:
    """A person chooses; the page where the choice was made comes back."""
    page = Page.of(request)
    typed = await Typed.of(request)
    chosen = typed.line("chosen")
    entry = page.book.entry(chosen)
    author = page.book.visit(entry.subject).technician if entry.field in _PARTS else ""
    choose_entry(
        page.house.workshop,
        chosen,
        typed.values.get("over", "").split(),
        page.now,
        author=author or page.shop.technician,
        new_id=lambda: new_id(page.now),
    )
    back = typed.line("back")
    return RedirectResponse(back if _OWN_PAGE.fullmatch(back) else "/", status_code=303)

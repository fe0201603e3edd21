"""Labels to print: codes that a telephone's own camera opens as a heater's page, or as a bin of the stock."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import ip_address
from urllib.parse import quote

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff import drawing
from lightoff.records import HeaterLine
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.find_heaters import find_heaters

rooms = Rooms()
A_SHEET = 24
"""Labels of one printed sheet, three beside each other: a common size of label paper (A4, 70 by 37 mm)."""


@dataclass(frozen=True, slots=True)
class Label:
    """One label: two lines that a person reads, and the code."""

    name: str
    line: str
    code: Markup


@rooms.get("/labels")
def show_labels(request: Request) -> Response:
    """A sheet for the heaters that the words find, or for the bins of van and shop."""
    page = Page.of(request)
    of_bins, search, after = page.asked("of") == "bins", page.asked("search"), page.asked("after")
    more = ""
    if of_bins:
        labels = list(_of_bins(page))
    else:
        found = find_heaters(page.house.workshop, search, limit=A_SHEET + 1, after=after or None)
        more = found[A_SHEET - 1].heater.id if len(found) > A_SHEET else ""
        labels = [_of_heater(page, each) for each in found[:A_SHEET]]
    return page.show(
        "labels.html",
        labels=labels,
        of_bins=of_bins,
        search=search,
        after=more,
        base=_base(page),
        stays_here=_stays_here(request.url.hostname or ""),
    )


@rooms.get("/heaters/{id}/label")
def show_label(request: Request, id: str) -> Response:  # noqa: A002
    """The label of one heater."""
    page = Page.of(request)
    return page.show(
        "labels.html",
        labels=[_of_heater(page, page.book.line(id))],
        of_bins=False,
        search="",
        after="",
        base=_base(page),
        stays_here=_stays_here(request.url.hostname or ""),
    )


def _of_heater(page: Page, line: HeaterLine) -> Label:
    name = f"{line.vehicle.name}, {line.heater.name}"
    serial = page.speaker.text("web.number", serial=line.heater.serial) if line.heater.serial else ""
    return _label(page, f"/heaters/{quote(line.heater.id, safe='')}", name, serial or page.shop.name)


def _of_bins(page: Page) -> Iterator[Label]:
    for each in page.book.bins():
        kind = page.shelf.part_types.get(each.kind)
        name = page.text_or(f"part.{each.kind}", (kind.label if kind else "") or each.kind)
        number = kind.number if kind else ""
        line = ", ".join(filter(None, (each.place, number)))
        yield _label(page, f"/stock#bin-{quote(each.id, safe='')}", name[:1].upper() + name[1:], line)


def _label(page: Page, path: str, name: str, line: str) -> Label:
    drawn = drawing.code(_base(page) + path, title=page.speaker.text("web_label.code_of", name=name))
    return Label(name, line, Markup(drawn))


def _base(page: Page) -> str:
    """The address by which this very page was asked for: telephones that read the code come by the same."""
    return str(page.request.base_url).rstrip("/")


def _stays_here(host: str) -> bool:
    """Whether only this computer answers to that name."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False

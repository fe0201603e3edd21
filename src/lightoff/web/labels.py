"""Labels to print: codes that a telephone's own camera opens as a heater's page, or as a bin of the stock."""

from __future__ import annotations

from collections.abc import Iterator
from ipaddress import ip_address
from urllib.parse import quote

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff import drawing
from lightoff.ground.errors import Refusal
from lightoff.ground.values import dataclass
from lightoff.records import HeaterLine
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.find_heaters import find_heaters

rooms = Rooms()
PAPERS, MOST_PRINTED = ("a4", "letter"), 480  # as the report has them; it is slow to import
A_SHEET = 24
"""Labels of one printed sheet, three beside each other: a common size of label paper (A4, 70 by 37 mm)."""


@dataclass(frozen=True, slots=True)
class Label:
    """One label: two lines that a person reads, and the address that its code opens."""

    name: str
    line: str
    address: str
    alt: str

    @property
    def code(self) -> Markup:
        """The code as a drawing."""
        return Markup(drawing.code(self.address, title=self.alt))


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
    return _shown(page, labels, of_bins=of_bins, search=search, after=more)


@rooms.get("/labels.pdf")
def print_labels(request: Request) -> Response:
    """The same as sheets of label paper, all that the words find."""
    page = Page.of(request)
    of_bins, search, after = page.asked("of") == "bins", page.asked("search"), page.asked("after")
    if of_bins:
        labels = list(_of_bins(page))
    else:
        found = find_heaters(page.house.workshop, search, limit=MOST_PRINTED + 1, after=after or None)
        labels = [_of_heater(page, each) for each in found]
    return _printed(page, labels, of_bins=of_bins, search=search)


@rooms.get("/heaters/{id}/label")
def show_label(request: Request, id: str) -> Response:  # noqa: A002
    """The label of one heater."""
    page = Page.of(request)
    return _shown(page, [_of_heater(page, page.book.line(id))], one=id)


@rooms.get("/heaters/{id}/label.pdf")
def print_label(request: Request, id: str) -> Response:  # noqa: A002
    """The same on label paper."""
    page = Page.of(request)
    return _printed(page, [_of_heater(page, page.book.line(id))], one=id)


def _shown(
    page: Page,
    labels: list[Label],
    *,
    of_bins: bool = False,
    search: str = "",
    after: str = "",
    one: str = "",
    problem: str = "",
) -> Response:
    return page.show(
        "labels.html",
        status=422 if problem else 200,
        labels=labels[:A_SHEET],
        of_bins=of_bins,
        search=search,
        after=after,
        base=_base(page),
        stays_here=_stays_here(page.request.url.hostname or ""),
        to_print=f"/heaters/{quote(one, safe='')}/label.pdf" if one else "/labels.pdf",
        papers=[(each, page.text(f"labels.{each}")) for each in PAPERS],
        paper=page.asked("paper") or page.shop.paper,
        used=page.asked("used"),
        problem=problem,
    )


def _printed(
    page: Page, labels: list[Label], *, of_bins: bool = False, search: str = "", one: str = ""
) -> Response:
    """The PDF; the page again with a sentence where it cannot be made."""
    from lightoff.report.labels import PrintedLabel, label_sheets  # slow to import, and few pages need it

    used = page.asked("used") or "0"
    printed = [
        PrintedLabel(
            name=each.name,
            line=f"{each.line}, {page.speaker.text('web.invented')}" if page.shop.invented else each.line,
            address=each.address,
            alt=each.alt,
        )
        for each in labels
    ]
    try:
        made = label_sheets(
            printed,
            paper=page.asked("paper") or page.shop.paper,
            title=page.speaker.text("web_label.title"),
            language=page.speaker.language,
            made_at=page.now,
            used=int(used) if used.isdecimal() and len(used) < 4 else -1,
        )
    except Refusal as refusal:
        said = page.speaker.say(refusal.message)
        return _shown(page, labels, of_bins=of_bins, search=search, one=one, problem=said)
    return Response(made, media_type="application/pdf")


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
        yield _label(page, f"/stock#bin-{quote(each.id, safe='')}", str(name[:1].upper() + name[1:]), line)


def _label(page: Page, path: str, name: str, line: str) -> Label:
    return Label(name, line, _base(page) + path, page.speaker.text("web_label.code_of", name=name))


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

"""Settings: the shop, how one reads, the instruments, fuels, and the limits with their sources."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff.ground.errors import Refusal
from lightoff.records import SHOP
from lightoff.terms.people import Instrument, Shop
from lightoff.texts import effect_words, limit_words
from lightoff.web import conflicts
from lightoff.web.forms import LONGEST_TEXT, Typed, entry_of, mended, new_id, standing
from lightoff.web.page import Page
from lightoff.web.preferences import APPEARANCES, COOKIE_SECONDS, UNITS
from lightoff.web.rooms import Rooms

rooms = Rooms()
PAPERS = ("a4", "letter")
YES_NO = ("no", "yes")
NOT_SAID = "not_said"
O2_BASES = ("dry", "wet", NOT_SAID)


@rooms.get("/settings")
def show_settings(request: Request) -> Response:
    """All of them on one page."""
    return _show(Page.of(request))


@rooms.post("/settings/reader")
async def mend_reader(request: Request) -> Response:
    """How this browser shows things; nobody else's does change."""
    typed = await Typed.of(request)
    response = RedirectResponse("/settings", status_code=303)
    for name, possible in (
        ("units", UNITS),
        ("appearance", APPEARANCES),
        ("gloves", YES_NO),
        ("location", YES_NO),
    ):
        value = typed.line(name)
        if value in possible:
            response.set_cookie(f"lightoff_{name}", value, max_age=COOKIE_SECONDS, samesite="lax")
    return response


@rooms.post("/settings/shop")
async def mend_shop(request: Request) -> Response:
    """The shop's name and address, and its habits."""
    page = Page.of(request)
    typed = await Typed.of(request)
    shop = replace(
        page.shop,
        name=typed.line("shop_name", needed=True),
        address=typed.line("shop_address", longest=LONGEST_TEXT),
        telephone=typed.line("shop_telephone"),
        email=typed.line("shop_email"),
        technician=typed.line("shop_technician"),
        units=typed.choice("shop_units", UNITS, otherwise=page.shop.units),
        paper=typed.choice("shop_paper", PAPERS, otherwise=page.shop.paper),
        prices_on_report=typed.choice("shop_prices", YES_NO, otherwise=_yes(page.shop.prices_on_report))
        == "yes",
    )
    if not typed.problems:
        try:
            author = shop.technician
            said = entry_of(shop, "shop", subject=SHOP, author=author, at=page.now)
            page.book.keep(mended(page.book, typed.values.get("shop_stands", ""), said))
            return RedirectResponse("/settings#shop", status_code=303)
        except Refusal as refusal:
            typed.gather(refusal)
    return _show(page, values=dict(typed.values), typed=typed)


@rooms.post("/settings/instruments")
async def keep_instrument(request: Request) -> Response:
    """Adds an instrument, or mends or retires the one that is named."""
    page = Page.of(request)
    typed = await Typed.of(request)
    known: Instrument | None = page.book.instruments().get(typed.line("instrument"))
    kind = typed.choice("kind", page.shelf.catalogue.classes)
    if known is not None and kind != known.kind:
        # An instrument does not become another; its old readings speak of what it was.
        typed.problem("kind", "web_error.kind_stays")
    o2_basis = typed.choice("o2_basis", O2_BASES, otherwise=(known and known.o2_basis) or NOT_SAID)
    if o2_basis != NOT_SAID and kind not in _oxygen_kinds(page):
        typed.problem("o2_basis", "web_error.reads_no_oxygen")
    instrument = Instrument(
        id=known.id if known else typed.identity("new_instrument", page.now),
        name=typed.line("instrument_name", needed=True),
        kind=kind,
        serial=typed.line("instrument_serial"),
        calibrated_on=typed.day("calibrated_on"),
        earlier_calibrations=known.earlier_calibrations if known else (),
        spans=known.spans if known else (),
        retired=typed.line("retired") == "yes",
        o2_basis="" if o2_basis == NOT_SAID else o2_basis,
    )
    if not typed.problems:
        try:
            author = page.shop.technician
            said = entry_of(instrument, "instrument", subject=instrument.id, author=author, at=page.now)
            page.book.keep(mended(page.book, typed.values.get("stands", ""), said))
            return RedirectResponse("/settings#instruments", status_code=303)
        except Refusal as refusal:
            typed.gather(refusal)
    return _show(page, values=dict(typed.values), typed=typed)


def _show(page: Page, *, values: dict[str, str] | None = None, typed: Typed | None = None) -> Response:
    problems = {
        name: page.speaker.say(each.message) for name, each in (typed.problems if typed else {}).items()
    }
    instruments = list(page.book.instruments().values())
    return page.show(
        "settings.html",
        status=422 if problems else 200,
        values={
            **_values(page.shop),
            "shop_stands": standing(page.book, "shop", SHOP),
            "new_instrument": new_id(page.now),
            **(values or {}),
        },
        problems=problems,
        instruments=instruments,
        conflicts=conflicts.of_shop(page, instruments),
        stands=lambda subject: standing(page.book, "instrument", subject),
        classes=_classes(page),
        oxygen_kinds=_oxygen_kinds(page),
        o2_bases=[(each, page.text(f"web_o2_basis.{each}")) for each in O2_BASES],
        fuels=page.shelf.fuels,
        sheets=list(page.shelf.sheets.values()),
        limits=[
            (row, limit_words(row, page.speaker), effect_words(row, page.speaker))
            for row in page.shelf.limits.rows.values()
        ],
        limits_version=page.shelf.limits.version,
        shelf_problems=[page.speaker.say(each.message) for each in page.shelf.problems],
        units=UNITS,
        appearances=APPEARANCES,
        papers=PAPERS,
        today=page.speaker.date_of(page.now),
    )


def _yes(holds: bool) -> str:
    return "yes" if holds else "no"


def _values(shop: Shop) -> dict[str, str]:
    return {
        "shop_name": shop.name,
        "shop_address": shop.address,
        "shop_telephone": shop.telephone,
        "shop_email": shop.email,
        "shop_technician": shop.technician,
    }


def _oxygen_kinds(page: Page) -> frozenset[str]:
    """The kinds of instrument that read oxygen in the exhaust."""
    classes = page.shelf.catalogue.classes.values()
    return frozenset(each.key for each in classes if "flue_o2" in each.accuracies)


def _classes(page: Page) -> list[Any]:
    """The kinds of instrument one can own; eyes are given."""
    return [each for each in page.shelf.catalogue.classes.values() if each.key not in {"eyes"}]

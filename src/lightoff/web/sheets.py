"""Heater types: one is added from its plate, and each is shown with what of it is estimated."""

from __future__ import annotations

from decimal import Decimal

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff.ground import units
from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.shelf import SHEET_NUMBERS, SHEET_SAID, SHEET_SERVICE, SHEET_TEXTS
from lightoff.terms.shelf import Feed, Sheet
from lightoff.web.forms import Typed
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.keep_sheet import FIELDS, NEEDED, PlateText, keep_sheet

rooms = Rooms()
_IN_US = {
    "heat_output_kw": "Btu/h",
    "thermostat_off_degc": "degF",
    "high_limit_degc": "degF",
    "stack_temperature_highest_degc": "degF",
    "stack_temperature_rated_degc": "degF",
    "coolant_volume_l": "US gal",
    "atomising_pressure_kpa": "psi",
}
"""Units in which a plate of that part of the world gives it, where they differ."""
GROUPS = (
    (
        "fire",
        (
            *("fuel_flow_kg_h", "o2_dry_low_percent", "o2_dry_high_percent"),
            *("stack_temperature_rated_degc", "stack_temperature_highest_degc"),
        ),
    ),
    ("spray", ("atomising_pressure_kpa", "compressor_current_a", "pump_current_a")),
    ("fan", ("fan_current_a", "fan_flow_m3_h", "fan_speed_rpm")),
    ("igniter", ("igniter_w", "igniter_v", "igniter_cold_ohm")),
    ("start", ("light_off_low_s", "light_off_high_s", "pre_purge_s", "after_run_s", "low_voltage_cut_out_v")),
    ("coolant", ("coolant_volume_l", "jacket_area_m2", "thermostat_off_degc", "high_limit_degc")),
    ("service", ("service_months", "service_hours", "service_starts")),
)
"""The boxes that may stay empty, in groups."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One line of a sheet: what, how much, and whether the plate said it."""

    name: Markup
    value: Markup
    estimated: bool = False
    unsaid: bool = False


@rooms.get("/sheets/new")
def new_sheet(request: Request) -> Response:
    """A blank page for a heater type."""
    return _form(Page.of(request), {"feed": Feed.UNKNOWN.value})


@rooms.post("/sheets/new")
async def add_sheet(request: Request) -> Response:
    """Keeps the type; what is wrong stands at its box, and nothing is written then."""
    page = Page.of(request)
    typed = await Typed.of(request)
    plate = PlateText(
        name=typed.line("name"),
        source=typed.line("source"),
        feed=typed.choice("feed", [each.value for each in Feed]),
        trials=typed.line("trials"),
        numbers={field: typed.line(field) for field in FIELDS},
        units={field: _unit(page, field) for field in FIELDS},
        words={field: typed.line(field) for field in SHEET_TEXTS},
        renewals={key: typed.line(f"renew_{key}") for key in page.shelf.part_types},
    )
    if not typed.problems:
        try:
            sheet = keep_sheet(page.house.workshop, plate)
            return RedirectResponse(f"/sheets/{sheet.key}", status_code=303)
        except Refusal as refusal:
            typed.gather(refusal)
    problems = {field: _said(page, each.message, field) for field, each in typed.problems.items()}
    return _form(page, dict(typed.values), problems)


@rooms.get("/sheets/{key}")
def show_sheet(request: Request, key: str) -> Response:
    """A heater type, with what of it is estimated."""
    page = Page.of(request)
    sheet: Sheet | None = page.shelf.sheets.get(key)
    if sheet is None:
        possible = ", ".join(page.shelf.sheets)
        raise NotFound(message("shop.no_such_sheet", sheet=key[:100], possible=possible))
    return page.show("sheet.html", sheet=sheet, rows=_rows(page, sheet))


def _form(page: Page, values: dict[str, str], problems: dict[str, str] | None = None) -> Response:
    return page.show(
        "sheet_new.html",
        status=422 if problems else 200,
        values=values,
        problems=problems or {},
        needed=NEEDED,
        groups=GROUPS,
        unit={field: page.speaker.symbol(_unit(page, field)) for field in FIELDS},
        feeds=[(each.value, page.text(f"web_sheet.feed_{each.name.lower()}")) for each in Feed],
        texts=SHEET_TEXTS,
        parts=[
            (
                f"renew_{key}",
                page.text_or(f"part.{key}", kind.label or key),
                page.text(f"wear_clock.{kind.clock}"),
            )
            for key, kind in page.shelf.part_types.items()
        ],
    )


def _unit(page: Page, field: str) -> str:
    us = page.preferences.units == "us"
    return _IN_US.get(field, FIELDS[field]) if us else FIELDS[field]


def _said(page: Page, said: Message, field: str) -> str:
    """The sentence of a box: the shelf's own, told of a plate and not of a file."""
    of_plate = f"web_sheet.{said.key.partition('.')[2]}"
    if not (said.key.startswith("shelf.") and page.speaker.has(of_plate)):
        return page.speaker.say(said)
    values = dict(said.values)
    if "high" in values and said.key == "shelf.low_above_high":
        values["high"] = f"@web_sheet.{values['high']}"
    elif field in FIELDS:
        values |= {name: _as_asked(page, field, str(values[name])) for name in ("value", "low", "high")}
    return page.speaker.text(of_plate, **values)


def _as_asked(page: Page, field: str, number: str) -> str:
    """A number of the file in the unit in which the box asks for it, with that unit."""
    asked, held = _unit(page, field), FIELDS[field]
    shown = number if asked == held else _digits(units.from_si(units.to_si(Decimal(number), held), asked))
    return f"{shown} {page.speaker.symbol(asked)}".strip()


def _digits(value: float) -> str:
    """Some four figures, as a plate gives them."""
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"


def _rows(page: Page, sheet: Sheet) -> list[Shown]:
    rows = []
    for field, noun, unit in (*SHEET_NUMBERS, *SHEET_SAID):
        held = getattr(sheet, noun)
        if held is None:
            continue
        shown = _unit(page, field)
        digits = _digits(units.from_si(held, shown))
        rows.append(
            Shown(
                name=page.text(f"web_sheet.{field}"),
                value=Markup("<b>{}</b> {}").format(digits, page.speaker.symbol(shown or unit)),
                estimated=noun in sheet.estimated,
            )
        )
    feed = page.text(f"web_sheet.feed_{sheet.feed.name.lower()}")
    rows.insert(2, Shown(name=page.text("web_sheet.feed"), value=feed, estimated=False))
    rows.append(Shown(name=page.text("web_sheet.trials"), value=Markup(str(sheet.trials)), estimated=False))
    rows += _service(page, sheet)
    for field in SHEET_TEXTS:
        words = getattr(sheet, field)
        if words:
            rows.append(
                Shown(name=page.text(f"web_sheet.{field}"), value=Markup.escape(words), estimated=False)
            )
    return rows


def _service(page: Page, sheet: Sheet) -> list[Shown]:
    """When the maker asks for a service and for new parts; what is not on the plate says so."""
    told = sheet.service.told()
    rows = []
    for field, clock, _ in SHEET_SERVICE:
        unsaid = clock not in told
        value = Markup() if unsaid else _amount(page, clock, told[clock])
        rows.append(Shown(name=page.text(f"web_sheet.{field}"), value=value, unsaid=unsaid))
    for part, interval in sheet.renewals.items():
        kind = page.shelf.part_types.get(part)
        name = page.text_or(f"part.{part}", (kind.label if kind else "") or part)
        amounts = [_amount(page, clock, every) for clock, every in interval.told().items()]
        rows.append(
            Shown(
                name=page.text("web_sheet.renew", part=str(name)),
                value=Markup(", ").join(amounts),
            )
        )
    return rows


def _amount(page: Page, clock: str, every: float) -> Markup:
    return Markup("<b>{}</b> {}").format(f"{every:,g}", page.text(f"wear_clock.{clock}"))

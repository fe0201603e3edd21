"""Another place, another season: here and there side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.ground.message import Amount
from lightoff.ground.values import dataclass
from lightoff.plant.band import Band
from lightoff.plant.quantities import QUANTITIES
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.elsewhere import FILTERS, SHOWN, Burns, Elsewhere, Spot, elsewhere_of, sheet_named
from lightoff.work.read_numbers import RATED_FUEL
from lightoff.work.typed_numbers import number

rooms = Rooms()
_HEIGHTS_M, _AIRS_K, _VOLTS = (-500.0, 6000.0), (213.15, 333.15), (1.0, 60.0)
_THERE_M = 2000.0
_HIGHEST = {"trace_gas_fraction": 0.01}
"""Beyond one part in a hundred of carbon monoxide no number helps anybody. Judgement, no source."""
_LEAST_CHANCE = 0.01
"""A chance nearer to never or always than this is not told to a per cent: the model is not that good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the two columns."""

    name: Markup
    here: Markup
    there: Markup


@rooms.get("/heaters/{id}/elsewhere")
def show_elsewhere(request: Request, id: str) -> Response:  # noqa: A002
    """The two columns for this heater."""
    page = Page.of(request)
    line = page.book.line(id)
    sheet = sheet_named(line.heater.sheet, page.shelf)
    visits = page.book.visits_of(id)
    place = visits[-1].place if visits else None
    usual = {
        "here_altitude": (place.altitude_m if place else None) or 0.0,
        "here_air": (place.air_temperature_k if place else None) or 288.15,
        "there_altitude": _THERE_M,
        "there_air": 278.15,
    }
    values, problems = _typed(request.query_params, page, usual)
    found = None
    if not problems:
        spots = [
            Spot(
                altitude_m=values[f"{side}_altitude"] or 0.0,
                air_temperature_k=values[f"{side}_air"] or 288.15,
                rest_v=values[f"{side}_volts"],
                fuel=_picked(request, f"{side}_fuel", tuple(page.shelf.fuels), RATED_FUEL),
                filter=_picked(request, f"{side}_filter", tuple(FILTERS), "clean"),
            )
            for side in ("here", "there")
        ]
        found = elsewhere_of(page.house.workshop, id, spots[0], spots[1])
    return page.show(
        "elsewhere.html",
        line=line,
        sheet=sheet,
        shown={key: _shown(request, page, key, value) for key, value in values.items()},
        problems=problems,
        fuels=[(key, page.text_or(f"fuel.{key}", key)) for key in page.shelf.fuels],
        filters=[(key, page.text(f"web_elsewhere.filter_{key.replace(' ', '_')}")) for key in FILTERS],
        picked=request.query_params,
        units={
            "altitude": page.speaker.unit("length"),
            "air": page.speaker.unit("temperature"),
            "volts": "V",
        },
        rows=_rows(page, found) if found else (),
        found=found,
        window=_window(page, found) if found else None,
    )


def _typed(
    query: Mapping[str, str], page: Page, usual: Mapping[str, float]
) -> tuple[dict[str, float | None], dict[str, str]]:
    """What was typed, SI, the usual where nothing was; and a sentence for each box that is wrong."""
    values: dict[str, float | None] = {}
    problems: dict[str, str] = {}
    for side in ("here", "there"):
        for key, dimension, ends in (
            ("altitude", "length", _HEIGHTS_M),
            ("air", "temperature", _AIRS_K),
            ("volts", "voltage", _VOLTS),
        ):
            name = f"{side}_{key}"
            values[name] = usual.get(name)
            raw = query.get(name, "").strip()
            if not raw:
                continue
            try:
                value = units.to_si(number(raw), page.speaker.unit_key(dimension))
            except Refusal as refusal:
                problems[name] = page.speaker.say(refusal.message)
                continue
            if ends[0] <= value <= ends[1]:
                values[name] = value
            else:
                low, high = (Amount(value=end, dimension=dimension) for end in ends)
                problems[name] = page.speaker.text("web_elsewhere.outside", low=low, high=high)
    return values, problems


def _shown(request: Request, page: Page, name: str, value: float | None) -> str:
    if name in request.query_params:
        return request.query_params[name]
    if value is None:
        return ""
    dimension = {"altitude": "length", "air": "temperature", "volts": "voltage"}[name.partition("_")[2]]
    unit = page.speaker.unit_key(dimension)
    return f"{units.from_si(value, unit):.{0 if unit == 'ft' else 1}f}".removesuffix(".0")


def _picked(request: Request, name: str, possible: Sequence[str], usual: str) -> str:
    asked = request.query_params.get(name, usual)
    return asked if asked in possible else usual


def _rows(page: Page, found: Elsewhere) -> list[Row]:
    def row(key: str, shown: object) -> Row:
        here, there = (shown(each) for each in (found.here, found.there))  # type: ignore[operator]
        return Row(name=page.text(key), here=here, there=there)

    def number(value: float, dimension: str) -> str:
        highest = _HIGHEST.get(dimension, value)
        told = page.speaker.number(min(value, highest), dimension)
        return page.speaker.text("web_elsewhere.over", value=told) if value > highest else told

    def band(each: Band, dimension: str) -> Markup:
        low, middle, high = (number(end, dimension) for end in (each.low, each.middle, each.high))
        value = page.text("web_elsewhere.middle", middle=middle, unit=page.speaker.unit(dimension))
        ends = page.text("web_elsewhere.ends", low=low, high=high)
        return Markup("<b>{}</b> <small>{}</small>").format(value, ends)

    def share(value: float, key: str = "share") -> Markup:
        return Markup("<b>{}</b>").format(page.text(f"web_elsewhere.{key}", percent=round(100 * value)))

    def chance(value: float) -> Markup:
        if value < _LEAST_CHANCE:
            return share(_LEAST_CHANCE, "hardly")
        if value > 1.0 - _LEAST_CHANCE:
            return share(1.0 - _LEAST_CHANCE, "nearly_sure")
        return share(value)

    rows = [
        row("web_elsewhere.air_ratio", lambda each: band(each.air_ratio, "ratio")),
        row("web_elsewhere.smokes", lambda each: chance(each.smokes)),
        Row(
            name=page.text(
                "web_elsewhere.co_over",
                limit=Amount(value=found.co_limit_fraction, dimension="trace_gas_fraction"),
            ),
            here=chance(found.here.co_over_limit),
            there=chance(found.there.co_over_limit),
        ),
        row("web_elsewhere.lights", lambda each: chance(each.lights)),
        row("web_elsewhere.efficiency", lambda each: share(each.efficiency)),
    ]
    for key in SHOWN:
        dimension = QUANTITIES[key].dimension

        def reading(each: Burns, key: str = key, dimension: str = dimension) -> Markup:
            return band(each.readings[key], dimension)

        rows.append(row(f"reading.{key}", reading))
    return rows


def _window(page: Page, found: Elsewhere) -> Markup:
    if not found.window.exists:
        return page.text("web_elsewhere.no_window")
    low, high = (Amount(value=end, dimension="ratio") for end in (found.window.low, found.window.high))
    return page.text("web_elsewhere.window", low=low, high=high)

"""What to carry: for the visits chosen and for the season, within limits of money, mass and space."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff import drawing
from lightoff.ground import units
from lightoff.ground.errors import NotFound
from lightoff.ground.values import dataclass
from lightoff.terms.shelf import PartType
from lightoff.wear.saying import plain_share
from lightoff.wear.spares import Limits
from lightoff.web.gathering import gathered
from lightoff.web.page import Page, subscripted
from lightoff.web.rooms import Rooms
from lightoff.work.reckoning import Price, Whence
from lightoff.work.what_to_carry import VAN, Carried, Season, Tomorrow, for_the_day, for_the_season
from lightoff.work.who_needs_visit import Due, who_needs_visit

rooms = Rooms()
MOST_VISITS = 12
_FIRST = 4  # ticked before anybody chose
_NUMBER = re.compile(r"\d{1,7}([.,]\d{1,3})?", re.ASCII)
_LIMITS = ("money", "mass", "volume")


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One visit of the day as the page shows it."""

    heater: str
    name: str
    as_is: Markup
    with_kit: Markup
    picture: Markup
    needs: Markup
    why: Markup


@rooms.get("/spares")
def show_spares(request: Request) -> Response:
    """The page, worked out for what its address asks."""
    page = Page.of(request)
    asked = request.query_params
    workshop = page.house.workshop
    typed = {name: asked.get(name, "").strip() for name in _LIMITS}
    problems = {
        name: page.speaker.text("web_spares.number") for name, text in typed.items() if _limit(text) is None
    }
    limits = Limits(
        price=_limit(typed["money"]) or math.inf,
        mass_kg=_limit(typed["mass"]) or math.inf,
        volume_m3=_cubic_metres(_limit(typed["volume"]) or math.inf),
    )
    place, typed_visits = asked.get("place", VAN), list(dict.fromkeys(asked.getlist("heater")))

    def work() -> tuple[tuple[Due, ...], list[str], Tomorrow | None, Season]:
        due = who_needs_visit(workshop, page.now, count=MOST_VISITS, most_judged=0)
        chosen = typed_visits or [each.line.heater.id for each in due[:_FIRST]]
        chosen = _known(page, chosen)[:MOST_VISITS]
        day = for_the_day(workshop, chosen, page.now, limits=limits, place=place) if chosen else None
        return due, chosen, day, for_the_season(workshop, page.now, limits=limits, place=place)

    found = gathered(page, work)
    if isinstance(found, Response):
        return found
    due, chosen, day, season = found
    places = sorted({each.place for each in page.book.bins()} | {VAN})
    return page.show(
        "spares.html",
        status=422 if problems else 200,
        values=typed,
        problems=problems,
        places=[(each, each) for each in places],
        place=place if place in places else VAN,
        choices=_choices(page, due, chosen),
        chosen_count=len(chosen),
        usual=_usual(page, season),
        calls=_calls(page, day) if day else [],
        day=_day(page, day) if day else {},
        day_rows=[_row(page, each) for each in day.parts if each.wanted or each.on_van] if day else [],
        season=_season(page, season),
        season_rows=[_row(page, each, enough=season.enough) for each in season.parts],
    )


def _limit(text: str) -> float | None:
    """A limit above nought, infinite for none, None for what is no number."""
    if not text:
        return math.inf
    number = float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else 0.0
    return number or None


def _cubic_metres(litres: float) -> float:
    return units.to_si(litres, "L") if math.isfinite(litres) else math.inf


def _known(page: Page, heaters: list[str]) -> list[str]:
    found = []
    for each in heaters:
        try:
            found.append(page.book.heater(each).id)
        except NotFound:
            continue
    return found


def _choices(page: Page, due: tuple[Due, ...], chosen: list[str]) -> list[tuple[str, str, Markup, bool]]:
    """Heaters that may be ticked: those chosen first, in their order, then the most pressing."""
    lines = {each.line.heater.id: each for each in due}
    listed = [*chosen, *(each for each in lines if each not in chosen)]
    told = []
    for each in listed:
        line = lines[each].line if each in lines else page.book.line(each)
        why = subscripted(page.speaker.say(lines[each].reasons[0])) if each in lines else Markup()
        told.append((each, f"{line.vehicle.name}, {line.heater.name}", why, each in chosen))
    return told


def _calls(page: Page, day: Tomorrow) -> list[Call]:
    told = []
    for unit, needs, why, as_is, with_kit in zip(
        day.calls, day.needs, day.why, day.as_is.calls, day.with_kit.calls, strict=True
    ):
        told.append(
            Call(
                heater=unit.heater.id,
                name=as_is.name,
                as_is=_share(page, as_is.chance),
                with_kit=_share(page, with_kit.chance),
                picture=Markup(
                    drawing.chance(
                        with_kit.chance, with_kit.chance, with_kit.chance, page.speaker, title=as_is.name
                    )
                ),
                needs=Markup(", ").join(_need(page, kind, chance) for kind, chance in _ordered(needs)),
                why=subscripted(page.speaker.say(why)),
            )
        )
    return told


def _need(page: Page, kind: str, chance: float) -> Markup:
    share = page.text("web_spares.for_sure") if chance >= 1.0 else _share(page, chance)
    return page.text("web_spares.need", part=str(_name(page, page.shelf.part_types[kind])), share=str(share))


def _ordered(needs: Mapping[str, float]) -> list[tuple[str, float]]:
    return sorted(needs.items(), key=lambda each: (-each[1], each[0]))


def _day(page: Page, day: Tomorrow) -> dict[str, Any]:
    served = page.text("carry.served", count=day.served_count, visits=len(day.calls))
    return {
        "as_is": _share(page, day.as_is.every),
        "with_kit": _share(page, day.with_kit.every),
        "says": [subscripted(page.speaker.say(each)) for each in day.kit.says()],
        "served": served if day.served_count < len(day.calls) else "",
    }


def _season(page: Page, season: Season) -> dict[str, Any]:
    return {
        "line": page.text("web_spares.season_line", services=season.services, months=f"{season.months:.0f}"),
        "says": [subscripted(page.speaker.say(each)) for each in season.kit.says()[1:]],
    }


def _row(page: Page, each: Carried, *, enough: Mapping[str, float] | None = None) -> dict[str, Any]:
    return {
        "key": each.kind.key,
        "name": _name(page, each.kind),
        "wanted": each.wanted,
        "on_van": each.on_van,
        "to_load": each.to_load,
        "to_buy": each.to_buy,
        "price": f"{each.price.amount:,.2f}",
        "whence": _whence(page, each.price),
        "expected": f"{each.expected:.1f}",
        "there_is": each.on_van + each.elsewhere,
        "enough": _share(page, enough[each.kind.key]) if enough else "",
    }


def _whence(page: Page, price: Price) -> Markup:
    """Where a price is from; nothing for the usual one, which is said once."""
    return Markup() if price.whence is Whence.USUAL else page.text(f"web_spares.price_{price.whence.value}")


def _usual(page: Page, season: Season) -> Markup:
    """What parts without a price are taken to cost."""
    usual = [each.price for each in season.parts if each.price.whence is Whence.USUAL]
    return page.text("web_spares.price_usual", amount=f"{usual[0].amount:,.2f}") if usual else Markup()


def _share(page: Page, chance: float) -> Markup:
    return subscripted(page.speaker.say(plain_share(chance)))


def _name(page: Page, kind: PartType) -> Markup:
    return page.text_or(f"part.{kind.key}", kind.label or kind.key)

"""The shop's view of wear: part types with their lives, come-backs, repairs, who stands out."""

from __future__ import annotations

import math

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff import drawing
from lightoff.ground.errors import NotFound
from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.terms.shelf import PartType
from lightoff.wear.lives import Clock
from lightoff.wear.posterior import LifePrior
from lightoff.wear.saying import whole
from lightoff.web.causes import WIDTHS, shown_causes
from lightoff.web.gathering import gathered
from lightoff.web.page import Page, capped
from lightoff.web.rooms import Rooms
from lightoff.work.fleet import prior_of
from lightoff.work.shop_wear import PartCourse, PartLives, ShopWear, part_course, shop_wear

rooms = Rooms()
MOST_PAIRS, MOST_FAILED = 60, 120
_DAYS_A_YEAR = 365.25
_ROWS = 8  # of the table that says in numbers what the drawing shows


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One part type in the list."""

    key: str
    name: Markup
    count: Markup
    said: Markup
    picture: Markup


@rooms.get("/wear")
def show_wear(request: Request) -> Response:
    """The whole shop."""
    page = Page.of(request)
    found = gathered(page, lambda: shop_wear(page.house.workshop, page.now))
    if isinstance(found, Response):
        return found
    return page.show(
        "wear.html",
        rows=[_row(page, each) for each in found.parts],
        come_backs=[page.speaker.say(each) for each in found.come_backs.says()] if found.come_backs else [],
        pairs=[
            (
                other.id,
                page.text(
                    "web_wear.pair",
                    earlier=page.speaker.date_of(one.started_at),
                    later=page.speaker.date_of(other.started_at),
                    days=round((other.started_at - one.started_at).total_seconds() / 86_400),
                ),
                _named(page, other.heater),
            )
            for one, other in found.came_back[:MOST_PAIRS]
        ],
        repairs=_repairs(page, found),
        wear=found,
        trouble=[
            (
                unit.heater.id,
                _named(page, unit.heater.id),
                " ".join(page.speaker.say(each) for each in told.says()),
            )
            for unit, told in found.trouble
        ],
    )


@rooms.get("/wear/{key}")
def show_part_type(request: Request, key: str) -> Response:
    """One part type: its curve with what it rests on."""
    page = Page.of(request)
    try:
        found = gathered(page, lambda: part_course(page.house.workshop, key, page.now))
    except NotFound:
        if key not in page.shelf.part_types:
            raise
        kind = page.shelf.part_types[key]
        return page.show(
            "wear_unseen.html", name=_name(page, kind), judgement=_judgement(page, prior_of(kind))
        )
    if isinstance(found, Response):
        return found
    kind, clock = found.lives.kind, Clock(found.lives.kind.clock)
    name, unit = _name(page, kind), _clock(page, clock)
    table = _table(found)
    own = found.lives.prior
    return page.show(
        "wear_part.html",
        name=name,
        clock=unit,
        found=found,
        pictures={size: _course(page, found, name, unit, width) for size, width in WIDTHS.items()},
        table=[
            (f"{age:,.0f}", count, failed, _percent(seen), _percent(held))
            for age, count, failed, seen, held in table
        ],
        says=[page.speaker.say(each) for each in found.lives.possible.says()],
        placed=[page.speaker.say(each) for each in found.curve.says(found.oldest / 2)[1:]],
        clocks=[page.speaker.say(each) for each in found.clock.says()] if found.clock else [],
        by_type=[
            (
                page.shelf.sheets[sheet].name if sheet in page.shelf.sheets else sheet,
                " ".join(page.speaker.say(each) for each in lives.says()[:2]),
            )
            for sheet, lives in found.by_type
        ],
        failed=[
            (
                each.heater,
                _named(page, each.heater),
                page.text(
                    "web_wear.failure_at" if each.life.is_exact else "web_wear.failure",
                    day=page.speaker.date_of(each.on),
                    left=whole(each.life.left),
                    right=whole(each.life.right or 0.0),
                    clock=f"@wear_clock.{clock.value}",
                ),
            )
            for each in found.failed[:MOST_FAILED]
        ],
        judgement=_judgement(page, own),
        causes=shown_causes(page, found, name, unit),
    )


def _judgement(page: Page, prior: LifePrior) -> Markup:
    """What is held of a part type's life before any was seen, and where that is from."""
    judged = prior.judged_life()
    return page.text(
        "web_wear.judgement_line",
        life=whole(judged.value),
        low=whole(judged.low),
        high=whole(judged.high),
        clock=f"@wear_clock.{prior.clock.value}",
        shape=f"{prior.shape:g}",
        basis=prior.basis,
    )


def _row(page: Page, lives: PartLives) -> Row:
    kind, life = lives.kind, lives.possible.life()
    clock = f"@wear_clock.{kind.clock}"
    said = page.text(
        "web_wear.row_life", life=whole(life.value), low=whole(life.low), high=whole(life.high), clock=clock
    )
    judged = lives.prior.judged_life()
    name = _name(page, kind)
    return Row(
        key=kind.key,
        name=name,
        count=page.text("web_wear.row", failures=lives.failure_count, lives=lives.life_count),
        said=said,
        picture=Markup(
            drawing.life(
                life,
                judged,
                title=page.speaker.text("web_wear.life_of", part=str(name)),
                description=str(said),
            )
        ),
    )


def _course(page: Page, found: PartCourse, name: Markup, unit: str, width: float) -> Markup:
    steps = [
        drawing.Step(age=float(age), value=found.curve.steps.at(float(age)), at_risk=int(count))
        for age, count in zip(found.curve.steps.ages, found.curve.steps.at_risk, strict=True)
        if age <= found.oldest
    ]
    middle = found.oldest / 2
    seen, held = found.curve.steps.at(middle), found.lives.possible.survival([middle])[0]
    words = drawing.CourseWords(
        title=page.speaker.text("web_wear.curve", part=str(capped(name))),
        description=page.speaker.text(
            "web_wear.described",
            age=whole(middle),
            clock=unit,
            seen=_hundred(seen.value),
            low=_hundred(seen.low),
            high=_hundred(seen.high),
            possible=_hundred(held.value),
            count=found.curve.at_risk(middle),
        ),
        ages=unit,
        at_risk=page.speaker.text("web_wear.at_risk"),
        seen=page.speaker.text("web_wear.seen"),
        possible=page.speaker.text("web_wear.possible"),
        judged=page.speaker.text("web_wear.judged"),
    )
    return Markup(
        drawing.course(
            steps,
            words,
            oldest=found.oldest,
            possible=found.smooth,
            judged=found.judged,
            as_value=lambda share: f"{100 * share:.0f} %",
            as_age=lambda age: f"{age:,.0f}",
            width=width,
        )
    )


def _table(found: PartCourse) -> list[tuple[float, int, int, Estimate, Estimate]]:
    """Age, watched, failed, share still good as seen and as possible: a few rows of the curve."""
    steps = found.curve.steps
    places = [at for at, age in enumerate(steps.ages) if age <= found.oldest]
    if len(places) > _ROWS:
        places = sorted({round(at * (len(places) - 1) / (_ROWS - 1)) for at in range(_ROWS)})
    ages = [float(steps.ages[at]) for at in places]
    held = found.lives.possible.survival(ages) if ages else ()
    return [
        (age, int(steps.at_risk[at]), int(steps.failures[at]), steps.at(age), each)
        for at, age, each in zip(places, ages, held, strict=True)
    ]


def _repairs(page: Page, found: ShopWear) -> dict[str, Markup]:
    """The mean number of repairs of a heater over the years, drawn; nothing without a repair."""
    if found.repairs is None or not found.repairs.ages.size:
        return {}
    mean = found.repairs
    steps = [
        drawing.Step(age=float(age) / _DAYS_A_YEAR, value=mean.at(float(age)), at_risk=int(count))
        for age, count in zip(mean.ages, mean.at_risk, strict=True)
    ]
    last = steps[-1]
    words = drawing.CourseWords(
        title=page.speaker.text("web_wear.repairs"),
        description=page.speaker.text(
            "web_wear.described_repairs",
            years=f"{last.age:.1f}",
            mean=f"{last.value.value:.1f}",
            low=f"{last.value.low:.1f}",
            high=f"{last.value.high:.1f}",
        ),
        ages=page.speaker.text("web_wear.years"),
        at_risk=page.speaker.text("web_wear.at_risk"),
        seen=page.speaker.text("web_wear.mean_seen"),
    )
    return {
        size: Markup(
            drawing.course(
                steps,
                words,
                oldest=max(found.longest_days / _DAYS_A_YEAR, last.age),
                start=0.0,
                most=math.ceil(2.1 * max(each.value.value for each in steps)) / 2.0,
                as_value=lambda count: f"{count:g}",
                as_age=lambda years: f"{years:g}",
                width=width,
            )
        )
        for size, width in WIDTHS.items()
    }


def _named(page: Page, heater_id: str) -> str:
    line = page.book.line(heater_id)
    return f"{line.vehicle.name}, {line.heater.name}"


def _name(page: Page, kind: PartType) -> Markup:
    return page.text_or(f"part.{kind.key}", kind.label or kind.key)


def _clock(page: Page, clock: Clock) -> str:
    return page.speaker.text(f"wear_clock.{clock.value}")


def _hundred(share: float) -> str:
    return f"{100.0 * share:.0f}"


def _percent(share: Estimate) -> str:
    return f"{100.0 * share.value:.0f} % ({100.0 * share.low:.0f}–{100.0 * share.high:.0f})"

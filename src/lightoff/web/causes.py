"""What ended the pieces of a part type, as its page shows it: layers by age, and each cause in words."""

from __future__ import annotations

from markupsafe import Markup

from lightoff import drawing
from lightoff.ground.values import dataclass
from lightoff.wear.fleet import CumulativeIncidence
from lightoff.wear.saying import whole
from lightoff.web.page import Page, capped
from lightoff.work.shop_wear import UNSAID, PartCourse

WIDTHS = {"desk": 660.0, "phone": 334.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Causes:
    """Pictures by size, the leading cause in a sentence, and a row for each cause, the largest first."""

    pictures: dict[str, Markup]
    says: str
    rows: tuple[tuple[str, str], ...]


def shown_causes(page: Page, found: PartCourse, name: Markup, clock: str) -> Causes | None:
    """What the page shows; None where nobody said of any failure what ended the piece."""
    told = found.causes
    if told is None or not told.ages.size:
        return None
    ordered = sorted(told.by_cause, key=lambda each: (each == UNSAID, -float(told.by_cause[each][-1])))
    end = min(found.oldest, float(told.ages[-1]))
    rows = tuple((_named(page, each), _share(page, told, each, end, clock)) for each in ordered)
    first = ordered[0]
    says = page.speaker.text(
        "web_wear.leading_cause",
        cause=_named(page, first),
        count=told.failures[first],
        failures=sum(told.failures.values()),
        share=_hundred(told.share(first, end).value),
        age=whole(end),
        clock=clock,
    )
    words = drawing.CauseWords(
        title=page.speaker.text("web_wear.causes_of", part=str(capped(name))),
        description="; ".join(f"{cause}: {said}" for cause, said in rows),
        ages=clock,
        at_risk=page.speaker.text("web_wear.at_risk"),
    )
    layers = [
        drawing.CauseLayer(
            name=_named(page, each),
            shares=list(zip(told.ages.tolist(), told.by_cause[each].tolist(), strict=True)),
        )
        for each in ordered
    ]
    counts = [(float(age), int(count)) for age, count in zip(told.ages, told.at_risk, strict=True)]
    return Causes(
        pictures={
            size: Markup(
                drawing.causes(
                    layers,
                    counts,
                    words,
                    oldest=found.oldest,
                    as_value=lambda share: f"{100 * share:g} %",
                    as_age=lambda age: f"{age:,.0f}",
                    width=width,
                )
            )
            for size, width in WIDTHS.items()
        },
        says=says,
        rows=rows,
    )


def _named(page: Page, cause: str) -> str:
    if cause == UNSAID:
        return page.speaker.text("web_wear.cause_unsaid")
    return page.speaker.text(f"fault.{cause}") if page.speaker.has(f"fault.{cause}") else cause


def _share(page: Page, told: CumulativeIncidence, cause: str, age: float, clock: str) -> str:
    share = told.share(cause, age)
    return page.speaker.text(
        "web_wear.cause_row",
        count=told.failures[cause],
        share=_hundred(share.value),
        low=_hundred(share.low),
        high=_hundred(share.high),
        age=whole(age),
        clock=clock,
    )


def _hundred(share: float) -> str:
    return f"{100.0 * share:.0f}" if share >= 0.095 else f"{100.0 * share:.1f}"

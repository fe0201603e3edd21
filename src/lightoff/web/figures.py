"""How a figure was had: in words, from which readings, and after which source."""

from __future__ import annotations

from collections.abc import Mapping

from markupsafe import Markup

from lightoff.ground.sources import SOURCES
from lightoff.judging.assessment import Figure
from lightoff.terms.case import Case
from lightoff.texts import band_words
from lightoff.web.page import Page

AFTER: Mapping[str, tuple[str, ...]] = {
    "air_ratio": ("element_balance",),
    "air_ratio_from_co2": ("element_balance",),
    "co_air_free": ("cfr_40_60_284",),
    "co_at_reference_o2": ("cfr_40_60_284",),
    "stack_loss": ("mcbride_1993",),
    "stack_loss_siegert": ("siegert",),
    "unburned_loss": ("mcbride_1993",),
    "dew_point": ("iapws_if97",),
    "acid_dew_point": ("verhoff_1974",),
    "flame_temperature": ("mcbride_1993",),
    "air_ratio_reference": ("us_standard_atmosphere_1976",),
}
"""The sources of the formulas, by figure; all others are sums, shares and products of what was read."""


def band_told(page: Page, figure: Figure) -> str:
    """The band of a figure that has one, in words."""
    assert figure.expected is not None
    low, high = (
        page.speaker.number(each, figure.dimension) for each in (figure.expected.low, figure.expected.high)
    )
    return band_words(
        figure.expected, figure.limit, page.speaker, low=low, high=high, by_sheet=figure.by_sheet
    )


def how_had(page: Page, case: Case, figure: Figure) -> list[Markup]:
    """Sentences on how a figure was worked out; none for a reading that is shown as it was read."""
    key = f"figure_how.{figure.key}"
    if not page.speaker.has(key):
        return []
    said = [page.text(key)]
    told = dict.fromkeys(
        f"{page.speaker.text(f'reading.{each.key}')} {page.speaker.reading(each)}"
        for each in case.visit.readings
        if each.id in figure.readings
    )
    if told:
        said.append(page.text("figure_how.from", readings=", ".join(told)))
    said += [page.text("figure_how.source", source=_source(each)) for each in AFTER.get(figure.key, ())]
    return said


def _source(key: str) -> str:
    """A law that needs no source is told by its name."""
    known = SOURCES[key]
    named = (known.title, known.edition, known.place)
    return known.title if known.edition == "no edition" else ", ".join(filter(None, named))

"""The band to expect beside every number field: this heater, here, today."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from markupsafe import Markup

from lightoff import drawing
from lightoff.drawing.scale import scale_caption
from lightoff.ground import units
from lightoff.ground.estimate import Estimate
from lightoff.judging.assessment import Figure
from lightoff.plant.quantities import QUANTITIES
from lightoff.terms.case import Case
from lightoff.terms.visit import Stage
from lightoff.web import card
from lightoff.web.page import Page, subscripted
from lightoff.work.expect_readings import expect_readings

WIDTH_PX = 168.0
NOT_SHOWN = frozenset({"living_space_co_running", "run_time_before_stop"})
"""Of these only a limit is told, or nothing: a sound heater leaves no gas indoors and does not stop."""


def expected_of(page: Page, case: Case) -> Mapping[tuple[str, Stage], Estimate]:
    """The bands of both stages by key and stage."""
    return {
        (key, stage): Estimate(
            value=band.middle,
            low=min(band.low, band.middle),
            high=max(band.high, band.middle),
            coverage=0.95,
        )
        for stage in Stage
        for key, band in expect_readings(case, page.shelf, stage=stage).items()
        if key not in NOT_SHOWN
    }


def expected_strips(page: Page, case: Case, fields: Sequence[card.Field]) -> dict[str, Markup]:
    """The band under each number field, by the field's id: in words, and drawn where a number stands."""
    expected = expected_of(page, case)
    return {
        field.slot.id: strip(page, field, band)
        for field in fields
        if field.is_number and (band := expected.get((field.slot.key, field.slot.stage))) is not None
    }


def strip(page: Page, field: card.Field, expected: Estimate) -> Markup:
    """The band of one field that has no judged figure of its own."""
    dimension = QUANTITIES[field.slot.key].dimension
    said = scale_caption(expected, None, page.speaker, dimension=dimension)
    words = Markup('<span class="caption">{}</span>').format(subscripted(", ".join(said)))
    reading = field.reading
    if reading is None or reading.value is None or reading.basis in ("wet", "calculated"):
        return words
    value = units.to_si(reading.value, reading.unit)
    figure = Figure(
        key=field.slot.key,
        estimate=Estimate(value=value, low=value, high=value, coverage=0.95),
        dimension=dimension,
        stage=field.slot.stage,
        expected=expected,
        readings=(reading.id,),
    )
    left, found = (figure, None) if field.slot.stage is Stage.AS_LEFT else (None, figure)
    return Markup(drawing.scale(left, page.speaker, found=found, width=WIDTH_PX, caption=False)) + words

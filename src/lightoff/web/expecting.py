"""Under each number field its own scale: the number, the limit, and the band to expect here and today."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from markupsafe import Markup

from lightoff import drawing
from lightoff.drawing.scale import scale_caption
from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Assessment, Bands, Figure
from lightoff.judging.expected import estimate_of, limit_of, told
from lightoff.judging.limit_gates import Rows
from lightoff.plant.quantities import QUANTITIES
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.shelf import Limit
from lightoff.terms.visit import Stage
from lightoff.texts import begins_at_limit, sets_words
from lightoff.web import card
from lightoff.web.page import Page, subscripted
from lightoff.work.expect_readings import expect_readings
from lightoff.work.rated import sheet_of
from lightoff.work.read_numbers import si_of

WIDTH_PX = 168.0
NOT_SHOWN = frozenset({"living_space_co_running", "run_time_before_stop"})
"""Of these only a limit is told, or nothing: a sound heater leaves no gas indoors and does not stop."""
# What was drawn under one field is not made again while it is the same.
_scale = lru_cache(maxsize=4096)(drawing.scale)
# The figure that is drawn on the scale of a field, by reading.
_FIGURE_OF = {"flue_co": "co_air_free", "living_space_co_running": "living_space_co_rise"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """What is told of a reading before it is judged; `floor` where nothing else ends the band below."""

    band: Estimate
    floor: Limit | None


def field_scales(
    page: Page, case: Case, assessment: Assessment, fields: Sequence[card.Field]
) -> dict[str, Markup]:
    """What stands under each number field of the card, by the field's id."""
    expected, drawn = _by_field(case, page.shelf, assessment.expected), {}
    for field in fields:
        band = expected.get((field.slot.key, field.slot.stage)) if field.is_number else None
        figure = _judged(assessment, field)
        if figure is not None:
            another = figure.key != field.slot.key or figure.by_sheet
            drawn[field.slot.id] = _judged_strip(page, figure, field) + (
                _words(page, field, band) if band is not None and another else Markup()
            )
        elif band is not None:
            drawn[field.slot.id] = _strip(page, field, band)
    return drawn


def expected_strips(page: Page, case: Case, fields: Sequence[card.Field]) -> dict[str, Markup]:
    """The band alone under each number field, by the field's id, where nothing is judged."""
    if case.heater.sheet not in page.shelf.sheets:
        return {}
    bands = {stage: expect_readings(case, page.shelf, stage=stage) for stage in Stage}
    expected = _by_field(case, page.shelf, bands)
    return {
        field.slot.id: _strip(page, field, band)
        for field in fields
        if field.is_number and (band := expected.get((field.slot.key, field.slot.stage))) is not None
    }


def _by_field(case: Case, shelf: Shelf, expected: Bands) -> Mapping[tuple[str, Stage], _Told]:
    rows = Rows(limits=shelf.limits, sheet=sheet_of(case, shelf), kind=str(case.vehicle.kind))
    shown = {}
    for stage, bands in expected.items():
        for key, band in bands.items():
            told_here = None if key in NOT_SHOWN else told(key, estimate_of(band), rows)
            if told_here is not None:
                row = limit_of(key, rows)
                floor = row if begins_at_limit(told_here, row) else None
                shown[key, stage] = _Told(band=told_here, floor=floor)
    return shown


def _judged(assessment: Assessment, field: card.Field) -> Figure | None:
    """The figure that the judgement holds of a field, if it has something to compare it with."""
    if field.reading is None or field.slot.set_number == 2 or not field.is_number:
        return None
    figure = assessment.figure(_FIGURE_OF.get(field.slot.key, field.slot.key), field.slot.stage)
    if figure is None or (figure.limit is None and figure.expected is None):
        return None
    if figure.sets and figure.key == field.slot.key:
        # Under a field stands what was typed into it, also where the other set counts.
        return replace(figure, estimate=figure.sets[0])
    return figure


def _judged_strip(page: Page, figure: Figure, field: card.Field) -> Markup:
    """The scale of one figure, and in words what it is if it is not the reading itself."""
    derived, unit = Markup(), _unit_of(page, field) if figure.key == field.slot.key else ""
    said = scale_caption(
        figure.expected,
        figure.limit,
        page.speaker,
        dimension=figure.dimension,
        unit=unit,
        by_sheet=figure.by_sheet,
    )
    if figure.key != field.slot.key:
        number = page.speaker.number(figure.estimate.value, figure.dimension)
        width = page.speaker.width(figure.estimate.half_width, figure.dimension)
        what = page.text(f"web_derived.{figure.key}")
        sets = sets_words(figure.sets, figure.dimension, page.speaker)
        told = Markup("{} <b>{}</b>\u00a0±\u00a0{}").format(what, number, width)
        told = Markup(", ").join(filter(None, (told, sets)))
        derived = Markup('<span class="caption">{}</span>').format(told)
    return derived + _drawn(page, figure, field) + _caption(", ".join(said))


def _strip(page: Page, field: card.Field, expected: _Told) -> Markup:
    """The band of a field that has no judged figure: in words, and drawn where a number stands."""
    reading, words = field.reading, _words(page, field, expected)
    value = si_of(reading, page.shelf.catalogue) if reading else None
    if reading is None or value is None or reading.basis in ("wet", "calculated"):
        return words
    figure = Figure(
        key=field.slot.key,
        estimate=Estimate(value=value, low=value, high=value, coverage=0.95),
        dimension=QUANTITIES[field.slot.key].dimension,
        stage=field.slot.stage,
        expected=expected.band,
        limit=expected.floor,
        readings=(reading.id,),
    )
    return _drawn(page, figure, field) + words


def _words(page: Page, field: card.Field, expected: _Told) -> Markup:
    dimension = QUANTITIES[field.slot.key].dimension
    unit = _unit_of(page, field)
    return _caption(
        ", ".join(scale_caption(expected.band, expected.floor, page.speaker, dimension=dimension, unit=unit))
    )


def _unit_of(page: Page, field: card.Field) -> str:
    """The unit that the field itself shows, in which what is said under it is told too."""
    return field.reading.unit if field.reading else card.shown_unit(field.entry, page.preferences.units)


def _drawn(page: Page, figure: Figure, field: card.Field) -> Markup:
    left, found = (figure, None) if field.slot.stage is Stage.AS_LEFT else (None, figure)
    return Markup(_scale(left, page.speaker, found=found, width=WIDTH_PX, caption=False))


def _caption(text: str) -> Markup:
    return Markup(f'<span class="caption">{subscripted(text)}</span>')

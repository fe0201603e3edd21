"""The figures of the visit, before and after, and where the heat went."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from lightoff import drawing
from lightoff.drawing import PAPER, HeatFlow
from lightoff.ground.message import Amount
from lightoff.judging.assessment import Assessment, Figure
from lightoff.judging.noted import instead, noted
from lightoff.terms.case import Case
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker, sets_words

# What an owner reads first: what harms people, then the burn, then how it runs.
FIRST = (
    "flue_o2",
    "co_air_free",
    "living_space_co_rise",
    "smoke_number",
    "stack_gas_temperature",
    "efficiency_net",
    "time_to_light",
    "fuel_volume_flow",
    "igniter_current",
    "supply_voltage_igniter",
    "warm_up_rate",
)
ALWAYS = FIRST[:5]
# What only a technician reads; the page of the visit shows it, the owner's report does not.
NOT_FOR_OWNERS = frozenset(
    {
        "co_at_reference_o2",
        "stack_loss_siegert",
        "stack_loss_reference",
        "air_ratio_reference",
        "air_ratio_from_co2",
        "flame_temperature",
        "stack_rise",
        "unburned_loss",
        "efficiency_gross",
        "dew_point",
        "acid_dew_point",
        "fuel_flow",
    }
)
STRIP_PX = 208.0
FLOW_PX, FLOW_ASIDE_PX = 646.0, 340.0  # across the page, and beside the triangle


def measured(
    case: Case, assessment: Assessment, speaker: Speaker, *, besides: Collection[str] = ()
) -> dict[str, Any]:
    """Rows of the table, the most telling first, and the rest for the table after it.

    `besides` are readings that another part tells.
    """
    pairs = _pairs(assessment)
    first = [key for key in FIRST if key in pairs and (key in ALWAYS or _has_measure(*pairs[key]))]
    marked = next((key for key in first if _has_measure(*pairs[key])), None)
    rest = [key for key in pairs if key not in first and key not in NOT_FOR_OWNERS]
    return {
        "heading": speaker.text("report.measured"),
        "said": speaker.say(assessment.measured),
        "rows": [
            _row(key, *pairs[key], speaker, marks=key == marked)
            | {"absent": _absent(key, case, assessment, speaker)}
            | (_as_said(*pairs[key], case, speaker) if key == "flue_o2" else {})
            for key in first
        ],
        "more": [_short_row(key, *pairs[key], speaker) for key in rest],
        "noted": [
            [speaker.text(f"reading.{each.key}"), speaker.reading(each.found), speaker.reading(each.left)]
            for each in noted(case, assessment, besides=besides)
        ],
    }


def heat(assessment: Assessment, speaker: Speaker) -> dict[str, Any] | None:
    """The arrow of heat, if both the heat in the fuel and the exhaust's share are known."""
    for stage in (Stage.AS_LEFT, Stage.AS_FOUND):
        fuel, loss = assessment.figure("heat_input_net", stage), assessment.figure("stack_loss", stage)
        if fuel is None or loss is None or not 0 < loss.estimate.value < 1 or fuel.estimate.value <= 0:
            continue
        rate = assessment.figure("fuel_volume_flow", stage)
        note = ""
        if rate is not None:
            note = speaker.amount(Amount(value=rate.estimate.value, dimension=rate.dimension))
        watts = fuel.estimate.value
        flow = HeatFlow(fuel_w=watts, exhaust_w=watts * loss.estimate.value, fuel_note=note)
        key = "report.heat" if stage is Stage.AS_LEFT else "report.heat_as_found"
        return {
            "heading": speaker.text(key),
            "picture": drawing.heat_flow(flow, speaker, palette=PAPER, width=FLOW_PX),
            "aside": drawing.heat_flow(flow, speaker, palette=PAPER, width=FLOW_ASIDE_PX),
            "alt": drawing.heat_flow_words(flow, speaker),
        }
    return None


def _pairs(assessment: Assessment) -> dict[str, tuple[Figure | None, Figure | None]]:
    """(as found, as left) by key, in the order in which the areas give them."""
    found = {figure.key: figure for figure in reversed(assessment.figures(Stage.AS_FOUND))}
    left = {figure.key: figure for figure in reversed(assessment.figures(Stage.AS_LEFT))}
    keys = dict.fromkeys(figure.key for area in assessment.areas for figure in area.figures)
    return {key: (found.get(key), left.get(key)) for key in keys}


def _has_measure(found: Figure | None, left: Figure | None) -> bool:
    """Whether a strip would say more than the number: it has a limit or a band."""
    return any(each is not None and (each.limit or each.expected) for each in (found, left))


def _row(
    key: str, found: Figure | None, left: Figure | None, speaker: Speaker, *, marks: bool
) -> dict[str, Any]:
    figure = left or found
    assert figure is not None
    picture = None
    if _has_measure(found, left):
        picture = drawing.scale(left, speaker, found=found, palette=PAPER, width=STRIP_PX, marks=marks)
    named = f"report_figure.{key}"
    return {
        "name": speaker.text(named if speaker.has(named) else f"figure.{key}"),
        "how": _how(key, figure, speaker),
        "found": speaker.number(found.estimate.value, found.dimension) if found else None,
        "left": speaker.number(left.estimate.value, left.dimension) if left else None,
        "unit": speaker.unit(figure.dimension),
        "picture": picture,
        "marks": marks,
        "alt": drawing.scale_words(left, speaker, found=found),
    }


def _absent(key: str, case: Case, assessment: Assessment, speaker: Speaker) -> list[str]:
    """What stands in the place of a figure that is not there, as found and as left."""
    said = [instead(case, assessment, key, stage) for stage in (Stage.AS_FOUND, Stage.AS_LEFT)]
    return [speaker.text(f"absent.{it}") if isinstance(it, str) else speaker.reading(it) for it in said]


def _as_said(found: Figure | None, left: Figure | None, case: Case, speaker: Speaker) -> dict[str, Any]:
    """Oxygen by what was said of it: it is called dry, and drawn on the dry scale, only where it was."""
    of = {each.id: each.basis for each in case.visit.readings}
    bases = {of.get(id) for figure in (found, left) if figure for id in figure.readings}  # noqa: A001
    if bases == {"dry"}:
        return {}
    name = "wet" if bases == {"wet"} else "unsaid" if bases == {None} else "mixed"
    how = speaker.text(f"report_how.flue_o2_{name}")
    figure = left or found
    sets = sets_words(figure.sets, figure.dimension, speaker) if figure else ""
    return {"how": ", ".join(filter(None, (how, sets))), "picture": None}


def _how(key: str, figure: Figure, speaker: Speaker) -> str:
    """How it was had, and the numbers of both sets where they differ."""
    how = speaker.text(f"report_how.{key}") if speaker.has(f"report_how.{key}") else ""
    return ", ".join(filter(None, (how, sets_words(figure.sets, figure.dimension, speaker))))


def _short_row(key: str, found: Figure | None, left: Figure | None, speaker: Speaker) -> list[str]:
    return [speaker.text(f"figure.{key}"), _with_doubt(found, speaker), _with_doubt(left, speaker)]


def _with_doubt(figure: Figure | None, speaker: Speaker) -> str:
    if figure is None:
        return ""
    estimate = figure.estimate
    doubt = estimate.half_width or None
    return speaker.amount(Amount(value=estimate.value, dimension=figure.dimension, half_width=doubt))

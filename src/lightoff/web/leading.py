"""Where the button at the foot of the card leads: what to do next, in the order in which one works."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from markupsafe import Markup

from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Assessment, Judgement
from lightoff.judging.evidence_gates import BURNING
from lightoff.terms.case import Case
from lightoff.terms.visit import EventKind, Stage
from lightoff.web.card import AFTER_THE_FLAME, Field, Step, place_of
from lightoff.web.page import Page, subscripted

_BETWEEN_FIRINGS = (EventKind.FLAME, EventKind.FLAME_OUT, EventKind.OPENED, EventKind.CLOSED_UP)
# Read with the burner off, or after the burn: no next thing while it runs.
_BURNER_OFF = frozenset({"living_space_co_off", "after_run", "fresh_air_o2_after", "fresh_air_co_after"})
Filled = Sequence[tuple[Step, tuple[Field, ...]]]


@dataclass(frozen=True, slots=True)
class Next:
    """What the action at the foot names, and where it leads."""

    label: Markup
    line: Markup
    anchor: str
    stop: bool = False


def leading(page: Page, case: Case, assessment: Assessment, steps: Filled) -> Next:
    """A danger before all; what somebody must choose; arrival; what is looked at before the flame.

    Between the two firings, the work. Once it burns, the reading that helps most, or, where that one waits
    for the burner to be off, the first that an open gate lacks; at last the hand-over.
    """
    if assessment.verdict.stops:
        stops = ", ".join(page.speaker.text(f"stops.{each}") for each in assessment.verdict.stops)
        return Next(page.text("verdict.stop"), subscripted(stops), "#assessment", stop=True)
    if _must_choose(assessment):
        return Next(page.text("web_conflict.next"), page.text("web_conflict.next_line"), "#conflicts")
    fields = {step.key: each for step, each in steps}
    burned = _has_burned(case)
    if not (burned or _has_arrived(case, fields["arrive"])):
        return Next(page.text("web_step.arrive"), page.text("web_next.arrive"), "#step-arrive")
    if _is_at_work(case):
        return Next(page.text("web_step.work"), page.text("web_next.work"), "#step-work")
    every = [field for _, each in steps for field in each]
    place = None if burned and not _is_shut_again(case) else _first_lacking(assessment, fields["light"])
    if place is None and assessment.most_useful in _BURNER_OFF and _last_of_all(case) is EventKind.FLAME:
        later = [field for step, each in steps for field in each if _is_read_lit(step, field)]
        place = _first_lacking(assessment, later, but=_BURNER_OFF)
    if place is None and assessment.most_useful:
        place = place_of(assessment.most_useful, every)
    if place is None:
        return Next(page.text("web.hand_over"), page.text("web.hand_over_line"), "#step-hand_over")
    key = place.slot.key
    line = page.text_or(f"web_next.{key}", page.speaker.text("web.next_reading"))
    return Next(page.text(f"reading.{key}"), line, f"#f-{place.slot.id}")


def _must_choose(assessment: Assessment) -> bool:
    """Whether two entries contradict each other; that there are none yet is no contradiction."""
    gate = next(each for each in assessment.verdict.gates if each.gate == "conflict")
    is_open = gate.judgement is Judgement.NOT_PROVEN
    return is_open and gate.said.key not in ("judging.nothing_to_contradict", "judging.gate_broke")


def _has_burned(case: Case) -> bool:
    """Whether a flame or a reading of one was noted on this visit."""
    flames = (each.kind is EventKind.FLAME for each in case.visit.events)
    read = (each.stage is Stage.AS_LEFT and each.key in BURNING for each in case.visit.readings)
    return any(flames) or any(read)


def _is_at_work(case: Case) -> bool:
    """Whether it fired, was switched off, and what comes between the two firings is not over."""
    return _last_moment(case) in (EventKind.FLAME_OUT, EventKind.OPENED)


def _is_shut_again(case: Case) -> bool:
    """Whether the work is over and it was not fired again since."""
    return _last_moment(case) is EventKind.CLOSED_UP


def _last_moment(case: Case) -> EventKind | None:
    """The last moment between the two firings; None before the first and once something was read as left."""
    moments = sorted(
        (each for each in case.visit.events if each.heater == case.heater.id), key=lambda each: each.at
    )
    fired = any(each.kind is EventKind.FLAME for each in moments)
    burned = any(each.stage is Stage.AS_LEFT and each.key in BURNING for each in case.visit.readings)
    if burned or not fired:
        return None
    return next((each.kind for each in reversed(moments) if each.kind in _BETWEEN_FIRINGS), None)


def _is_read_lit(step: Step, field: Field) -> bool:
    """Whether the card has it as left and not before the flame."""
    is_before = step.key == "light" and field.slot.key not in AFTER_THE_FLAME
    return field.slot.stage is Stage.AS_LEFT and not is_before


def _last_of_all(case: Case) -> EventKind | None:
    """The last moment of the burner that was noted: whether it burns."""
    moments = [each for each in case.visit.events if each.heater == case.heater.id]
    return max(moments, key=lambda each: each.at).kind if moments else None


def _has_arrived(case: Case, fields: Sequence[Field]) -> bool:
    """Whether anything of the arrival, or anything as left, was noted."""
    left = any(each.stage is Stage.AS_LEFT for each in case.visit.readings)
    return left or bool(case.visit.place.name) or any(field.reading for field in fields)


def _first_lacking(
    assessment: Assessment, fields: Sequence[Field], *, but: Collection[str] = ()
) -> Field | None:
    """The first empty field, in the order of the card, of what an open gate lacks and the shop can read."""
    still_open = (each for each in assessment.verdict.gates if each.judgement is not Judgement.WITHIN)
    lacking = {key for gate in still_open for key in gate.missing} - set(but)
    asked = (each for each in fields if each.owned and each.reading is None)
    return next((each for each in asked if each.slot.key in lacking), None)

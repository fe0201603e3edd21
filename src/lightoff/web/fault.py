"""Find the fault: who is suspected and why, and the next step; at the heater or by telephone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff import drawing
from lightoff.faultfinding import Kind, Step, Suspect, telling
from lightoff.faultfinding.asking import ONCE_MORE, OWNER_SAYS, reading_step, repair_step
from lightoff.faultfinding.telephone import ANSWERED_BY_OWNERS, MOST_QUESTIONS, Call
from lightoff.ground.message import Message
from lightoff.ground.values import dataclass
from lightoff.heater.signs import STATES
from lightoff.plant.quantities import QUANTITIES
from lightoff.shelf import REPAIR
from lightoff.terms.shelf import EVERYBODY_HAS
from lightoff.terms.visit import NOT_HAD, Reading, Stage
from lightoff.web import card
from lightoff.web.expecting import expected_strips
from lightoff.web.field import drawn_fields
from lightoff.web.page import Page, capped, spoken
from lightoff.web.rooms import Rooms
from lightoff.web.script_words import script_words
from lightoff.work.find_fault import FaultCase, call_owner, find_fault

rooms = Rooms()
MOST_OTHER_STEPS = 6
OPEN_SUSPECTS = 3
"""Suspects that stand open; the rest are one tap away."""
_STARTING_AREAS = frozenset({"light-off", "burn", "trial", "repair"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownSuspect:
    """One suspect as the sheet shows it."""

    fault: str
    name: Markup
    words: Markup
    chance: float
    low: float
    high: float
    word: Markup
    share: Message
    strip: Markup
    speaks_for: tuple[Message, ...]  # the strongest reading, and the age of its part
    speaks_against: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownStep:
    """One step as the page shows it; `choice` is its address among the others."""

    step: Step
    choice: str
    name: Markup
    how: Markup
    what: Markup
    needs: tuple[Markup, ...]
    cautions: tuple[Markup, ...]
    why: Message
    outcomes: tuple[Message, ...]
    fields: tuple[Markup, ...]
    along: tuple[Markup, ...]  # fields of what the same instrument reads where it is by then
    keys: tuple[str, ...]
    action: Markup


@rooms.get("/visits/{id}/fault")
def show_fault(request: Request, id: str) -> Response:  # noqa: A002
    """The suspects with the next step, or the one that was chosen."""
    page = Page.of(request)
    found = find_fault(page.house.workshop, id)
    now = _chosen(page, found, page.asked("step")) or found.next_step
    return _page(page, found, now=now, others=_others(page, found, now), any_else=_any_else(page, found, now))


@rooms.get("/visits/{id}/telephone")
def show_telephone(request: Request, id: str) -> Response:  # noqa: A002
    """The next question to the owner, or what the call ends in."""
    page = Page.of(request)
    found, call = call_owner(page.house.workshop, id)
    return _page(page, found, now=call.question, call=call)


def _page(
    page: Page,
    found: FaultCase,
    *,
    now: Step | None,
    others: Sequence[Step] = (),
    any_else: Sequence[str] = (),
    call: Call | None = None,
) -> Response:
    case = found.case
    last = found.answers[-1] if found.answers else None
    return page.show(
        "fault.html",
        case=case,
        call=call,
        title=_title(page, found),
        sheet=_sheet(page, found) if OWNER_SAYS in found.read else None,
        now=_shown_step(page, found, now, by_telephone=call is not None) if now else None,
        others=[_shown_step(page, found, each) for each in others],
        any_else=[(f"{Kind.READING.value}.{key}", page.text(f"reading.{key}")) for key in any_else],
        outcome=_outcome_field(page, found, call),
        why_stop=_why_stop(page, found, call),
        most_questions=MOST_QUESTIONS,
        known=_known(page, found),
        last=last,
        last_words=_answer(page, last) if last else "",
        not_done=NOT_HAD,
        test=card.current_test(case.visit),
        words=script_words(page) | {"away": page.speaker.text("web_fault.away")},
    )


def _title(page: Page, found: FaultCase) -> Markup:
    """What the owner says, or what the page is for."""
    said = next((each.state for each in found.answers if each.key == OWNER_SAYS and each.state), None)
    return (
        capped(Markup.escape(page.speaker.state_word(OWNER_SAYS, said)))
        if said
        else page.text("web_fault.title")
    )


def _answer(page: Page, reading: Reading) -> Markup:
    """One answer in a line: what was asked, and what was said."""
    said = (
        page.speaker.reading(reading) if reading.note != NOT_HAD else page.speaker.text("web_fault.not_had")
    )
    return page.text("web_fault.answered", what=f"@reading.{reading.key}", said=said)


def _sheet(page: Page, found: FaultCase) -> dict[str, Any]:
    finding = found.finding
    shown = [_shown_suspect(page, found, each) for each in finding.suspects]
    said = [each for each in telling.conclusion(finding) if each.key not in telling.SEEN_ON_THE_SHEET]
    return {
        "said": said,
        "first": shown[:OPEN_SUSPECTS],
        "rest": shown[OPEN_SUSPECTS:],
        "legend": Markup(drawing.chance_legend(page.speaker)),
        "weighed_for": found.weighed_for,
        "is_placed": found.is_placed,
        "sound": telling.share(finding.sound),
        "unlisted": telling.share(finding.unknown),
        "stop": finding.chamber_first,
        "wet": found.evidence.states.get("chamber_look", {}).get("wet", 0.0) > 0.0,
    }


def _shown_suspect(page: Page, found: FaultCase, suspect: Suspect) -> ShownSuspect:
    name, low, high = page.text(f"fault.{suspect.fault}"), suspect.low, suspect.high
    strip = drawing.chance(
        suspect.chance, low, high, page.speaker, title=page.speaker.text(f"fault.{suspect.fault}")
    )
    # The owner's words are the title of the page and speak for every suspect alike.
    besides = tuple(each for each in suspect.speaks_for if each.key != OWNER_SAYS) or suspect.speaks_for
    return ShownSuspect(
        fault=suspect.fault,
        name=name,
        words=page.text_or(f"fault_words.{suspect.fault}", ""),
        chance=suspect.chance,
        low=low,
        high=high,
        word=page.text(telling.chance_word(suspect.chance)),
        share=telling.share(suspect.chance, low, high),
        strip=Markup(strip),
        speaks_for=telling.speaks_for(replace(suspect, speaks_for=besides), found.evidence, most=1),
        speaks_against=telling.speaks_against(suspect, found.evidence, most=1),
    )


def _chosen(page: Page, found: FaultCase, choice: str) -> Step | None:
    """The step that somebody wants to take, whatever the ranking says."""
    ranked = next((each for each in found.finding.steps if _choice(each) == choice), None)
    if ranked is not None:
        return ranked
    kind, _, key = choice.partition(".")
    if kind == Kind.REPAIR.value and key in page.shelf.faults:
        return repair_step(page.shelf.faults[key])
    if kind == Kind.READING.value and key in page.shelf.catalogue.entries:
        return reading_step(key, page.shelf.catalogue)
    return None


def _others(page: Page, found: FaultCase, now: Step) -> list[Step]:
    """What could be done instead: the next best steps, then the repairs of the open suspects."""
    best = [each for each in found.finding.steps if each != now][:MOST_OTHER_STEPS]
    done = {each.key for each in (*best, now) if each.kind is Kind.REPAIR} | set(found.evidence.repairs)
    wanted = [each.fault for each in found.finding.suspects[:OPEN_SUSPECTS] if each.fault not in done]
    return [*best, *(repair_step(page.shelf.faults[key]) for key in wanted)]


def _any_else(page: Page, found: FaultCase, now: Step) -> list[str]:
    """What somebody may have read or seen that nobody asked for, by name: all that a cause can be told by."""
    told = {key for fault in page.shelf.faults.values() for key in (*fault.proves, *fault.shows)}
    classes = frozenset(each.kind for each in found.case.instruments.values() if not each.retired)
    entries = page.shelf.catalogue.entries
    wanted = [
        key
        for key, entry in entries.items()
        if key in told | QUANTITIES.keys() | STATES.keys()
        and key not in found.read
        and key not in _keys(now)
        and entry.can_be_taken_with(classes)
    ]
    return sorted(wanted, key=lambda key: str(page.text(f"reading.{key}")).lower())


def _choice(step: Step) -> str:
    return f"{step.kind.value}.{step.key}"


def _shown_step(page: Page, found: FaultCase, step: Step, *, by_telephone: bool = False) -> ShownStep:
    keys = _keys(step)
    along = () if by_telephone else step.along
    fields = [_field(page, found, key) for key in (*keys, *along)]
    drawn = drawn_fields(
        page, fields, found.case, scales=expected_strips(page, found.case, fields), doubts={}
    )
    shown = tuple(drawn.values())
    repaired = step.kind is Kind.REPAIR
    return ShownStep(
        step=step,
        choice=_choice(step),
        name=spoken(page.speaker, telling.step_name(step)),
        how=page.text(f"telephone_ask.{step.key}")
        if by_telephone
        else spoken(page.speaker, telling.step_how(step)),
        what=page.text_or(f"fault_words.{step.key}", "") if repaired else Markup(),
        needs=() if by_telephone else tuple(_needs(page, step)),
        # On the telephone nothing is opened, so that nothing is said of it.
        cautions=() if by_telephone and step.opens else tuple(_cautions(page, found, step)),
        why=telling.why(step, chosen=step != found.next_step),
        outcomes=telling.outcomes(step),
        fields=shown[: len(keys)],
        along=shown[len(keys) :],
        keys=keys,
        action=page.text(_action(step)),
    )


def _keys(step: Step) -> tuple[str, ...]:
    """The readings that a step fills."""
    match step.kind:
        case Kind.TRIAL:
            return (step.key,)
        case Kind.REPAIR:
            return (REPAIR + step.key,)
        case _:
            return telling.readings_of(step)


def _field(page: Page, found: FaultCase, key: str) -> card.Field:
    """The field of one answer; that it could not be done is said at the foot, for every kind of step."""
    field = card.field_for(key, Stage.AS_FOUND, found.case, page.shelf.catalogue)
    states = tuple(each for each in field.entry.states if each != NOT_HAD)
    return replace(field, entry=replace(field.entry, states=states))


def _action(step: Step) -> str:
    if step.kind is Kind.READ_AGAIN:
        return "web_fault.do_again"
    if step.kind is Kind.READING:
        return "web_fault.answer" if step.key in ANSWERED_BY_OWNERS else "web_fault.do_test"
    named = {Kind.TRIAL: "do_test", Kind.REPAIR: "do_repair", Kind.SHOW_SOUND: "do_show"}
    return f"web_fault.{named.get(step.kind, 'do_hand_over')}"


def _needs(page: Page, step: Step) -> Iterator[Markup]:
    """Instruments, trial things and parts that a step takes."""
    entries = page.shelf.catalogue.entries
    if step.kind is Kind.TRIAL:
        yield Markup.escape(page.shelf.trials[step.key].needs or "")
    elif step.kind is Kind.REPAIR:
        fault = page.shelf.faults[step.key]
        yield page.text_or(f"part.{fault.takes}", fault.takes.replace("_", " "))
        for each in fault.needs:
            yield page.text_or(f"class.{each}", each.replace("_", " "))
    else:
        classes = [
            each for key in telling.readings_of(step) for each in (*entries[key].classes, *entries[key].needs)
        ]
        for each in dict.fromkeys(classes):
            if each not in EVERYBODY_HAS - {"stopwatch"}:
                yield page.text_or(f"class.{each}", each.replace("_", " "))


def _cautions(page: Page, found: FaultCase, step: Step) -> Iterator[Markup]:
    """The cautions of a step; of one that starts the burner, that two starts without flame are the most."""
    for each in step.cautions:
        yield page.text(f"caution.{each}")
    quantity = QUANTITIES.get(step.key)
    entry = page.shelf.catalogue.entries.get(step.key)
    starts = (
        step.kind in (Kind.TRIAL, Kind.REPAIR, Kind.SHOW_SOUND)
        or (quantity is not None and (quantity.needs_flame or quantity.needs_trial))
        or (entry is not None and entry.area in _STARTING_AREAS)
    )
    if starts and (found.finding.chamber_first or "blast" not in step.cautions):
        barred = found.finding.chamber_first
        yield page.text(telling.no_start(found.finding).key if barred else "web_fault.two_starts")


def _known(page: Page, found: FaultCase) -> Mapping[str, Markup]:
    """Fields of everything that is known, the latest first, to be mended or taken back."""
    fields = [_field(page, found, each.key) for each in reversed(found.answers)]
    return drawn_fields(page, fields, found.case, scales={}, doubts={})


def _why_stop(page: Page, found: FaultCase, call: Call | None) -> Markup:
    """The answer that ended the call, or the suspect with which nobody may go on running it."""
    danger = call.ending.danger if call and call.ending else ""
    if not danger:
        return Markup()
    if danger not in found.evidence.states:
        return page.text("web_telephone.stop_for_fault", what=f"@fault.{danger}")
    said = next(page.speaker.reading(each) for each in found.answers if each.key == danger)
    return page.text("web_telephone.stop_for_reading", what=f"@reading.{danger}", said=said)


def _outcome_field(page: Page, found: FaultCase, call: Call | None) -> Markup:
    """What came of that which the owner was asked to try."""
    if call is None or call.ending is None or not call.ending.fault:
        return Markup()
    tried = call.ending.fault
    fields = [_field(page, found, tried if tried == ONCE_MORE else REPAIR + tried)]
    return next(iter(drawn_fields(page, fields, found.case, scales={}, doubts={}).values()))

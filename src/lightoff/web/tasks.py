"""The order of work on the card: each section's steps, what each is for, and how it ended."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import groupby
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from lightoff.ground.errors import NotFound
from lightoff.ground.message import Message
from lightoff.ground.values import dataclass
from lightoff.judging.steps_told import PROCEDURE, disputed_steps
from lightoff.terms.case import Case
from lightoff.terms.part import Bin, Move, MoveKind, Outcome, StepDone
from lightoff.terms.procedure import Phase, Photo, ProcedureStep, StepReading, Timer
from lightoff.terms.shelf import Catalogue, PartType
from lightoff.terms.visit import GROUPED, Stage, Visit
from lightoff.terms.visit import Photo as Picture
from lightoff.web import marked
from lightoff.web.card import STEPS, steps_of
from lightoff.web.page import Page, closed_up, subscripted
from lightoff.work.move_part import stock_of
from lightoff.work.order_of_visit import done_of, order_of_case, procedure_for
from lightoff.work.order_work import OrderedStep, OrderOfWork
from lightoff.work.part_lines import newest_of
from lightoff.work.photo_pairs import belongs_to, steps_by_key
from lightoff.work.rated import sheet_of
from lightoff.work.units import unit_of

WORDS = ("why", "how", "look", "tight", "risk")
MOST_DRAWN = 2_000
_drawn: dict[tuple[object, ...], tuple[ProcedureStep, tuple[str, ...]]] = {}
_USUAL_STATES = (Outcome.DONE.value, Outcome.NOT_NEEDED.value)
READ_OFF_A_PHOTO = ("smoke_number", "hour_meter")
"""Readings whose photograph, taken at a step, also stands at their field: there it is read or typed."""
PROVED_AGAIN, ENDING = Phase.PROVE_AGAIN.section, Phase.HAND_OVER.section
HAD_FAILED = "had failed"
"""The state of a step that renewed a part which no longer did its work."""
ON_THE_VAN = "van"
"""The place of the bins that a visit takes from by itself."""
LEAST_FOLDED = 3
"""So many steps in a row that need no answer of their own are folded into one line."""
_SIDES = {Stage.AS_FOUND: "before", Stage.AS_LEFT: "after"}
_SET_OF = {
    (section.key, slot.key, slot.stage): slot.set_number
    for section in STEPS
    for slot in section.slots
    if slot.set_number
}
"""Which set of a reading a section of the card takes, where it takes one of several."""
_WANTED = {
    Photo.NONE: (),
    Photo.BEFORE: (Stage.AS_FOUND,),
    Photo.AFTER: (Stage.AS_LEFT,),
    Photo.BOTH: (Stage.AS_FOUND, Stage.AS_LEFT),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One step as the page shows it. `answers` are what one tap says: a state, or an outcome."""

    key: str
    title: Markup
    because: tuple[Markup, ...]
    held: Markup | None
    waits_for: tuple[tuple[str, str, Markup], ...]  # an answer that holds it: a step, its state, in words
    answers: tuple[tuple[str, Markup], ...]
    has_states: bool
    part: str
    renews: str  # what done makes of the old piece as a new one goes in: a move, "" for no exchange
    causes: tuple[tuple[str, Markup], ...]  # what may have ended a piece that had failed
    cause: str  # which of them was said
    fitted: str  # the piece of its part that sits in the heater, "" where none is known
    bin: str  # the van's bin that a new one comes out of, "" where none has any
    goes_in: str  # the part type of the piece that goes in: that of the bin
    done: StepDone | None
    said: Markup | None
    routine: bool  # one tap may answer it together with others
    reads: tuple[str, ...]  # its readings: places on the card, by key and stage
    read: tuple[str, ...]  # those of them that stand
    opens: bool
    shuts: bool  # its answer says that all is shut again
    timer: str
    timed: str  # the place on the card of the reading that its timer takes
    length_s: float  # that its timer counts down from, 0 for none
    sides: tuple[str, ...]  # photographs wanted: "before", "after"
    shots: tuple[tuple[str, str, str], ...]  # those of its thing: side, id and SHA-256
    thing: str  # steps of one thing show each other's photographs
    exchange: str  # what its answer wrote of a part, as JSON
    exchanged: bool  # whether a new piece of its part went in on this visit
    words: str  # what the technician wrote to its answer
    disputed: bool  # whether it was answered in more than one way, and somebody has to choose

    @property
    def stands_open(self) -> bool:
        """Whether it needs a tap of its own, and so is folded away with none."""
        needs_a_tap = not self.routine and not self.reads
        return bool(needs_a_tap or self.timer or self.sides or self.disputed)

    @property
    def ended(self) -> bool:
        """Whether it was answered, or all that it asks was read."""
        if self.done is not None:
            return not self.disputed
        return bool(self.reads) and len(self.read) == len(self.reads)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The steps of one phase within a section."""

    phase: str
    tasks: tuple[Task, ...]

    @property
    def runs(self) -> Iterator[tuple[bool, list[Task]]]:
        """Its steps in order, each run of several that need no answer of their own folded."""
        for stands_open, some in groupby(self.tasks, key=lambda each: each.stands_open):
            run = list(some)
            yield not stands_open and len(run) >= LEAST_FOLDED, run


@dataclass(frozen=True, slots=True, kw_only=True)
class Tasks:
    """The whole order as the page shows it, by section of the card."""

    order: OrderOfWork
    rows: Mapping[str, Markup]  # each step drawn, by its key
    sections: Mapping[str, tuple[Group, ...]]
    fired: tuple[
        Group, ...
    ]  # those that prove it again, from the first that fires on: below what is read before
    left_out: tuple[tuple[Markup, Markup], ...]
    procedures: tuple[tuple[str, Markup], ...]
    why_procedure: Markup
    today: Collection[str]  # part types of which a piece went in on this visit
    chosen: str  # the entry that chose the procedure, "" where nobody did

    @property
    def shuts(self) -> bool:
        """Whether a step's own answer says that all is shut again."""
        groups = (group for some in self.sections.values() for group in some)
        return any(each.shuts for group in groups for each in group.tasks)

    @property
    def last_question(self) -> Task | None:
        """What the end of the visit answers: the last of the hand-over that has states."""
        tasks = [each for group in self.sections.get(ENDING, ()) for each in group.tasks if each.has_states]
        return tasks[-1] if tasks and not tasks[-1].disputed else None

    def count(self, section: str) -> tuple[int, int]:
        """How many steps a section has, and how many of them ended."""
        groups = (*self.sections.get(section, ()), *(self.fired if section == PROVED_AGAIN else ()))
        tasks = [each for group in groups for each in group.tasks]
        return len(tasks), sum(each.ended for each in tasks)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Here:
    """What stands on the visit and in its heater: answers by step, pieces and bins by part, photographs."""

    visit: Visit
    taken: Collection[tuple[str, Stage, int | None]]  # what was read, by its set and by none
    done: Mapping[str, StepDone]
    fitted: Mapping[str, str]
    disputed: Collection[str]  # steps whose answers contradict each other
    today: Mapping[str, frozenset[str]]  # the moves by which pieces went in on this visit, by type
    shots: Mapping[str, tuple[tuple[str, str, str], ...]]
    bins: Mapping[str, Bin]
    after_run_s: float
    opened_first: str  # the step that opens first: what puts it back shuts all again


def tasks_of(page: Page, case: Case, now: datetime) -> Tasks | None:
    """The order of work of a visit; None for a heater whose sheet is not on the shelf."""
    try:
        unit = unit_of(page.house.workshop, case.heater.id, now)
        planning = page.book.planning()
        order = order_of_case(case, page.shelf, unit, planning=planning)
    except NotFound:
        return None
    done = done_of(case.visit)
    kinds = {each.part.id: each.part.kind for each in unit.pieces}
    here = _Here(
        visit=case.visit,
        taken={
            (each.key, each.stage, own) for each in case.visit.readings for own in (each.set_number, None)
        },
        done=done,
        fitted={each.part.kind: each.part.id for each in unit.fitted},
        disputed=disputed_steps(case),
        today=_fitted_today(case.visit, kinds),
        shots=_shots(page, case),
        bins=_at_hand(page),
        after_run_s=sheet_of(case, page.shelf).after_run_s or 0.0,
        opened_first=next(
            (each.step.key for each in order.steps if each.step.opens and each.step.displaces), ""
        ),
    )
    sections: dict[str, dict[str, list[Task]]] = {}
    fired: dict[str, list[Task]] = {}
    rows: dict[str, Markup] = {}
    for each in order.steps:
        groups = sections.setdefault(each.step.section, {})
        if each.step.section == PROVED_AGAIN and (fired or each.step.fires):
            groups = fired
        task = _task(page, each, here)
        rows[task.key] = _row(page, each.step, task, case.visit.id)
        groups.setdefault(each.step.phase.value, []).append(task)
    return Tasks(
        order=order,
        rows=rows,
        sections={section: _groups(groups) for section, groups in sections.items()},
        fired=_groups(fired),
        left_out=tuple((_title(page, each.step), _say(page, each.because)) for each in order.left_out),
        procedures=tuple((key, page.text(f"procedure.{key}.title")) for key in page.shelf.procedures),
        today=here.today,
        chosen=done[PROCEDURE].id if PROCEDURE in done else "",
        why_procedure=_say(page, procedure_for(case, page.shelf.procedures, planning=planning)[1]),
    )


def _groups(by_phase: Mapping[str, Sequence[Task]]) -> tuple[Group, ...]:
    return tuple(Group(phase=phase, tasks=tuple(tasks)) for phase, tasks in by_phase.items())


def _task(page: Page, ordered: OrderedStep, here: _Here) -> Task:
    step, done = ordered.step, here.done.get(ordered.step.key)
    always, places = _always(page, step)
    read = tuple(place for place, of_set in places if of_set in here.taken)
    part, thing = always["part"], always["thing"]
    out_of = here.bins.get(part)
    own = [each for each in here.visit.moves if each.id in done.exchange] if done and done.exchange else []
    return Task(
        **always,
        because=tuple(_say(page, each) for each in ordered.because),
        held=_say(page, ordered.held) if ordered.held else None,
        waits_for=tuple((by, state, _say(page, said)) for by, state, said in ordered.waits_for),
        cause=next((each.cause for each in own if each.cause), ""),
        fitted=_old_piece(own) if own else here.fitted.get(part, ""),
        bin=out_of.id if out_of else "",
        goes_in=out_of.kind if out_of else part,
        done=done,
        said=_said(page, done, disputed=step.key in here.disputed) if done else _told(page, step, read),
        routine=not ordered.needs_own_answer,
        read=read,
        shuts=bool(step.puts_back) and step.puts_back == here.opened_first,
        length_s=here.after_run_s if step.timer is Timer.AFTER_RUN else 0.0,
        shots=here.shots.get(thing, ()),
        exchange=json.dumps(done.exchange) if done and done.exchange else "",
        exchanged=not here.today.get(part, frozenset()) <= frozenset(done.exchange if done else ()),
        words=done.reason if done else "",
        disputed=step.key in here.disputed,
    )


# Of each step what no visit changes, by language and shelf, and the places of its readings.
Always = tuple[Mapping[str, Any], Sequence[tuple[str, tuple[str, Stage, int | None]]]]
_of_each: dict[tuple[int, str, str], tuple[ProcedureStep, Always]] = {}


def _always(page: Page, step: ProcedureStep) -> Always:
    key = (id(step), page.speaker.language, page.shelf.sha256)
    kept = _of_each.get(key)
    if kept is None or kept[0] is not step:
        if len(_of_each) > MOST_DRAWN:
            _of_each.clear()
        kept = _of_each[key] = (step, _worked_out(page, step))
    return kept[1]


def _worked_out(page: Page, step: ProcedureStep) -> Always:
    part = newest_of(step.part, page.shelf.part_types)
    kind = page.shelf.part_types.get(part)
    renews = _fate(step, kind)
    answers: Sequence[tuple[str, Markup]] = [(state, _state(page, state)) for state in step.states]
    if renews and kind and not kind.annual:
        word = "renewed_kept" if kind.kept else "renewed_worked"
        answers = [(Outcome.DONE.value, page.text(f"web_task.{word}"))]
    places = [
        (
            f"{each.key}|{each.stage.value}",
            # of its own set where its section has one
            (each.key, each.stage, _SET_OF.get((step.section, each.key, each.stage))),
        )
        for each in step.readings
    ]
    always = {
        "key": step.key,
        "title": _title(page, step),
        "answers": tuple(answers) or tuple((each, _state(page, each)) for each in _USUAL_STATES),
        "has_states": bool(step.states),
        "part": part,
        "renews": renews,
        "causes": tuple(
            (each, page.text_or(f"fault.{each}", each)) for each in (kind.faults if kind else ())
        ),
        "reads": tuple(place for place, _ in places),
        "opens": bool(step.opens),
        "timer": step.timer.value if step.timer is not Timer.NONE else "",
        "timed": f"f-{step.timer.reading}-{step.phase.stage.value.replace(' ', '_')}",
        "sides": tuple(_SIDES[each] for each in _WANTED[step.photo]),
        "thing": belongs_to(step),
    }
    return always, places


def _fate(step: ProcedureStep, kind: PartType | None) -> str:
    """What becomes of the old piece of a part that a step renews, where it still worked."""
    if step.phase is not Phase.RENEW or kind is None or step.states:
        return ""
    return (MoveKind.KEPT if kind.kept else MoveKind.SCRAPPED).value


def _old_piece(exchange: Sequence[Move]) -> str:
    """What an exchange took out, "" where it was known of only by that."""
    is_new = any(each.kind is MoveKind.FOUND for each in exchange)
    return "" if is_new else next((each.part for each in exchange if each.kind is not MoveKind.FITTED), "")


def _fitted_today(visit: Visit, kinds: Mapping[str, str]) -> dict[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for each in visit.moves:
        if each.kind is MoveKind.FITTED:
            kind = kinds.get(each.part, "")
            found[kind] = found.get(kind, frozenset()) | {each.id}
    return found


def _at_hand(page: Page) -> dict[str, Bin]:
    """The van's bin that holds a piece, for each line of part types."""
    bins = tuple(each for each in page.book.bins() if each.place == ON_THE_VAN)
    left = stock_of(bins, page.book.taken()) if bins else {}
    kinds = page.shelf.part_types
    return {newest_of(each.kind, kinds): each for each in bins if left[each.id] > 0}


def slot_of(step: ProcedureStep, reading: StepReading, catalogue: Catalogue) -> str:
    """The field of the card where a step's reading is taken: of the step's own section before another.

    "" for what the card has no field for: only finding a fault asks it.
    """
    fitting = [
        (section.key != step.section, slot.id)
        for section, slots in steps_of(catalogue)
        for slot in slots
        if (slot.key, slot.stage) == (reading.key, reading.stage)
    ]
    return min(fitting, key=lambda each: each[0], default=(True, ""))[1]


def _shots(page: Page, case: Case) -> dict[str, tuple[tuple[str, str, str], ...]]:
    """The photographs of the visit that were taken at steps, by the thing that they are of."""
    steps = steps_by_key(page.shelf.procedures.values())
    found: dict[str, list[Picture]] = {}
    for each in case.visit.photos:
        if each.step and each.stage:
            step = steps.get(each.step)
            found.setdefault(belongs_to(step) if step else each.step, []).append(each)
    return {
        thing: tuple((_SIDES[each.stage], each.id, each.sha256) for each in some if each.stage)
        for thing, some in found.items()
    }


def _row(page: Page, step: ProcedureStep, task: Task, visit: str) -> Markup:
    """The step as it stands, drawn once for each language and state, filled with what is its own."""
    done = task.done
    own = {
        "visit": quote(visit, safe=""),
        "entry": done.id if done else "",
        "exchange": task.exchange,
        "fitted": task.fitted,
        "bin": task.bin,
    }
    ended = (done.outcome, done.state, done.note, task.words) if done else None
    key = (
        id(step), page.speaker.language, task.because, task.held, task.waits_for, ended, task.said,
        task.goes_in, task.shots, task.length_s, task.exchanged, task.disputed, task.read, task.cause,
        task.routine, task.shuts,
    )  # fmt: skip
    kept = _drawn.get(key)
    if kept is None or kept[0] is not step:
        if len(_drawn) > MOST_DRAWN:
            _drawn.clear()
        kept = _drawn[key] = (step, marked.cut(closed_up(_drawn_row(page, step, task))))
    return marked.filled(kept[1], own)


def _drawn_row(page: Page, step: ProcedureStep, task: Task) -> Markup:
    """The step with a mark in the place of what no other visit shares."""
    words = ((name, page.text_or(f"step.{step.key}.{name}", "")) for name in WORDS)
    mark = {name: marked.mark(name) for name in ("entry", "exchange", "fitted", "bin")}
    done = replace(task.done, id=mark["entry"]) if task.done else None
    return page.part(
        "task.html",
        task=replace(task, done=done, exchange=mark["exchange"], fitted=mark["fitted"], bin=mark["bin"]),
        visit=marked.mark("visit"),
        words=[(name, said) for name, said in words if said],
        cautions=[_caution(page, each) for each in step.cautions],
        tools=[page.text_or(f"tool.{each}", page.text_or(f"class.{each}", each)) for each in step.tools],
        reads=next((each.key for each in step.readings if each.key in READ_OFF_A_PHOTO), ""),
        had_failed=HAD_FAILED,
        required_guard=step.required and bool(step.guards),
        flames=page.shelf.catalogue.entries["light_off"].states[:-1],
        readings=[(each.key, slot_of(step, each, page.shelf.catalogue)) for each in step.readings],
    )


def _said(page: Page, done: StepDone, *, disputed: bool) -> Markup:
    if disputed:
        return page.text("web_task.disputed")
    word = _state(page, done.state or done.outcome.value)
    if done.note == GROUPED:
        word = page.text("web_task.grouped")  # what was answered is pressed below
    says_why = done.outcome is Outcome.NOT_DONE and done.reason
    return Markup("{}: {}").format(word, done.reason) if says_why else word


def _told(page: Page, step: ProcedureStep, read: Sequence[str]) -> Markup | None:
    """How many readings of a step that nobody answered stand: where all do, they are its answer."""
    return page.text("web_task.read", count=len(read), all=len(step.readings)) if read else None


def _say(page: Page, said: Message) -> Markup:
    return subscripted(page.speaker.say(said)) if said.values else page.text(said.key)


def _title(page: Page, step: ProcedureStep) -> Markup:
    return page.text_or(f"step.{step.key}.title", step.key)


def _state(page: Page, state: str) -> Markup:
    return page.text_or(f"state.{state.replace(' ', '_')}", state)


def _caution(page: Page, key: str) -> Markup:
    return page.text_or(f"web_caution.{key}", page.text_or(f"caution.{key}", key))

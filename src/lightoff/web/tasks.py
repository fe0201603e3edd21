"""The order of work on the card: each section's steps, what each is for, and how it ended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from urllib.parse import quote

from markupsafe import Markup

from lightoff.ground.errors import NotFound
from lightoff.ground.message import Message
from lightoff.terms.case import Case
from lightoff.terms.part import Outcome, StepDone
from lightoff.terms.procedure import Phase, Photo, ProcedureStep
from lightoff.web.page import Page, subscripted
from lightoff.work.advise_parts import unit_of
from lightoff.work.order_of_visit import done_of, order_of_case
from lightoff.work.order_work import OrderedStep, OrderOfWork
from lightoff.work.pieces import Where

WORDS = ("why", "how", "look", "tight", "risk")
MOST_DRAWN = 2_000
_drawn: dict[tuple[object, ...], tuple[ProcedureStep, Markup]] = {}
_USUAL_STATES = (Outcome.DONE.value, Outcome.NOT_NEEDED.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One step as the page shows it. `answers` are what one tap says: a state, or an outcome."""

    key: str
    title: Markup
    because: tuple[Markup, ...]
    held: Markup | None
    answers: tuple[tuple[str, Markup], ...]
    has_states: bool
    part: str
    renews: bool  # done means: the old one is scrapped by plan, a new one is fitted
    fitted: str  # the piece of its part that sits in the heater, "" where none is known
    done: StepDone | None
    said: Markup | None
    routine: bool  # one tap may answer it together with others
    row: Markup | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The steps of one phase within a section."""

    phase: str
    tasks: tuple[Task, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tasks:
    """The whole order as the page shows it, by section of the card."""

    order: OrderOfWork
    sections: Mapping[str, tuple[Group, ...]]
    left_out: tuple[tuple[Markup, Markup], ...]
    procedures: tuple[tuple[str, Markup], ...]

    def count(self, section: str) -> tuple[int, int]:
        """How many steps a section has, and how many of them ended."""
        tasks = [each for group in self.sections.get(section, ()) for each in group.tasks]
        return len(tasks), sum(each.done is not None for each in tasks)


def tasks_of(page: Page, case: Case, now: datetime) -> Tasks | None:
    """The order of work of a visit; None for a heater whose sheet is not on the shelf."""
    try:
        unit = unit_of(page.house.workshop, case.heater.id, now)
        order = order_of_case(case, page.shelf, unit, now)
    except NotFound:
        return None
    done = done_of(case.visit)
    fitted = {each.part.kind: each.part.id for each in unit.pieces if each.where is Where.FITTED}
    sections: dict[str, dict[str, list[Task]]] = {}
    for each in order.steps:
        groups = sections.setdefault(each.step.section, {})
        task = _task(page, each, done.get(each.step.key), fitted)
        row = _row(page, each.step, task, case.visit.id)
        groups.setdefault(each.step.phase.value, []).append(replace(task, row=row))
    return Tasks(
        order=order,
        sections={
            section: tuple(Group(phase=phase, tasks=tuple(tasks)) for phase, tasks in groups.items())
            for section, groups in sections.items()
        },
        left_out=tuple((_title(page, each.step), _say(page, each.because)) for each in order.left_out),
        procedures=tuple((key, page.text(f"procedure.{key}.title")) for key in page.shelf.procedures),
    )


def _task(page: Page, ordered: OrderedStep, done: StepDone | None, fitted: Mapping[str, str]) -> Task:
    step = ordered.step
    kind = page.shelf.part_types.get(step.part)
    answers: Sequence[tuple[str, Markup]] = [(state, _state(page, state)) for state in step.states]
    return Task(
        key=step.key,
        title=_title(page, step),
        because=tuple(_say(page, each) for each in ordered.because),
        held=_say(page, ordered.held) if ordered.held else None,
        answers=tuple(answers) or tuple((each, _state(page, each)) for each in _USUAL_STATES),
        has_states=bool(step.states),
        part=step.part,
        renews=step.phase is Phase.RENEW and kind is not None and kind.annual,
        fitted=fitted.get(step.part, ""),
        done=done,
        said=_said(page, done) if done else None,
        routine=not (step.states or step.part or step.required or ordered.held or step.fires),
    )


def _row(page: Page, step: ProcedureStep, task: Task, visit: str) -> Markup:
    """The step as it stands, drawn once for each language and state and kept."""
    ended = task.done.id if task.done else ""
    key = (id(step), page.speaker.language, task.because, task.held, task.fitted, ended, task.said)
    kept = _drawn.get(key)
    if kept is None or kept[0] is not step:
        words = ((name, page.text_or(f"step.{step.key}.{name}", "")) for name in WORDS)
        drawn = page.part(
            "task.html",
            task=task,
            words=[(name, said) for name, said in words if said],
            cautions=[_caution(page, each) for each in step.cautions],
            tools=[page.text_or(f"tool.{each}", page.text_or(f"class.{each}", each)) for each in step.tools],
            photo=step.photo.value if step.photo is not Photo.NONE else "",
            readings=[each.key for each in step.readings],
        )
        if len(_drawn) > MOST_DRAWN:
            _drawn.clear()
        kept = _drawn[key] = (step, drawn)
    return kept[1].replace("[visit]", quote(visit, safe="")) if task.part else kept[1]


def _said(page: Page, done: StepDone) -> Markup:
    word = _state(page, done.state or done.outcome.value)
    return word if not done.reason else Markup("{}: {}").format(word, done.reason)


def _say(page: Page, said: Message) -> Markup:
    return subscripted(page.speaker.say(said))


def _title(page: Page, step: ProcedureStep) -> Markup:
    return page.text_or(f"step.{step.key}.title", step.key)


def _state(page: Page, state: str) -> Markup:
    return page.text_or(f"state.{state.replace(' ', '_')}", state)


def _caution(page: Page, key: str) -> Markup:
    return page.text_or(f"web_caution.{key}", page.text_or(f"caution.{key}", key))

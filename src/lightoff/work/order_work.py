"""The order of work for one visit: a procedure's steps, as heater, parts and findings ask for them."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache

from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.terms.procedure import Procedure, ProcedureStep
from lightoff.terms.shelf import EVERYBODY_HAS, Catalogue, Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedStep:
    """One step of the order. `held` says what must be cured before it, None where nothing holds it.

    `cannot_take` are readings of it for which the shop owns no instrument; `spare` is whether a piece of its
    part is at hand, None where it uses none.
    """

    step: ProcedureStep
    because: tuple[Message, ...]
    held: Message | None = None
    cannot_take: tuple[str, ...] = ()
    spare: bool | None = None
    waits_for: tuple[
        tuple[str, str, Message], ...
    ] = ()  # an earlier step, a state of it that holds, in words

    @property
    def needs_own_answer(self) -> bool:
        """Whether no answer given with others may take it: that a spare is aboard, the book may know."""
        unknown = self.step.grouped and self.spare is False
        return self.step.needs_own_answer or self.held is not None or unknown


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A step that this visit does not need, and why not."""

    step: ProcedureStep
    because: Message


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOfWork:
    """What to do, in order, with everything that was left out. `sha256` is the procedure's."""

    procedure: str
    version: str
    sha256: str
    steps: tuple[OrderedStep, ...]
    left_out: tuple[LeftOut, ...]
    minutes: float
    tools: tuple[str, ...]  # in the order of their first use
    parts: tuple[str, ...]  # part types that its steps renew, record or carry, likewise


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What the order is asked for."""

    procedure: Procedure
    words: Mapping[str, Collection[str]]  # of a sheet that any step of the procedure asks for, by field
    sheet: Sheet
    catalogue: Catalogue
    kinds: Collection[str]
    due: Collection[str]
    complaint: str
    findings: Mapping[str, str]
    disputed: Mapping[str, Collection[str]]
    seen: Mapping[str, Collection[str]]


def compose(
    procedure: Procedure,
    *,
    sheet: Sheet,
    catalogue: Catalogue,
    kinds: Collection[str] = (),
    due: Collection[str] = (),
    complaint: str = "",
    findings: Mapping[str, str] | None = None,
    disputed: Mapping[str, Collection[str]] | None = None,
    seen: Mapping[str, Collection[str]] | None = None,
    spares: Collection[str] = (),
) -> OrderOfWork:
    """The procedure's steps for this visit, in the procedure's own order, with the reason of each.

    `kinds` are the instrument classes that the shop owns, `due` the part types that are due, `complaint` a
    state of the owner's words, `findings` what stands now (key of a reading or a step: its state), `disputed`
    every state of those of which entries say different things, any of which holds what waits for it; `seen`
    is every state that the visit has found so far, so that the step that cured one stays in the order;
    `spares` are the part types of which a piece is at hand. A required step is left out for nothing but a
    finding that it waits for, and a finding more never takes one away.
    """
    words: dict[str, set[str]] = {}
    for step in procedure.steps:
        for name, those in step.only_sheet.items():
            words.setdefault(name, set()).update(those)
    asked = _Asked(
        procedure=procedure,
        words=words,
        sheet=sheet,
        catalogue=catalogue,
        kinds=kinds,
        due=due,
        complaint=complaint,
        findings=findings or {},
        disputed=disputed or {},
        seen=seen or {},
    )
    steps, left_out = list[OrderedStep](), list[LeftOut]()
    before, guards = set[str](), list[ProcedureStep]()
    for step in procedure.steps:
        missing = _why_not(step, asked, before)
        if missing is not None:
            left_out.append(LeftOut(step=step, because=missing))
            continue
        steps.append(
            OrderedStep(
                step=step,
                because=_because(step, asked),
                held=_held(step, asked, guards),
                cannot_take=tuple(
                    each.key
                    for each in step.readings
                    if not catalogue.entries[each.key].can_be_taken_with(kinds)
                ),
                spare=step.part in spares if step.part else None,
                waits_for=_waits_for(step, asked, guards),
            )
        )
        before.add(step.key)
        if step.holds:
            guards.append(step)
    return OrderOfWork(
        procedure=procedure.key,
        version=procedure.version,
        sha256=procedure.sha256,
        steps=tuple(steps),
        left_out=tuple(left_out),
        minutes=sum(each.step.minutes for each in steps),
        tools=tuple(dict.fromkeys(tool for each in steps for tool in each.step.tools)),
        parts=tuple(dict.fromkeys(each.step.part for each in steps if each.step.part)),
    )


def _why_not(step: ProcedureStep, asked: _Asked, before: Collection[str]) -> Message | None:
    """Why the step is left out, None where it is there; `before` are the steps that come earlier."""
    if step.puts_back:
        return None if step.puts_back in before else message("order_of_work.not_displaced")
    for name, words in step.only_sheet.items():
        said = getattr(asked.sheet, name)
        if not _fits(said, words) and _any_fits(name, said, asked):
            return message("order_of_work.other_sheet", words=said)
    if step.only_complaint and asked.complaint not in step.only_complaint:
        return message("order_of_work.other_complaint")
    if step.needs and EVERYBODY_HAS.union(asked.kinds).isdisjoint(step.needs):
        classes = tuple(Message(f"class.{each}") for each in step.needs)
        return message("order_of_work.no_instrument", classes=classes)
    due = step.only_if_due and step.part in asked.due
    if due or _found_for(step, asked) or not (step.only_if_due or step.only_findings):
        return None
    if step.only_if_due:
        return message("order_of_work.not_due", part=f"@part.{step.part}")
    return message("order_of_work.no_finding")


def _because(step: ProcedureStep, asked: _Asked) -> tuple[Message, ...]:
    why = list[Message]()
    if step.required:
        why.append(message("order_of_work.required"))
    if step.puts_back:
        why.append(message("order_of_work.puts_back", step=f"@step.{step.puts_back}.title"))
    if step.part and step.part in asked.due:
        why.append(message("order_of_work.due", part=f"@part.{step.part}"))
    for key, state in _found_for(step, asked):
        why.append(message("order_of_work.finding", what=_name(key, asked), state=_state(state)))
    if step.only_complaint:
        why.append(message("order_of_work.complaint", complaint=_state(asked.complaint)))
    why += [_by_sheet(name, asked) for name in step.only_sheet]
    return tuple(why) or (message("order_of_work.usual"),)


def _held(step: ProcedureStep, asked: _Asked, guards: Iterable[ProcedureStep]) -> Message | None:
    """What must be cured first: a finding that stops every firing, or one of a step that guards this one."""
    holding = [asked.procedure.stops] if step.fires else []
    holding += [guard.holds for guard in guards if guard.is_guard_of(step)]
    for states_by_key in holding:
        for key, states in states_by_key.items():
            said = (asked.findings.get(key), *asked.disputed.get(key, ()))
            state = next((each for each in said if each in states), None)
            if state is not None:
                return message("order_of_work.held", what=_name(key, asked), state=_state(state))
    return None


def _waits_for(
    step: ProcedureStep, asked: _Asked, guards: Iterable[ProcedureStep]
) -> tuple[tuple[str, str, Message], ...]:
    """What answers of earlier steps would hold this one: a step, its state, and the sentence."""
    return tuple(
        (guard.key, state, message("order_of_work.held", what=_name(guard.key, asked), state=_state(state)))
        for guard in guards
        if guard.is_guard_of(step)
        for state in guard.holds.get(guard.key, ())
    )


def _found_for(step: ProcedureStep, asked: _Asked) -> tuple[tuple[str, str], ...]:
    """Findings of the visit that bring the step, each with its state."""
    return tuple(
        (key, state)
        for key, states in step.only_findings.items()
        for state in states
        if state == asked.findings.get(key) or state in asked.seen.get(key, ())
    )


def _by_sheet(name: str, asked: _Asked) -> Message:
    said = getattr(asked.sheet, name)
    if not said:
        return message("order_of_work.sheet_silent")
    key = "sheet" if _any_fits(name, said, asked) else "sheet_other"
    return message(f"order_of_work.{key}", words=said)


def _any_fits(name: str, said: str, asked: _Asked) -> bool:
    """Whether the procedure has a step for what the sheet says; where it has none, a person picks."""
    return _fits(said, asked.words[name])


def _fits(said: str, words: Iterable[str]) -> bool:
    """Whether a sheet's own words hold one of these."""
    return not _words_of(said).isdisjoint(words)


@lru_cache(maxsize=256)
def _words_of(said: str) -> frozenset[str]:
    return frozenset(re.findall(r"[a-z]+", said.lower()))


def _name(key: str, asked: _Asked) -> str:
    return f"@reading.{key}" if key in asked.catalogue.entries else f"@step.{key}.title"


def _state(state: str) -> str:
    return f"@state.{state.replace(' ', '_')}"

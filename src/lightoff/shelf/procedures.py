"""Steps and procedures from their files, each checked for what would make it dangerous.

A shop's own procedure is made from one that ships: it adds steps and leaves some out, and the required ones
always come along.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from lightoff.shelf.faults import OPENS
from lightoff.shelf.files import Table, hash_of
from lightoff.terms.procedure import (
    FIRED,
    FIRING,
    FIRING_AGAIN,
    Phase,
    Photo,
    Procedure,
    ProcedureStep,
    StepReading,
    Timer,
)
from lightoff.terms.shelf import CatalogueEntry, Comparison, Limit

COMPLAINT = "owner_says"
PATHS = tuple(each for each in OPENS if each)
GUARDED = (*PATHS, FIRING, FIRING_AGAIN)
"""What a step may guard, besides a step by its key."""
SHEET_WORDS = ("fastening", "igniter_holder", "window", "inlet")
SECTIONS = (
    "light",
    "smoke",
    "flue_1",
    "flue_2",
    "living_space",
    "electrical",
    "warm_up",
    "fuel_rate",
)
"""Sections of the visit's card that a step may name; else its phase does."""
CAUTIONS = ("practice", "waste")
"""Cautions that no reading of the catalogue carries, only steps."""
WORDS = ("title", "why", "look", "how", "tight", "risk")
# A step that takes longer is several steps. Basis: common practice, no source.
_MOST_MINUTES = 480.0
_CONDITIONS = ("only_if_due", "only_complaint", "only_sheet", "needs")


def step_of(
    table: Table,
    *,
    entries: Mapping[str, CatalogueEntry],
    cautions: Collection[str],
    part_types: Collection[str],
    own: bool,
    source: str,
) -> ProcedureStep:
    """One step of `steps.toml`; a shop's `own` brings its words. Raises Refusal."""
    table.known(
        (
            *_CONDITIONS,
            *(WORDS if own else ()),
            "key",
            "section",
            "minutes",
            "source",
            "required",
            "fires",
            "opens",
            "guards",
            "holds",
            "displaces",
            "puts_back",
            "tools",
            "cautions",
            "readings",
            "states",
            "grouped",
            "photo",
            "photo_of",
            "timer",
            "part",
            "only_findings",
        )
    )
    step = ProcedureStep(
        key=table.text("key"),
        phase=Phase.ARRIVE,  # the procedure says which
        section=table.chosen("section", ("", *SECTIONS), ""),
        minutes=table.within("minutes", 0.0, _MOST_MINUTES),
        source=table.text("source", source),
        required=table.truth("required"),
        fires=table.truth("fires"),
        opens=table.chosen("opens", OPENS, ""),
        guards=table.texts("guards"),
        holds=_states_by_key(table, "holds"),
        displaces=table.truth("displaces"),
        puts_back=table.text("puts_back", ""),
        tools=table.texts("tools"),
        needs=table.texts("needs"),
        cautions=table.each_of("cautions", cautions),
        readings=tuple(
            StepReading(key=each, stage=Phase.ARRIVE.stage) for each in table.each_of("readings", entries)
        ),
        states=table.texts("states"),
        grouped=table.truth("grouped"),
        photo=Photo(table.chosen("photo", tuple(Photo), Photo.NONE)),
        photo_of=table.text("photo_of", ""),
        timer=Timer(table.chosen("timer", tuple(Timer), Timer.NONE)),
        part=table.chosen("part", ("", *part_types), ""),
        only_if_due=table.truth("only_if_due"),
        only_findings=_states_by_key(table, "only_findings"),
        only_complaint=table.each_of("only_complaint", entries[COMPLAINT].states),
        only_sheet=_states_by_key(table, "only_sheet", SHEET_WORDS),
        words=_words(table, WORDS, "title") if own else MappingProxyType({}),
    )
    if step.required and any(getattr(step, each) for each in _CONDITIONS):
        raise table.refuse("required_under_condition", "required", possible=", ".join(_CONDITIONS))
    if step.grouped and (step.needs_own_answer or not step.states):
        raise table.refuse("not_to_be_grouped", "grouped")
    timed = step.timer.reading
    if timed and timed not in (each.key for each in step.readings):
        raise table.refuse("timer_takes_nothing", "timer", value=step.timer.value, reading=timed)
    if step.only_if_due and not step.part:
        raise table.refuse("missing", "part")
    if step.puts_back and (step.required or step.only_findings or any(getattr(step, e) for e in _CONDITIONS)):
        raise table.refuse("put_back_under_condition", "puts_back")
    return step


def cautions_of(entries: Mapping[str, CatalogueEntry]) -> Collection[str]:
    """The cautions that a step may name, in their order."""
    return sorted({each.caution for each in entries.values()} - {""} | set(CAUTIONS))


def check_steps(
    table: Table, steps: Mapping[str, ProcedureStep], entries: Mapping[str, CatalogueEntry]
) -> None:
    """Every key that a step names is a step's, a path's or a reading's, with its states. Raises Refusal."""
    known = {key: each.states for key, each in steps.items() if each.states}
    known |= {key: each.states for key, each in entries.items() if each.states}
    for step in steps.values():
        row = Table(file=table.file, place=f"step {step.key}", values={})
        for each in step.guards:
            if each not in steps and each not in GUARDED:
                raise row.refuse("not_chosen", "guards", value=each, possible=", ".join((*GUARDED, *steps)))
        if step.puts_back and not (step.puts_back in steps and steps[step.puts_back].displaces):
            possible = ", ".join(key for key, each in steps.items() if each.displaces)
            raise row.refuse("not_chosen", "puts_back", value=step.puts_back, possible=possible)
        shown = steps.get(step.photo_of)
        if step.photo_of and (shown is None or shown.photo not in (Photo.BEFORE, Photo.BOTH)):
            possible = ", ".join(k for k, each in steps.items() if each.photo in (Photo.BEFORE, Photo.BOTH))
            raise row.refuse("not_chosen", "photo_of", value=step.photo_of, possible=possible)
        for field, states in (("only_findings", step.only_findings), ("holds", step.holds)):
            for key, found in states.items():
                if key not in known:
                    raise row.refuse("not_a_state_reading", f"{field}.{key}")
                for state in found:
                    if state not in known[key]:
                        possible = ", ".join(known[key])
                        raise row.refuse("not_chosen", f"{field}.{key}", value=state, possible=possible)


def procedure_of(
    table: Table, *, steps: Mapping[str, ProcedureStep], stops: Mapping[str, tuple[str, ...]]
) -> Procedure:
    """One shipped procedure: its phases, each a list of steps. Raises Refusal."""
    table.known(("key", "version", "proves_first", "left_as_it_is", "order"))
    phases = dict(_lists(table, "order"))
    for phase in phases:
        if phase not in tuple(Phase):
            raise table.refuse("not_chosen", "order", value=phase, possible=", ".join(Phase))
    ordered = []
    for phase in Phase:
        for key in phases.get(phase, ()):
            if key not in steps:
                raise table.refuse("not_chosen", f"order.{phase}", value=key, possible=", ".join(steps))
            ordered.append(placed(steps[key], phase))
    left = table.each_of("left_as_it_is", [each.key for each in ordered])
    procedure = Procedure(
        key=table.text("key"),
        version=table.text("version"),
        sha256="",
        proves_first=table.truth("proves_first"),
        steps=tuple(ordered),
        stops=stops,
    )
    return checked(table, procedure, left_as_it_is=left)


def extended(
    table: Table, *, procedures: Mapping[str, Procedure], steps: Mapping[str, ProcedureStep]
) -> Procedure:
    """A shop's procedure from the one that it extends. Raises Refusal for leaving out what is required."""
    table.known(("key", "version", "extends", "title", "why", "leave_out", "add"))
    base = procedures[table.chosen("extends", procedures)]
    key = table.text("key", base.key)
    if key != base.key and key in procedures:
        raise table.refuse("stands_already", "key", value=key)
    kept = list(base.steps)
    gone = set(table.each_of("leave_out", [each.key for each in kept]))
    for each in kept:
        if each.key in gone and each.required:
            raise table.refuse("step_required", "leave_out", value=each.key)
        if each.key in gone and each.puts_back and each.puts_back not in gone:
            raise table.refuse("put_back_left_out", "leave_out", value=each.key, displaced=each.puts_back)
    kept = [each for each in kept if each.key not in gone and each.puts_back not in gone]
    for row in table.tables("add"):
        row.known(("step", "after"))
        here = [each.key for each in kept]
        step, after = row.chosen("step", steps), row.chosen("after", here)
        if step in here:
            raise row.refuse("stands_already", "step", value=step)
        at = here.index(after)
        kept.insert(at + 1, placed(steps[step], kept[at].phase))
    shipped_open = {each.key for each in base.steps if each.displaces} - {
        each.puts_back for each in base.steps
    }
    words = _words(table, ("title", "why"), "title") if key != base.key else base.words
    procedure = replace(
        base,
        key=key,
        version=table.text("version", f"{base.version}+shop"),
        steps=tuple(kept),
        extends=base.key,
        words=words,
    )
    return checked(table, procedure, left_as_it_is=shipped_open)


def placed(step: ProcedureStep, phase: Phase) -> ProcedureStep:
    """The step in its phase: under that section of the card, its readings as found or as left."""
    return replace(
        step,
        phase=phase,
        section=step.section or phase.section,
        readings=tuple(StepReading(key=each.key, stage=phase.stage) for each in step.readings),
    )


def checked(table: Table, procedure: Procedure, *, left_as_it_is: Collection[str]) -> Procedure:
    """The procedure with its hash. Raises Refusal for an order that would be dangerous.

    What guards comes before what it guards; what is opened was guarded, and is not opened once what guarded
    it has been put back; what proves comes before what touches; what was displaced is put back, unless it
    is `left_as_it_is`.
    """
    place: dict[str, int] = {}
    for index, step in enumerate(procedure.steps):
        if step.key in place:
            raise table.refuse("step_twice", "order", value=step.key)
        place[step.key] = index
    for index, step in enumerate(procedure.steps):
        for earlier in procedure.steps[:index] if step.guards else ():
            if step.is_guard_of(earlier):
                raise table.refuse("guard_after", "order", value=step.key, later=earlier.key)
        if step.fires and step.phase not in FIRED:
            possible = ", ".join(FIRED)
            raise table.refuse("fires_in_phase", "order", value=step.key, phase=step.phase, possible=possible)
        if step.puts_back and place.get(step.puts_back, index) >= index:
            raise table.refuse("put_back_first", "order", value=step.key, displaced=step.puts_back)
        live = _opened_again(step, procedure.steps[:index])
        if live is not None:
            raise table.refuse("opened_live", "order", value=step.key, path=step.opens, live=live)
        guarded = (each.guards for each in procedure.steps[:index] if each.required)
        if step.opens and not any(step.opens in each for each in guarded):
            raise table.refuse("opened_unguarded", "order", value=step.key, path=step.opens)
    back = {each.puts_back for each in procedure.steps}
    for step in procedure.steps:
        if step.displaces and step.key not in back and step.key not in left_as_it_is:
            raise table.refuse("never_put_back", "order", value=step.key)
    proved = any(each.required and each.fires and each.phase is Phase.PROVE for each in procedure.steps)
    if procedure.proves_first and not proved:
        raise table.refuse("not_proved_first", "order")
    return replace(procedure, sha256=hash_of(repr(replace(procedure, sha256=""))))


def stops_of(limits: Iterable[Limit]) -> Mapping[str, tuple[str, ...]]:
    """Readings and their states that the limits table stops a firing for."""
    return MappingProxyType(
        {
            each.quantity: each.states
            for each in limits
            if each.stops == "do not fire" and each.comparison is Comparison.NONE_OF
        }
    )


def _opened_again(step: ProcedureStep, before: Iterable[ProcedureStep]) -> str | None:
    """The step that has made live again what this one opens, where the guard's own finding would hold it."""
    if not step.opens:
        return None
    before = tuple(before)
    guarding = {each.key for each in before if step.opens in each.guards and each.key in each.holds}
    return next((each.key for each in before if each.puts_back in guarding), None)


def _lists(table: Table, field: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    value = table.values.get(field, {})
    if not isinstance(value, dict):
        raise table.refuse("not_tables", field)
    inner = Table(file=table.file, place=f"{table.place}.{field}", values=value)
    return tuple((key, inner.texts(key)) for key in value)


def _states_by_key(
    table: Table, field: str, possible: Collection[str] | None = None
) -> Mapping[str, tuple[str, ...]]:
    found = dict(_lists(table, field))
    for key in found:
        if possible is not None and key not in possible:
            raise table.refuse("not_chosen", field, value=key, possible=", ".join(possible))
    return MappingProxyType(found)


def _words(table: Table, names: Iterable[str], needed: str) -> Mapping[str, str]:
    table.text(needed)
    return MappingProxyType({name: table.text(name) for name in names if name in table.values})

"""Entries that contradict each other: which of them a gate uses, and each conflict in words.

No clock settles them. A gate that would rest on one of the candidates rests on nothing until a person
chooses; what no gate uses (a telephone number, a destination) is shown and lowers nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal

from lightoff.ground.message import Amount, AsWritten, DayOf, Message, Value, message
from lightoff.judging.believed import GATING
from lightoff.judging.steps_told import PROCEDURE
from lightoff.terms.case import Case
from lightoff.terms.conflict import Candidate, Conflict, said_by
from lightoff.terms.part import StepDone
from lightoff.terms.people import Span
from lightoff.terms.visit import Reading

# What the gates use of each noun. Of two closes the earlier counts, which is the stricter: none is used.
_USED: Mapping[str, frozenset[str]] = {
    "heater": frozenset(("sheet", "vehicle")),
    "vehicle": frozenset(("kind",)),
    "instrument": frozenset(("kind", "calibrated_on", "earlier_calibrations", "spans", "retired")),
    "visit": frozenset(
        (
            "heater",
            "started_at",
            "fuel",
            "place.altitude_m",
            "place.air_temperature_k",
            "place.relative_humidity_fraction",
        )
    ),
}
# Of these they use everything but what is said beside it.
_BESIDE: Mapping[str, frozenset[str]] = {
    "reading": frozenset(("note", "photo")),
    "event": frozenset(("note",)),
    "accept": frozenset(),
    # What a step ended with. That two new pieces were written down for one is shown, and lowers nothing.
    "step": frozenset(("reason", "exchange")),
}
_DIMENSIONS = {
    "altitude_m": "length",
    "air_temperature_k": "temperature",
    "relative_humidity_fraction": "fraction",
}
# Keys of the shelf that people have words for, by part; without words a key speaks for itself.
_WORDS = {"fuel": "fuel", "kind": "class", "sheet": "sheet"}
_ANSWER = ("value", "unit", "state", "at_top")
# Beside a withdrawal everything differs: these tell what was withdrawn.
_TELLING = ("name", "sheet", "kind", "calibrated_on", "at", "fuel")


def disputes(case: Case) -> tuple[Conflict, ...]:
    """The conflicts of a case that a gate of this visit would rest on."""
    return tuple(each for each in of_this_visit(case) if is_used(each))


def of_this_visit(case: Case) -> tuple[Conflict, ...]:
    """The conflicts of a visit's own nouns: not of earlier visits, nor of meters that no gate reads."""
    visit = case.visit
    subjects = {visit.id, case.heater.id, case.vehicle.id, case.owner.id}
    subjects |= {each.instrument for each in visit.readings if each.instrument and each.key in GATING}
    return tuple(each for each in case.conflicts if each.subject in subjects)


def is_used(conflict: Conflict) -> bool:
    """Whether the candidates differ in something that a gate uses."""
    parts = set(conflict.parts)
    if conflict.noun == "reading":
        said = (each.says for each in conflict.candidates)
        if not any(isinstance(each, Reading) and each.key in GATING for each in said):
            return False
    if _step_of(conflict) == PROCEDURE:
        return False  # which order was followed is no evidence of anything
    if conflict.noun in _BESIDE:
        return bool(parts - _BESIDE[conflict.noun])
    return bool(parts & _USED.get(conflict.noun, frozenset()))


def names_of(case: Case) -> dict[str, str]:
    """What the nouns of a case are called, by their ids."""
    named = {each.id: each.name for each in case.instruments.values()}
    return named | {each.id: each.name for each in (case.owner, case.vehicle, case.heater)}


def said_of_all(conflicts: Iterable[Conflict], names: Mapping[str, str]) -> Message | None:
    """Every conflict in a sentence of its own; None without any. `names` as in `ways`."""
    said: Message | None = None
    for each in reversed(tuple(conflicts)):
        one = message("conflict.said", noun=noun_said(each, names), ways=tuple(ways(each, names)))
        said = one if said is None else message("conflict.and_then", one=one, rest=said)
    return said


def noun_said(conflict: Conflict, names: Mapping[str, str]) -> Message:
    """What the entries speak of: "the heater aft", "carbon monoxide in the exhaust, as left, set 1"."""
    reading = next((each.says for each in conflict.candidates if isinstance(each.says, Reading)), None)
    if reading is not None:
        said = message("conflict.reading", what=f"@reading.{reading.key}", stage=f"@stage.{reading.stage}")
        if reading.set_number is None:
            return said
        return message("conflict.reading_of_set", reading=said, number=reading.set_number)
    if conflict.noun == "step":
        return message("conflict.step", step=f"@step.{_step_of(conflict)}.title")
    own = (getattr(each.says, "name", "") for each in conflict.candidates)
    name = names.get(conflict.subject) or next(filter(None, own), "")
    return message(f"conflict.noun_{conflict.noun}", name=name)


def _step_of(conflict: Conflict) -> str:
    """The key of the step that the answers end."""
    return next((each.says.step for each in conflict.candidates if isinstance(each.says, StepDone)), "")


def ways(conflict: Conflict, names: Mapping[str, str]) -> Iterator[Message]:
    """Each candidate in words, in order: what it says where they differ, who said it, and when.

    `names` gives the name of an id: of an instrument, a heater, a vehicle.
    """
    for each in conflict.candidates:
        yield message("conflict.way", says=says(conflict, each, names), who=who_and_when(each))


def who_and_when(candidate: Candidate) -> Message:
    """Who said it, and when; only when, where nobody signed."""
    day, clock = DayOf(candidate.at), candidate.at
    if not candidate.author:
        return message("conflict.when", day=day, clock=clock)
    return message("conflict.who_and_when", author=candidate.author, day=day, clock=clock)


def says(conflict: Conflict, candidate: Candidate, names: Mapping[str, str]) -> Message:
    """What one candidate says where they differ, part by part."""
    if candidate.says is None:
        return message("conflict.withdrawn")
    told = dict(said_by(candidate.says))
    parts = list(conflict.parts)
    shown: list[Message] = []
    if any(each.says is None for each in conflict.candidates):
        parts = [each for each in parts if each in _TELLING]
    if isinstance(candidate.says, Reading):
        shown.append(_answer(candidate.says))
        # Two readings are taken at two times; that is told where nothing else sets them apart.
        hidden = (*_ANSWER, "taken_at") if set(parts) & set(_ANSWER) else ()
        parts = [each for each in parts if each not in hidden]
    if isinstance(candidate.says, StepDone):
        shown.append(message("conflict.answer", said=_ended(candidate.says)))
        parts = [each for each in parts if each in ("reason", "exchange") and told.get(each)]
    for part in parts:
        what = f"@conflict_part.{part.replace('.', '_')}"
        shown.append(message("conflict.part", what=what, said=_shown(part, told.get(part), names)))
    return _one_after_the_other(shown) if shown else message("conflict.stands")


def _one_after_the_other(said: list[Message]) -> Message:
    whole = said[-1]
    for each in reversed(said[:-1]):
        whole = message("conflict.with", one=each, rest=whole)
    return whole


def _answer(reading: Reading) -> Message:
    if reading.value is not None:
        return message("conflict.answer", said=AsWritten(value=reading.value, unit=reading.unit))
    blank = "----" if reading.at_top else "@conflict.nothing"
    return message("conflict.answer", said=reading.state or blank)


def _ended(answer: StepDone) -> str:
    if answer.step == PROCEDURE:
        return f"@procedure.{answer.state}.title"
    return f"@state.{(answer.state or answer.outcome.value).replace(' ', '_')}"


def _shown(part: str, value: object, names: Mapping[str, str]) -> Value:
    match value:
        case None | "" | ():
            return "@conflict.nothing"
        case tuple() if part == "exchange":
            return "@conflict.renewed"
        case bool():
            return "@conflict.yes" if value else "@conflict.no"
        case datetime():
            return message("conflict.moment", day=DayOf(value), clock=value)
        case date() | int():
            return value
        case float():
            return Amount(value=value, dimension=_DIMENSIONS[part.rpartition(".")[2]])
        case Decimal():
            return f"{value:f}"
        case tuple():
            return _one_after_the_other([message("conflict.answer", said=_item(each)) for each in value])
        case _:
            words = f"@{_WORDS[part]}.{value}" if part in _WORDS else str(value)
            return names.get(str(value), words)


def _item(value: object) -> Value:
    if isinstance(value, Span):
        return f"{value.key} {value.low:f} to {value.high:f} {value.unit}"
    return value if isinstance(value, date) else str(value)

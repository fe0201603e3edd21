"""Gates that rest on entries which contradict each other: not proven until a person chooses.

A gate is judged by one of the candidates as if the other were not there: by the sheet that was entered last,
by the calibration that was. What it found crossed stands; what it found within its limits is not proven.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from lightoff.ground.message import Message, message
from lightoff.judging.assessment import GateResult, Judgement
from lightoff.judging.believed import FLUE
from lightoff.judging.disputed import disputes, names_of, noun_said
from lightoff.terms.case import Case
from lightoff.terms.conflict import Conflict
from lightoff.terms.visit import Reading

_OF_FLUE = frozenset(("flue O2", "flue CO", "CO2 agrees", "two sets"))
# What a gate reads beside the readings that it lists.
_ALSO: Mapping[str, frozenset[str]] = {
    **dict.fromkeys(FLUE, _OF_FLUE),
    "outdoor_co": frozenset(("living-space CO",)),
    "co_response": frozenset(("response check",)),
    "fresh_air_o2_before": frozenset(("CO2 agrees",)),
    "fresh_air_co_before": frozenset(("CO2 agrees",)),
}
_OF_PARTS: Mapping[tuple[str, str], frozenset[str]] = {
    ("visit", "fuel"): frozenset(("CO2 agrees",)),
    ("visit", "heater"): frozenset(("belongs here",)),
    ("visit", "started_at"): frozenset(("belongs here",)),
}
_OF_NOUNS: Mapping[str, frozenset[str]] = {
    "event": frozenset(("steady", "one test", "fuel joints")),
    "accept": frozenset(("belongs here",)),
}


def resting(gates: Iterable[GateResult], case: Case) -> list[GateResult]:
    """The gates, with those not proven that are within limits by one of several contradicting entries.

    Where that cannot be told because of an error, none of them is within limits.
    """
    found = list(gates)
    try:
        contradicting = disputes(case)
        return [_lowered(each, contradicting, case) for each in found]
    except Exception as error:  # noqa: BLE001 - an error in the judgement is not proven, never a pass
        said = message("judging.gate_broke", gate="@gate.conflict", error=repr(error))
        return [_not_proven(each, said) for each in found]


def _not_proven(gate: GateResult, said: Message) -> GateResult:
    """The gate as it is, but for one that is within its limits."""
    if gate.judgement is not Judgement.WITHIN:
        return gate
    return replace(gate, judgement=Judgement.NOT_PROVEN, said=said)


def _lowered(gate: GateResult, conflicts: Iterable[Conflict], case: Case) -> GateResult:
    found = next((each for each in conflicts if _rests_on(gate, each, case)), None)
    if found is None:
        return gate
    return _not_proven(gate, message("judging.rests_on_conflict", noun=noun_said(found, names_of(case))))


def _rests_on(gate: GateResult, conflict: Conflict, case: Case) -> bool:
    noun = conflict.noun
    if noun in ("heater", "vehicle"):  # which limits hold: a sheet and the kind of vehicle tighten numbers
        return any(row.value is not None for row in gate.limits)
    if gate.gate in _OF_NOUNS.get(noun, ()):
        return True
    if any(gate.gate in _OF_PARTS.get((noun, part), ()) for part in conflict.parts):
        return True
    if noun == "instrument":
        return bool(_of_instrument(conflict.subject, case) & _used(gate))
    places = {each.says.slot for each in conflict.candidates if isinstance(each.says, Reading)}
    keys = {each.says.key for each in conflict.candidates if isinstance(each.says, Reading)}
    told = {each.id for each in case.visit.readings if each.slot in places}
    return bool(told & _used(gate)) or any(gate.gate in _ALSO.get(key, ()) for key in keys)


def _of_instrument(instrument: str, case: Case) -> set[str]:
    return {each.id for each in case.visit.readings if each.instrument == instrument}


def _used(gate: GateResult) -> set[str]:
    return {*gate.readings, *(gate.counted.readings if gate.counted else ())}

"""What was read or seen, and no figure or gate tells: looks, counters, a shop's own readings."""

from __future__ import annotations

from collections.abc import Collection

from lightoff.ground.values import dataclass
from lightoff.judging.assessment import CALCULATED_CO2, Assessment
from lightoff.terms.case import Case
from lightoff.terms.visit import Reading, Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """One reading of the catalogue as it was noted last, as found and as left."""

    key: str
    found: Reading | None
    left: Reading | None


def noted(case: Case, assessment: Assessment, *, besides: Collection[str] = ()) -> tuple[Noted, ...]:
    """The readings of this heater that stand nowhere else in its assessment, in order of entry.

    `besides` are keys that are told elsewhere. That a reading could not be had is nothing to note.
    """
    told = {figure.key for area in assessment.areas for figure in area.figures}
    told |= {"flue_co2"} if CALCULATED_CO2 in told else set()
    used = {identity for gate in assessment.verdict.gates for identity in gate.readings}
    mine = [
        each
        for each in case.visit.readings
        if each.heater == case.visit.heater and each.key not in besides and not each.not_had
    ]
    told |= {each.key for each in mine if each.id in used}
    last: dict[str, dict[Stage, Reading]] = {}
    for each in sorted(mine, key=lambda each: each.id):
        if each.key not in told:
            last.setdefault(each.key, {})[each.stage] = each
    return tuple(
        Noted(key=key, found=stages.get(Stage.AS_FOUND), left=stages.get(Stage.AS_LEFT))
        for key, stages in last.items()
    )


def instead(case: Case, assessment: Assessment, key: str, stage: Stage) -> Reading | str:
    """What stands where no figure tells of a number at a stage: the one read last, or why there is none.

    Of two stages it may be that only one is judged; what was read on the other was read all the same.
    """
    why = next((why for name, at, why in assessment.absent if (name, at) == (key, stage)), None)
    asked = (case.visit.heater, key, stage)
    read = [each for each in case.visit.readings if (each.heater, each.key, each.stage) == asked]
    numbers = [each for each in read if each.value is not None]
    return max(numbers, key=lambda each: each.id) if numbers and why is None else why or "not read"

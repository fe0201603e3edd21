"""What was asked about a reading at its field, told again wherever the visit is told."""

from __future__ import annotations

from collections.abc import Iterator

from lightoff.ground.message import Message, message
from lightoff.judging.assessment import GateResult, Judgement
from lightoff.judging.believed import GATING
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import Reading, Stage
from lightoff.work.plausible import Doubt, doubts

# A gate tells these in its own words.
_OF_A_GATE = ("plausible.wet_for_dry", "plausible.co2_above_fuel")


def asked_about(case: Case, shelf: Shelf) -> tuple[Message, ...]:
    """The suspicions that stand, a sentence each, and whether somebody kept to the figure as written.

    What cannot be is set aside by the judgement, and what is only rare is what a fault looks like: neither is
    told here.
    """
    told: list[Message] = []
    for each, reading in _standing(case, shelf):
        key = "plausible.kept_so" if reading.confirmed else "plausible.unanswered"
        said = message(key, said=each.said)
        if said not in told:  # of two sets that read the same, once
            told.append(said)
    return tuple(told)


def unanswered(case: Case, shelf: Shelf) -> GateResult | None:
    """The gate that a suspicion holds open till somebody answers it; None where none does.

    Only of what a gate rests on, as left: outdoor air of 18 ppm that was 18 mg/m3 makes the rise indoors look
    less than it is.
    """
    for each, reading in _standing(case, shelf):
        if reading.key in GATING and reading.stage is Stage.AS_LEFT and not reading.confirmed:
            return GateResult(
                gate="belongs here",
                judgement=Judgement.NOT_PROVEN,
                said=message("plausible.proves_nothing", said=each.said),
                missing=(reading.key,),
                readings=(reading.id,),
            )
    return None


def _standing(case: Case, shelf: Shelf) -> Iterator[tuple[Doubt, Reading]]:
    readings = {each.id: each for each in case.visit.readings}
    fuel, sheet = shelf.fuels.get(case.visit.fuel), shelf.sheets.get(case.heater.sheet)
    for each in doubts(case.visit.readings, shelf.catalogue, fuel, sheet=sheet):
        if not (each.impossible or each.unusual or each.said.key in _OF_A_GATE):
            yield each, readings[each.reading]

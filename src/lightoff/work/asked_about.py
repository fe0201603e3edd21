"""What was asked about a reading at its field, told again wherever the visit is told."""

from __future__ import annotations

from lightoff.ground.message import Message, message
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.work.plausible import doubts

# A gate tells these in its own words.
_OF_A_GATE = ("plausible.wet_for_dry", "plausible.co2_above_fuel")


def asked_about(case: Case, shelf: Shelf) -> tuple[Message, ...]:
    """The suspicions that stand, a sentence each, and whether somebody kept to the figure as written.

    What cannot be is set aside by the judgement, and what is only rare is what a fault looks like: neither is
    told here.
    """
    readings = {each.id: each for each in case.visit.readings}
    fuel, sheet = shelf.fuels.get(case.visit.fuel), shelf.sheets.get(case.heater.sheet)
    told: list[Message] = []
    for each in doubts(case.visit.readings, shelf.catalogue, fuel, sheet=sheet):
        if each.impossible or each.unusual or each.said.key in _OF_A_GATE:
            continue
        key = "plausible.kept_so" if readings[each.reading].confirmed else "plausible.unanswered"
        said = message(key, said=each.said)
        if said not in told:  # of two sets that read the same, once
            told.append(said)
    return tuple(told)

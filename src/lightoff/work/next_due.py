"""What comes next for a heater, told to its owner: the next service, parts to renew, spares to have."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from lightoff.ground.errors import NotFound
from lightoff.ground.message import DayOf, Message, message
from lightoff.terms.visit import Visit
from lightoff.wear.advice import Action
from lightoff.work.advise_parts import Fitted, advise_parts, part_name
from lightoff.work.fleet import fleet
from lightoff.work.reckoning import reckoning
from lightoff.work.who_needs_visit import service_due
from lightoff.work.workshop import Workshop

MOST_NAMED = 4
_SAID = {
    "report.next_renew_now": (Action.RENEW_NOW,),
    "report.next_renew": (Action.RENEW_AT_NEXT_OPENING,),
    "report.next_spares": (Action.CARRY_A_SPARE,),
}


def next_due(workshop: Workshop, visit: Visit, now: datetime) -> tuple[Message, ...]:
    """The sentences, after a heater's latest visit; none after an earlier one, whose next is long past.

    None either where no complete service stands in the book: then nobody can count from it.
    """
    unit = fleet(workshop, now).units.get(visit.heater)
    if unit is None or not unit.visits or unit.visits[-1].id != visit.id:
        return ()
    if not any(each.service_complete for each in unit.visits):
        return ()
    told = [message("report.next_due", day=DayOf(service_due(unit, reckoning(workshop), now)))]
    try:
        advice = advise_parts(workshop, visit.heater, now)
    except NotFound:
        return tuple(told)
    for key, actions in _SAID.items():
        named = [each for each in advice if each.advice is not None and each.advice.action in actions]
        if key == "report.next_spares":
            named = [each for each in named if not each.spares]
        if named:
            told.append(message(key, what=_named(named)))
    return tuple(told)


def _named(parts: Iterable[Fitted]) -> tuple[Message, ...]:
    names = list(dict.fromkeys(part_name(each.kind) for each in parts))
    return tuple(message("list.item", what=each) for each in names[:MOST_NAMED])

"""Fuel joints: dry, looked at while the burner burnt, had burnt that long, and nothing was moved since."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import product

from lightoff.ground.message import AsWritten, Message, message
from lightoff.judging.assessment import GateResult, Judgement
from lightoff.judging.believed import Believed, Judged
from lightoff.judging.compare import crosses
from lightoff.judging.evidence_gates import MOVED
from lightoff.judging.limit_gates import Rows, gate_state
from lightoff.judging.weighing import gate_result
from lightoff.terms.shelf import Limit
from lightoff.terms.visit import EventKind

GATE = "fuel joints"
RAN_BEFORE = {"fuel_joints_1_min": "ran_before_joints_1", "fuel_joints_10_min": "ran_before_joints_10"}
"""By reading, the row that says how long the burner must have run before it."""


def gate_joints(believed: Believed, rows: Rows) -> GateResult:
    """Every fuel joint dry, seen after 1 and after 10 minutes of running.

    A look at the wrong time is a doubted one: it proves nothing and takes no drip away, and a drip that it
    shows counts all the same.
    """
    seen = gate_state(GATE, tuple(RAN_BEFORE), believed, rows)
    if seen.judgement is Judgement.STOP:
        return seen  # before any row is asked for: a row that is not there hides no stop
    table = {key: rows.row(row) for key, row in RAN_BEFORE.items()}
    untimely = {
        one.reading.id: why
        for one in believed.judged
        if one.clean and (row := table.get(one.reading.key)) and (why := _untimely(one, row, believed))
    }
    doubted = tuple(
        replace(one, doubts=("untimely",)) if one.reading.id in untimely else one for one in believed.judged
    )
    timely = replace(believed, judged=doubted)
    seen = gate_state(GATE, tuple(RAN_BEFORE), timely, rows)
    if seen.judgement is Judgement.NOT_PROVEN:
        return _told(seen, timely, untimely, table)
    if seen.judgement is not Judgement.WITHIN:
        return seen
    first, second = (timely.clean(key) for key in RAN_BEFORE)
    if any(one.reading.taken_at == other.reading.taken_at for one, other in product(first, second)):
        said = message("judging.joints_one_look")
        return gate_result(
            GATE,
            Judgement.NOT_PROVEN,
            said,
            tuple(table.values()),
            (*first, *second),
            ("fuel_joints_10_min",),
        )
    return replace(seen, limits=(*seen.limits, *table.values()))


def _told(
    seen: GateResult, timely: Believed, untimely: dict[str, Message], table: dict[str, Limit]
) -> GateResult:
    """Not proven, with what is held against the time of the look that is missing."""
    for one in timely.in_test():
        if one.reading.id in untimely and one.reading.key in seen.missing[:1]:
            return replace(seen, said=untimely[one.reading.id], limits=(table[one.reading.key],))
    return seen


def _untimely(one: Judged, row: Limit, believed: Believed) -> Message | None:
    """Why this look proves nothing: something was moved since, no flame, or not for long enough."""
    at, visit = one.reading.taken_at, believed.case.visit
    assert at is not None  # a reading without a time is not clean
    assert row.value is not None
    what, limit = f"@reading.{one.reading.key}", AsWritten(value=row.value, unit=row.unit)
    mine = [each for each in visit.events if each.heater == visit.heater]
    moved = max((each.at for each in mine if each.kind in MOVED), default=at)
    if moved > at:
        return message("judging.joints_touched", what=what, at=moved, limit=limit)
    before = [each for each in mine if each.at <= at]
    flames = [each.at for each in before if each.kind is EventKind.FLAME]
    if not flames:
        return message("judging.joints_no_flame", what=what)
    if any(each.kind is EventKind.FLAME_OUT and each.at >= max(flames) for each in before):
        return message("judging.joints_burner_off", what=what, limit=limit)
    ran = at - max(each.at for each in before)
    if not crosses(row, Fraction(ran // timedelta(microseconds=1), 1_000_000)):
        return None
    minutes = Decimal(ran // timedelta(seconds=6)) / 10  # rounded down: never up to what it takes
    return message(
        "judging.joints_too_early", what=what, ran=AsWritten(value=minutes, unit="min"), limit=limit
    )

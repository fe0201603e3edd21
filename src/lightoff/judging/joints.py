"""Fuel joints: dry when they were looked at, and looked at only after the burner had run that long."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from fractions import Fraction

from lightoff.ground.message import Amount, AsWritten, Message, message
from lightoff.judging.assessment import GateResult, Judgement
from lightoff.judging.believed import Believed, Judged
from lightoff.judging.compare import crosses
from lightoff.judging.limit_gates import Rows, gate_state
from lightoff.judging.weighing import gate_result
from lightoff.terms.shelf import Limit
from lightoff.terms.visit import Event, EventKind

GATE = "fuel joints"
RAN_BEFORE = {"fuel_joints_1_min": "ran_before_joints_1", "fuel_joints_10_min": "ran_before_joints_10"}
"""By reading, the row that says how long the burner must have run before it."""
_FLAME = (EventKind.FLAME, EventKind.FLAME_OUT)


def gate_joints(believed: Believed, rows: Rows) -> GateResult:
    """Every fuel joint dry, seen after 1 and after 10 minutes of running."""
    seen = gate_state(GATE, tuple(RAN_BEFORE), believed, rows)
    if seen.judgement is not Judgement.WITHIN:
        return seen  # before any row is asked for: a row that is not there hides no stop
    table = {key: rows.row(row) for key, row in RAN_BEFORE.items()}
    looked = [(one, row) for key, row in table.items() for one in believed.clean(key)]
    for one, row in looked:
        why = _too_early(one, row, believed)
        if why is not None:
            used = tuple(each for each, _ in looked)
            return gate_result(GATE, Judgement.NOT_PROVEN, why, (row,), used, (one.reading.key,))
    return gate_result(
        GATE, seen.judgement, seen.said, (*seen.limits, *table.values()), [one for one, _ in looked]
    )


def _too_early(one: Judged, row: Limit, believed: Believed) -> Message | None:
    at, visit = one.reading.taken_at, believed.case.visit
    assert at is not None  # a reading without a time is not clean
    ran = _longest_run((each for each in visit.events if each.heater == visit.heater), at)
    what = f"@reading.{one.reading.key}"
    if ran is None:
        return message("judging.joints_no_flame", what=what)
    if not crosses(row, Fraction(ran // timedelta(microseconds=1), 1_000_000)):
        return None
    assert row.value is not None
    return message(
        "judging.joints_too_early",
        what=what,
        ran=Amount(value=ran.total_seconds(), dimension="time"),
        limit=AsWritten(value=row.value, unit=row.unit),
    )


def _longest_run(events: Iterable[Event], at: datetime) -> timedelta | None:
    """The longest burning without a break up to then since anything was moved; None without a flame."""
    longest: timedelta | None = None
    lit: datetime | None = None
    # In one instant a flame comes first, so that what ends its run is not lost.
    for each in sorted(
        (e for e in events if e.at <= at), key=lambda e: (e.at, e.kind is not EventKind.FLAME)
    ):
        if lit is not None and each.kind in _FLAME:
            longest = max(longest or timedelta(0), each.at - lit)
        if each.kind is EventKind.FLAME:
            lit = each.at
        elif each.kind is EventKind.FLAME_OUT:
            lit = None
        else:
            longest, lit = None, None if lit is None else each.at
    return longest if lit is None else max(longest or timedelta(0), at - lit)

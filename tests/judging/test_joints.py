"""The fuel joints: which look counts, and what is told of one that does not."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import NamedTuple

import pytest
from cases import AS_LEFT, Draft, at, good

from lightoff.judging.assessment import GateResult
from lightoff.judging.verdict import judge
from lightoff.terms.visit import EventKind
from lightoff.texts import Speaker

FIRST, SECOND = "fuel_joints_1_min", "fuel_joints_10_min"
ROWS = {FIRST: ("ran_before_joints_1",), SECOND: ("ran_before_joints_10",)}
Moment = tuple[EventKind, float]
FLAME, OUT, OPENED = EventKind.FLAME, EventKind.FLAME_OUT, EventKind.OPENED


def gate(draft: Draft) -> GateResult:
    result = judge(draft.case(), **draft.facts())
    return next(each for each in result.gates if each.gate == "fuel joints")


def looked(first: float = 61.5, second: float = 75, *moments: Moment, lit: float | None = 60.5) -> Draft:
    """Both looks dry, at these minutes; the flame at `lit`, and what else happened."""
    draft = good().edit(FIRST, taken_at=at(first)).edit(SECOND, taken_at=at(second))
    draft.events = []
    for kind, minute in (*(() if lit is None else ((FLAME, lit),)), *moments):
        draft.happen(kind, minute)
    return draft


def entered_late(draft: Draft, key: str) -> Draft:
    draft.closed_at = at(120)
    return draft.edit(key, entered_at=at(130))


def by_a_breath() -> Draft:
    return looked().edit(SECOND, taken_at=at(70.5) - timedelta(microseconds=1))


@pytest.mark.parametrize(
    "draft",
    [
        looked(61.5, 70.5),
        looked(61.5, 75, (OPENED, 50)),
        looked(61.5, 75, (OUT, 90)),  # switched off when both looks were done
        looked(61.5, 75, (OUT, 62), (FLAME, 64)),  # lit again, and long enough since
        looked(80, 75),  # each by its own minutes
    ],
)
def test_a_look_after_its_minutes_of_untouched_burning_counts(draft: Draft) -> None:
    found = gate(draft)
    assert str(found.judgement) == "within limits"
    assert [row.key for row in found.limits][-2:] == ["ran_before_joints_1", "ran_before_joints_10"]


class Told(NamedTuple):
    make: Callable[[], Draft]
    said: str
    key: str
    rows: bool = True


TOLD = {
    "no flame at all": Told(
        lambda: looked(lit=None), "1 minute was told, and no flame is noted before", FIRST
    ),
    "before the flame": Told(lambda: looked(lit=70), "1 minute was told, and no flame is noted", FIRST),
    "at the flame": Told(lambda: looked(60.5), "told after 0 min of running; it takes at least 1 min", FIRST),
    "too early": Told(
        lambda: looked(61.5, 65),
        "Fuel joints after 10 minutes was told after 4.5 min of running; it takes at least 10 min",
        SECOND,
    ),
    "too early by a breath": Told(
        by_a_breath, "told after 9.9 min of running; it takes at least 10 min", SECOND
    ),
    "switched off before": Told(
        lambda: looked(61.5, 90, (OUT, 62)),
        "Fuel joints after 10 minutes was told while the burner was off. Light it, let it run 10 min,",
        SECOND,
    ),
    "switched off at it": Told(lambda: looked(61.5, 75, (OUT, 75)), "while the burner was off", SECOND),
    "out in the instant it was lit": Told(lambda: looked(61.5, 75, (OUT, 60.5)), "burner was off", FIRST),
    "lit twice, out at the second": Told(
        lambda: looked(61.5, 90, (FLAME, 70), (OUT, 70)), "burner was off", SECOND
    ),
    "opened since": Told(
        lambda: looked(61.5, 75, (OPENED, 77)),
        "Something was moved or opened at 09:17, after Fuel joints after 1 minute was told. "
        "Look again with a light after 1 min of running",
        FIRST,
    ),
    "opened at it": Told(lambda: looked(61.5, 90, (OPENED, 61.5)), "told after 0 min of running", FIRST),
    "late, and too early": Told(
        lambda: entered_late(looked(61.5, 65), SECOND), "entered after the visit", SECOND, rows=False
    ),
    "the first not read, the second too early": Told(
        lambda: looked(61.5, 65).drop(FIRST), "Not read yet: Fuel joints after 1 minute", FIRST, rows=False
    ),
}


@pytest.mark.parametrize("name", TOLD)
def test_what_is_held_against_a_look_is_told(name: str) -> None:
    told = TOLD[name]
    found = gate(told.make())
    assert str(found.judgement) == "not proven"
    assert told.said in Speaker().say(found.said).replace("\u00a0", " ")
    assert found.missing[0] == told.key
    assert not told.rows or tuple(row.key for row in found.limits) == ROWS[told.key]


def test_one_look_is_not_two() -> None:
    once = looked(75, 75)
    found = gate(once)
    assert (str(found.judgement), found.missing) == ("not proven", (SECOND,))
    assert "one look is not two" in Speaker().say(found.said)
    assert len(found.readings) == 2
    twin = next(each for each in once.readings if each.key == FIRST and each.stage is AS_LEFT)
    once.readings.append(replace(twin, id="twin", taken_at=at(61.5)))
    assert str(gate(once).judgement) == "not proven", "nor where one of them was told a second time"

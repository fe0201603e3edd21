"""Which procedure a visit follows by itself, and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from lightoff.judging.steps_told import PROCEDURE
from lightoff.shelf import open_shelf
from lightoff.terms.case import Case
from lightoff.terms.part import Outcome, StepDone
from lightoff.terms.people import Heater, Owner, Planning, Shop, Vehicle, VehicleKind
from lightoff.terms.visit import Reading, Stage, Visit
from lightoff.work.order_of_visit import procedure_for

KNOWN = open_shelf().procedures
NOVEMBER, JANUARY, APRIL = (datetime(2026, month, 20, 9, tzinfo=UTC) for month in (11, 1, 4))


def case(at: datetime, *history: Visit, says: str = "", fitted_on: date | None = None) -> Case:
    told = Reading(id="r", heater="h", key="owner_says", stage=Stage.AS_FOUND, taken_at=at, state=says)
    visit = Visit(id="v", heater="h", started_at=at, readings=(told,) if says else ())
    return Case(
        visit=visit,
        heater=Heater(id="h", vehicle="b", name="aft", sheet="generic_9_kw", fitted_on=fitted_on),
        vehicle=Vehicle(id="b", owner="o", name="Saltgrass", kind=VehicleKind.BOAT),
        owner=Owner(id="o", name="Mira Oduya"),
        instruments={},
        history=history,
        shop=Shop(),
    )


def before(at: datetime, days: int, *, complete: bool = True, procedure: str = "") -> Visit:
    day = at - timedelta(days=days)
    step = StepDone(id="s", heater="h", step=PROCEDURE, outcome=Outcome.DONE, at=day, state=procedure)
    steps = (step,) if procedure else ()
    return Visit(id=f"v{days}", heater="h", started_at=day, service_complete=complete, steps=steps)


@pytest.mark.parametrize(
    ("given", "procedure", "why"),
    [
        (case(NOVEMBER), "annual_service", "first"),
        (case(NOVEMBER, fitted_on=date(2026, 11, 2)), "commissioning", "new"),
        (case(NOVEMBER, fitted_on=date(2019, 11, 2)), "annual_service", "first"),
        (case(NOVEMBER, says="does nothing"), "no_heat_call", "complaint"),
        (case(NOVEMBER, before(NOVEMBER, 360)), "annual_service", "last"),
        (case(NOVEMBER, before(NOVEMBER, 200)), "pre_season_check", "young"),
        (case(APRIL, before(APRIL, 150)), "winter_decommissioning", "storing"),
        (case(JANUARY, before(JANUARY, 60)), "pre_season_check", "young"),
        (case(NOVEMBER, before(NOVEMBER, 30, complete=False)), "annual_service", "never"),
        (
            case(NOVEMBER, before(NOVEMBER, 210, procedure="winter_decommissioning")),
            "after_storage_start",
            "stored",
        ),
    ],
)
def test_it_follows_words_history_and_season(given: Case, procedure: str, why: str) -> None:
    key, said = procedure_for(given, KNOWN, planning=Planning())
    assert (key, said.key) == (procedure, f"procedure_why.{why}")


def test_what_somebody_chose_stands_above_all_that() -> None:
    given = case(NOVEMBER, says="does nothing")
    chosen = StepDone(
        id="s", heater="h", step=PROCEDURE, outcome=Outcome.DONE, at=NOVEMBER, state="commissioning"
    )
    given = replace(given, visit=replace(given.visit, steps=(chosen,)))
    assert procedure_for(given, KNOWN, planning=Planning())[0] == "commissioning"


@pytest.mark.parametrize(
    ("spring_month", "storing"),
    [(5, {3, 4, 5}), (11, {9, 10, 11}), (1, {11, 12, 1})],  # the north, which is the default; the south
)
def test_the_months_of_laying_up_are_those_before_the_shops_own_spring(
    spring_month: int, storing: set[int]
) -> None:
    assert Planning().spring_month == 5
    found = set()
    for month in range(1, 13):
        day = datetime(2026, month, 20, 9, tzinfo=UTC)
        planning = Planning(spring_month=spring_month)
        key, _ = procedure_for(case(day, before(day, 60)), KNOWN, planning=planning)
        assert key in ("winter_decommissioning", "pre_season_check")
        if key == "winter_decommissioning":
            found.add(month)
    assert found == storing

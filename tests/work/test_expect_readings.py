"""What a unit taught about itself, and the bands that follow for a place and a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from lightoff.judging.assessment import Verdict
from lightoff.plant.baseline import MOST
from lightoff.plant.parameters import PARAMETERS
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.part import Outcome, StepDone
from lightoff.terms.visit import Event, EventKind, Place, Reading, Stage, Visit
from lightoff.work.assess_case import assess_case
from lightoff.work.expect_readings import expect_readings
from lightoff.work.read_numbers import conditions_of, numbers_read
from lightoff.work.unit_baseline import unit_baseline
from lightoff.work.visit_file import read_visit_file


@pytest.fixture
def fit(with_probe: str, shelf: Shelf) -> Case:
    return read_visit_file(with_probe.encode(), "with-probe.toml", shelf)


def before(visit: Visit, *, days: int) -> Visit:
    """The same visit, so many days earlier."""
    span = timedelta(days=days)

    def earlier(at: datetime | None) -> datetime | None:
        return None if at is None else at - span

    return replace(
        visit,
        id=f"{visit.id}-{days}",
        started_at=visit.started_at - span,
        closed_at=(visit.closed_at or visit.started_at + timedelta(hours=4)) - span,
        readings=tuple(replace(each, taken_at=earlier(each.taken_at)) for each in visit.readings),
        events=tuple(replace(each, at=each.at - span) for each in visit.events),
    )


def with_past(case: Case, *days: int) -> Case:
    """The case with earlier visits like it, as long ago as said, oldest first."""
    return replace(case, history=tuple(before(case.visit, days=each) for each in sorted(days, reverse=True)))


def width(case: Case, shelf: Shelf, key: str) -> float:
    band = expect_readings(case, shelf, stage=Stage.AS_LEFT)[key]
    return band.high - band.low


def test_good_visits_narrow_the_band_around_what_this_unit_reads(fit: Case, shelf: Shelf) -> None:
    taught = with_past(fit, 60, 30)
    assert unit_baseline(fit, shelf).visits == 0
    assert unit_baseline(taught, shelf).visits == 2
    for key in ("flue_o2", "stack_gas_temperature"):
        assert width(taught, shelf, key) < 0.95 * width(fit, shelf, key)
    read = numbers_read(fit, shelf.catalogue, stage=Stage.AS_LEFT)["flue_o2"].value
    unknown = expect_readings(fit, shelf, stage=Stage.AS_LEFT)["flue_o2"].middle
    known = expect_readings(taught, shelf, stage=Stage.AS_LEFT)["flue_o2"].middle
    assert abs(known - read) < abs(unknown - read)


@pytest.mark.parametrize("by", ["step", "repair"])
def test_what_was_learned_of_a_renewed_part_is_forgotten(fit: Case, shelf: Shelf, by: str) -> None:
    """By the visit that renewed it, whatever that visit ended in; the rest stays."""
    taught = with_past(fit, 60)
    later = replace(before(fit.visit, days=30), readings=(), steps=(), closed_at=None)
    at = later.started_at
    step = StepDone(id="s", heater=later.heater, step="renew_nozzle", outcome=Outcome.DONE, at=at)
    mended = Reading(
        id="r",
        heater=later.heater,
        key="repair_nozzle_worn",
        stage=Stage.AS_FOUND,
        taken_at=at,
        state="runs well",
    )
    told = {"steps": (step,)} if by == "step" else {"readings": (mended,)}
    plain = unit_baseline(replace(taught, history=(*taught.history, later)), shelf)
    fresh = unit_baseline(replace(taught, history=(*taught.history, replace(later, **told))), shelf)
    of_nozzle = np.array([each.part == "nozzle" for each in PARAMETERS.values()])
    assert np.any(plain.mean[of_nozzle])
    assert not np.any(fresh.mean[of_nozzle])
    assert fresh.covariance[of_nozzle][:, of_nozzle] == pytest.approx(np.eye(of_nozzle.sum()))
    assert np.array_equal(fresh.mean[~of_nozzle], plain.mean[~of_nozzle])
    # On the visit itself what was found tells of the old piece, and what is left of the new one.
    today = replace(taught, visit=replace(taught.visit, **{**told, "readings": told.get("readings", ())}))
    assert np.any(unit_baseline(today, shelf).mean[of_nozzle])
    assert not np.any(unit_baseline(today, shelf, stage=Stage.AS_LEFT).mean[of_nozzle])


def test_a_step_that_was_not_done_renews_nothing(fit: Case, shelf: Shelf) -> None:
    taught = with_past(fit, 60)
    at = taught.visit.started_at
    for key, outcome in (("renew_nozzle", Outcome.NOT_NEEDED), ("spare_igniter", Outcome.DONE)):
        step = StepDone(id="s", heater=taught.heater.id, step=key, outcome=outcome, at=at)
        other = replace(taught, visit=replace(taught.visit, steps=(step,)))
        left = unit_baseline(other, shelf, stage=Stage.AS_LEFT)
        bare = replace(taught, visit=replace(taught.visit, steps=()))
        assert np.array_equal(left.mean, unit_baseline(bare, shelf, stage=Stage.AS_LEFT).mean)


def test_a_visit_that_was_not_fit_teaches_nothing(fit: Case, shelf: Shelf) -> None:
    taught = with_past(fit, 30)
    spoiled = [
        replace(each, value=Decimal(900)) if each.key == "flue_co" and each.stage is Stage.AS_LEFT else each
        for each in taught.history[0].readings
    ]
    bad = replace(taught, history=(replace(taught.history[0], readings=tuple(spoiled)),))
    assert unit_baseline(bad, shelf).visits == 0
    still_open = replace(taught, history=(replace(taught.history[0], closed_at=None),))
    assert unit_baseline(still_open, shelf).visits == 0


def test_a_unit_cannot_teach_that_its_drift_is_normal(fit: Case, shelf: Shelf) -> None:
    learned = unit_baseline(with_past(fit, *range(30, 180, 30)), shelf)
    assert learned.visits == 5
    assert float(np.abs(learned.mean).max()) <= MOST


def test_the_order_in_which_cases_are_asked_for_changes_nothing(fit: Case, shelf: Shelf) -> None:
    first = with_past(fit, 60, 30)
    mean = unit_baseline(first, shelf).mean.copy()
    unit_baseline(with_past(fit, 30), shelf)
    unit_baseline(with_past(fit, 90, 60, 30), shelf)
    assert np.array_equal(unit_baseline(first, shelf).mean, mean)


def test_as_left_after_adjusting_the_air_is_set_for_this_place(fit: Case, shelf: Shelf) -> None:
    place = Place(altitude_m=2500.0, air_temperature_k=280.0)
    plain = replace(fit, visit=replace(fit.visit, place=place, events=()))
    moved = Event(id="moved", heater=fit.heater.id, kind=EventKind.ADJUSTED, at=fit.visit.started_at)
    adjusted = replace(plain, visit=replace(plain.visit, events=(moved,)))
    assert conditions_of(plain, shelf, stage=Stage.AS_LEFT).set_altitude_m == 0.0
    assert conditions_of(adjusted, shelf, stage=Stage.AS_LEFT).set_altitude_m == 2500.0
    assert conditions_of(adjusted, shelf, stage=Stage.AS_FOUND).set_altitude_m == 0.0
    # Set for the sea and not set again, it runs rich up here.
    rich = expect_readings(plain, shelf, stage=Stage.AS_LEFT)["flue_o2"].middle
    right = expect_readings(adjusted, shelf, stage=Stage.AS_LEFT)["flue_o2"].middle
    assert rich < right - 0.01


def test_a_reading_far_from_its_band_is_not_proven(fit: Case, shelf: Shelf, now: datetime) -> None:
    """A stack far too cool for this heater: believed by no gate of its own, and yet not proven."""
    assert assess_case(fit, shelf, now).verdict.verdict is Verdict.FIT

    def cooler(reading: Reading) -> Reading:
        if reading.key != "stack_gas_temperature" or reading.stage is not Stage.AS_LEFT:
            return reading
        return replace(reading, value=Decimal(95))

    visit = replace(fit.visit, readings=tuple(cooler(each) for each in fit.visit.readings))
    found = assess_case(replace(fit, visit=visit), shelf, now)
    assert found.verdict.verdict is Verdict.NOT_PROVEN
    assert [each.gate for each in found.verdict.gates if each.gate.startswith("expected")] == [
        "expected stack_gas_temperature"
    ]

"""A visit's readings as evidence, and the finding that follows: the same for every order and every face."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from lightoff.faultfinding import Finding, Outcome
from lightoff.faultfinding.telling import conclusion, speaks_against, speaks_for
from lightoff.plant.number import Side
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.conflict import Candidate, Conflict
from lightoff.terms.visit import Reading, Stage
from lightoff.texts import Speaker
from lightoff.work.find_fault import evidence_of, fault_looked_for, find_in_case
from lightoff.work.read_numbers import STOOD_S, conditions_of, latest_readings, numbers_read
from lightoff.work.visit_file import read_visit_file

EXAMPLE = Path(__file__).parents[2] / "examples" / "no-heat-call.toml"
AT = datetime(2025, 3, 12, 15, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def case(shelf: Shelf) -> Case:
    return read_visit_file(EXAMPLE.read_bytes(), EXAMPLE.name, shelf)


def reading(case: Case, key: str, count: int = 1, **more: Any) -> Reading:
    words: dict[str, Any] = {
        "id": f"z-added-{count:03}",
        "heater": case.heater.id,
        "key": key,
        "stage": Stage.AS_FOUND,
        "taken_at": AT + timedelta(minutes=count),
    }
    return Reading(**(words | more))


def added(case: Case, *readings: Reading) -> Case:
    return replace(case, visit=replace(case.visit, readings=(*case.visit.readings, *readings)))


def without(case: Case, *keys: str) -> Case:
    left = tuple(each for each in case.visit.readings if each.key not in keys)
    return replace(case, visit=replace(case.visit, readings=left))


def test_readings_become_evidence(case: Case, shelf: Shelf) -> None:
    evidence = evidence_of(case, shelf.catalogue)
    assert evidence.states["owner_says"]["lights then dies"] == 1.0
    assert evidence.numbers["run_time_before_stop"].value == 120.0
    assert evidence.known == {
        "owner_says", "last_work", "last_good_run", "light_off", "stop_step", "run_time_before_stop",
    }  # fmt: skip


def test_the_latest_reading_counts_and_other_heaters_do_not(case: Case, shelf: Shelf) -> None:
    more = added(
        case,
        reading(case, "owner_says", 1, state="is noisy"),
        reading(case, "last_work", 2, state="nozzle", heater="another"),
        reading(case, "stop_step", 3, state="trial", stage=Stage.AS_LEFT),
    )
    evidence = evidence_of(more, shelf.catalogue)
    assert evidence.states["owner_says"]["is noisy"] == 1.0
    assert evidence.states["last_work"]["fuel filter"] == 1.0
    assert evidence.states["stop_step"]["running"] == 1.0


def test_a_meter_at_its_top_says_that_the_truth_lies_beyond(case: Case, shelf: Shelf) -> None:
    probe = replace(next(iter(case.instruments.values())), id="probe", kind="flue_gas_probe", name="probe")
    owned = replace(case, instruments={**case.instruments, "probe": probe})
    top = added(owned, reading(case, "flue_co", at_top=True, instrument="probe", unit="ppm"))
    number = numbers_read(top, shelf.catalogue, stage=Stage.AS_FOUND)["flue_co"]
    assert number.side is Side.ABOVE
    assert number.value > 1e-3


def test_an_instruments_class_is_its_doubt(case: Case, shelf: Shelf) -> None:
    meter = next(each for each in case.instruments.values() if each.kind == "multimeter")
    volts = reading(case, "supply_voltage_rest", value=Decimal("12.5"), unit="V", instrument=meter.id)
    number = numbers_read(added(case, volts), shelf.catalogue, stage=Stage.AS_FOUND)["supply_voltage_rest"]
    accuracy = shelf.catalogue.classes["multimeter"].accuracies["supply_voltage_rest"]
    widest = max(float(accuracy.absolute), float(accuracy.relative) * 12.5)
    assert number.spread == pytest.approx(0.5 * widest), "half of the expanded uncertainty"


@pytest.mark.parametrize("basis", ["wet", "calculated"])
def test_what_is_not_what_the_model_predicts_is_left_out(case: Case, shelf: Shelf, basis: str) -> None:
    key = "flue_o2" if basis == "wet" else "flue_co2"
    odd = added(case, reading(case, key, value=Decimal(6), unit="%", basis=basis))
    assert key not in latest_readings(odd, stage=Stage.AS_FOUND)


def test_trials_repairs_and_what_could_not_be_done(case: Case, shelf: Shelf) -> None:
    more = added(
        case,
        reading(case, "good_fuel_can", 1, state="no change"),
        reading(case, "repair_suction_air_leak", 2, state="no change"),
        reading(case, "good_battery", 3, state="could not do"),
        reading(case, "fuel_vacuum", 4, note="could not do"),
    )
    evidence = evidence_of(more, shelf.catalogue)
    assert evidence.trials["good_fuel_can"] is Outcome.NO_CHANGE
    assert evidence.trials["good_battery"] is Outcome.NOT_DONE
    assert evidence.repairs["suction_air_leak"] is Outcome.NO_CHANGE
    assert evidence.not_possible == {"fuel_vacuum"}
    found = find_in_case(more, shelf)
    asked = {step.key for step in found.finding.steps}
    assert not asked & {"fuel_vacuum", "good_battery", "good_fuel_can"}


def test_bottle_and_watch_give_the_fuel_rate(case: Case, shelf: Shelf) -> None:
    more = added(
        case,
        reading(case, "fuel_volume", 1, value=Decimal(100), unit="mL"),
        reading(case, "fuel_time", 2, value=Decimal(6), unit="min"),
    )
    number = numbers_read(more, shelf.catalogue, stage=Stage.AS_FOUND)["fuel_flow"]
    assert number.value == pytest.approx(845.0 * 1e-4 / 360.0)


def test_order_of_entry_undo_and_recompute_give_the_same_figures(case: Case, shelf: Shelf) -> None:
    extra = reading(case, "smoke_colour", 1, state="none")
    plain = find_in_case(case, shelf)
    turned = replace(case, visit=replace(case.visit, readings=tuple(reversed(case.visit.readings))))
    assert find_in_case(turned, shelf).finding.suspects == plain.finding.suspects
    assert find_in_case(added(case, extra), shelf).finding.suspects != plain.finding.suspects
    again = find_in_case(case, shelf)
    assert again.finding.suspects == plain.finding.suspects
    assert again.finding.steps == plain.finding.steps


def test_two_answers_of_one_moment_count_for_nothing_and_are_told(case: Case, shelf: Shelf) -> None:
    """No clock settles which of them stands; in either order a number's figures are those without both."""
    short, long = (
        reading(case, "run_time_before_stop", value=Decimal(each), unit="s", id=f"z-{each}")
        for each in (120, 1500)
    )
    bare = without(case, "run_time_before_stop")
    plain = find_in_case(bare, shelf).finding
    both = [find_in_case(added(bare, *each), shelf) for each in ((short, long), (long, short))]
    turned = find_in_case(added(bare, replace(short, id="z-9"), replace(long, id="z-1")), shelf)
    for found in (*both, turned):
        assert found.finding.suspects == plain.suspects
        said = " ".join(Speaker().say(each) for each in conclusion(found.finding))
        assert "Burned before it stopped is written down in two ways" in said
    same = find_in_case(added(bare, short, replace(short, id="z-same")), shelf).finding
    assert same.suspects == find_in_case(added(bare, short), shelf).finding.suspects
    assert not same.told_twice


@pytest.mark.parametrize("turned", [False, True])
def test_of_two_answers_about_a_danger_the_worse_bars_the_start(
    case: Case, shelf: Shelf, turned: bool
) -> None:
    for key, mild, bad in (
        ("chamber_look", {"state": "dry"}, {"state": "wet"}),
        ("trials_without_flame", {"value": Decimal(0)}, {"value": Decimal(3)}),
    ):
        both = [reading(case, key, 5, id=f"z-{at}", **each) for at, each in enumerate((mild, bad))]
        assert find_in_case(added(case, *both[:: -1 if turned else 1]), shelf).finding.chamber_first, key


def test_what_two_people_entered_otherwise_is_one_of_the_two(case: Case, shelf: Shelf) -> None:
    mine = next(each for each in case.visit.readings if each.key == "last_work")
    yours = replace(mine, id="z-yours", state="nozzle")
    said = [Candidate(entry=each.id, author="", at=AT, says=each) for each in (mine, yours)]
    torn = replace(case, conflicts=(Conflict(noun="reading", subject=case.visit.id, candidates=tuple(said)),))
    found = find_in_case(torn, shelf)
    assert found.finding.told_twice == ("last_work",)
    assert found.next_step.key == "last_work", "it is asked for, as if nobody had said it"
    twice = replace(said[1], says=replace(mine, id="z-yours"))
    agreed = replace(torn, conflicts=(replace(torn.conflicts[0], candidates=(said[0], twice)),))
    assert not find_in_case(agreed, shelf).finding.told_twice, "tapped twice on a slow line"
    weights = found.evidence.states["last_work"]
    assert {state for state, weight in weights.items() if weight} == {"fuel filter", "nozzle"}


def test_the_call_leads_to_the_fuel_side_at_once(case: Case, shelf: Shelf) -> None:
    """Lights, burns two minutes, dies; the filter was changed last week."""
    first = [each.fault for each in find_in_case(case, shelf).finding.suspects[:3]]
    assert "fuel_filter_not_primed" in first
    assert "suction_air_leak" in first


def test_what_is_asked_first_comes_before_the_ranking(case: Case, shelf: Shelf) -> None:
    assert find_in_case(without(case, "owner_says", "last_work"), shelf).next_step.key == "owner_says"
    assert find_in_case(without(case, "last_work"), shelf).next_step.key == "last_work"
    assert find_in_case(without(case, "last_good_run"), shelf).next_step.key == "last_good_run"
    said = reading(case, "owner_says", state="tries without flame")
    assert (
        find_in_case(added(without(case, "owner_says"), said), shelf).next_step.key == "trials_without_flame"
    )


def test_answers_come_in_the_order_in_which_they_were_given(case: Case, shelf: Shelf) -> None:
    found = find_in_case(added(case, reading(case, "smoke_colour", 7, state="none")), shelf)
    ids = [each.id for each in found.answers]
    assert ids == sorted(ids)
    assert found.answers[-1].key == "smoke_colour"
    assert "smoke_colour" in found.read


def test_a_visit_on_which_nobody_looked_for_a_fault_has_no_finding(case: Case, shelf: Shelf) -> None:
    assert fault_looked_for(case, shelf) is not None
    plain = without(case, "owner_says", "last_work", "last_good_run", "run_time_before_stop")
    assert fault_looked_for(plain, shelf) is None


def test_the_last_good_run_is_how_long_it_stood(case: Case, shelf: Shelf) -> None:
    """One table says how long; what nobody knows stays unknown."""
    entry = shelf.catalogue.entries["last_good_run"]
    assert set(STOOD_S) <= set(entry.states)
    stood = []
    for state in entry.states:
        said = added(without(case, "last_good_run"), reading(case, "last_good_run", state=state))
        stood.append(conditions_of(said, shelf).since_fired_s)
        assert stood[-1] == STOOD_S.get(state)
        assert conditions_of(said, shelf, stage=Stage.AS_LEFT).since_fired_s is None
    known = [each for each in stood if each is not None]
    assert known == sorted(known)
    assert set(entry.states) - set(STOOD_S) == {"not since the service"}
    tried = reading(case, "start_once_more", 5, state="no change")
    long_ago = reading(case, "last_good_run", state="longer ago")
    assert conditions_of(added(case, long_ago, tried), shelf).since_fired_s is None, "it was run since"


def test_not_since_the_service_speaks_for_what_was_touched(case: Case, shelf: Shelf) -> None:
    """One prior: something was touched; what is said stands, and where it is denied nothing is told."""
    bare = without(case, "last_work", "last_good_run")
    service = reading(case, "last_good_run", state="not since the service")
    some = evidence_of(added(bare, service), shelf.catalogue).states["last_work"]
    assert {state: weight for state, weight in some.items() if weight != 1.0} == {"nothing": 0.0}
    plain, raised = (find_in_case(each, shelf).finding for each in (bare, added(bare, service)))

    def of(found: Finding, key: str) -> float:
        return found.posterior.of(key)

    assert of(raised, "fuel_filter_not_primed") > 1.2 * of(plain, "fuel_filter_not_primed")
    said = evidence_of(added(case, service), shelf.catalogue).states["last_work"]
    assert said == evidence_of(case, shelf.catalogue).states["last_work"]
    denied = added(bare, reading(case, "last_work", 2, state="nothing"), service)
    found = find_in_case(denied, shelf).finding
    assert of(found, "fuel_filter_not_primed") == pytest.approx(of(plain, "fuel_filter_not_primed"))


def test_what_is_not_said_is_not_told_as_said(case: Case, shelf: Shelf) -> None:
    bare = without(case, "last_work", "last_good_run")
    found = find_in_case(added(bare, reading(case, "last_good_run", state="not since the service")), shelf)
    speaker = Speaker()
    told = [
        speaker.say(each)
        for suspect in found.finding.suspects
        for each in (*speaks_for(suspect, found.evidence), *speaks_against(suspect, found.evidence))
    ]
    assert not [each for each in told if "touched" in each and "nozzle" in each], told

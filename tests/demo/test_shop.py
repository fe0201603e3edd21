"""The invented shop: large enough, the same for the same seed, marked, and judged like any other."""

from collections import Counter
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lightoff.demo import DemoShop, invent_shop
from lightoff.judging.verdict import judge
from lightoff.shelf import open_shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import EventKind, Stage, Visit

NOW = datetime(2026, 11, 25, 11, 0, tzinfo=UTC)
SHELF = open_shelf()


def invented(seed: int = 20261125, *, now: datetime = NOW) -> DemoShop:
    return invent_shop(
        np.random.default_rng(seed),
        fuels=SHELF.fuels,
        sheets=SHELF.sheets,
        faults=SHELF.faults,
        catalogue=SHELF.catalogue,
        now=now,
    )


@pytest.fixture(scope="module")
def shop() -> DemoShop:
    return invented()


def test_size(shop: DemoShop) -> None:
    assert len({case.heater.id for case in shop.cases}) >= 60
    assert 270 <= len(shop.cases) <= 340
    seasons = {case.visit.started_at.year for case in shop.cases}
    assert len(seasons) >= 3


def test_the_same_seed_invents_the_same_shop(shop: DemoShop) -> None:
    assert invented() == shop
    assert invented(7) != shop


def test_everything_is_marked_as_invented(shop: DemoShop) -> None:
    assert all(case.shop.invented for case in shop.cases)


def test_nothing_lies_in_the_future(shop: DemoShop) -> None:
    for case in shop.cases:
        times = [each.taken_at for each in case.visit.readings] + [each.at for each in case.visit.events]
        assert all(at is not None and at < NOW for at in times)


def test_one_visit_is_under_way_and_a_few_calls_wait_with_nothing_as_left(shop: DemoShop) -> None:
    open_ones = [case for case in shop.cases if case.visit.closed_at is None]
    assert {case.visit.id for case in open_ones} == {shop.open_visit, *shop.calls}
    assert len(shop.calls) == 3
    for case in open_ones:
        assert {each.stage for each in case.visit.readings} == {Stage.AS_FOUND}
        last = max(each.visit.started_at for each in shop.cases if each.heater.id == case.heater.id)
        assert case.visit.started_at == last


def test_a_call_that_waits_gives_no_heat_and_says_what_was_read(shop: DemoShop) -> None:
    for case in (case for case in shop.cases if case.visit.id in shop.calls):
        assert case.visit.reason == "call"
        assert case.visit.complaint
        found = {each.key: each.state for each in case.visit.readings if each.state}
        assert {"owner_says", "light_off", "stop_step", "smoke_colour"} <= found.keys()
        assert case.visit.work_done == ()
    stopped = {
        each.state
        for case in shop.cases
        if case.visit.id in shop.calls
        for each in case.visit.readings
        if each.key == "stop_step"
    }
    assert stopped & {"running", "trial", "at rest", "igniter heating"}


def test_every_reading_is_of_the_catalogue_and_plausible_in_kind(shop: DemoShop) -> None:
    for case in shop.cases:
        for reading in case.visit.readings:
            entry = SHELF.catalogue.entries[reading.key]
            known = (reading.value is not None) != reading.at_top
            assert (reading.state in entry.states) if entry.states else known
            assert reading.instrument is None or reading.instrument in case.instruments


def verdict(case: Case) -> str:
    found = judge(
        case,
        limits=SHELF.limits,
        catalogue=SHELF.catalogue,
        sheet=SHELF.sheets[case.heater.sheet],
        co2_largest_fraction=SHELF.fuels[case.visit.fuel].stoichiometry.largest_dry_co2_fraction,
        now=NOW,
    )
    return str(found.verdict)


@pytest.mark.parametrize("hours", [0, 7, 31, 2_000])
def test_whenever_it_is_invented_one_heater_was_left_switched_off(hours: int, shop: DemoShop) -> None:
    now = NOW - timedelta(hours=hours)
    cases = shop.cases if not hours else invented(now=now).cases
    last = {case.heater.id: case for case in cases if case.visit.closed_at is not None}
    stopped = [case for case in last.values() if verdict(case) == "stop"]
    assert any(now - case.visit.started_at < timedelta(days=8) for case in stopped)


def test_verdicts_of_all_kinds_and_most_full_visits_fit(shop: DemoShop) -> None:
    verdicts = Counter(verdict(case) for case in shop.cases)
    assert set(verdicts) == {"stop", "not fit", "not proven", "fit as tested"}
    assert verdicts["fit as tested"] > 0.35 * len(shop.cases)
    assert verdicts["stop"] < 0.1 * len(shop.cases)


def read(visit: Visit, key: str, stage: Stage) -> list[float]:
    return [
        float(each.value)
        for each in visit.readings
        if each.key == key and each.stage is stage and each.value is not None
    ]


def test_oxygen_and_carbon_dioxide_belong_together_in_every_visit(shop: DemoShop) -> None:
    """They come from one flame: read apart by meters of their class, nothing more."""
    seen = 0
    for case in shop.cases:
        fuel = SHELF.fuels[case.visit.fuel]
        for o2, co2 in zip(
            read(case.visit, "flue_o2", Stage.AS_LEFT),
            read(case.visit, "flue_co2", Stage.AS_LEFT),
            strict=True,
        ):
            largest = 100.0 * fuel.stoichiometry.largest_dry_co2_fraction
            assert co2 == pytest.approx(largest * (1.0 - o2 / 20.95), abs=0.9)
            seen += 1
    assert seen > 200


def test_what_was_mended_burns_better_than_it_was_found(shop: DemoShop) -> None:
    """Over all mended visits with a probe: oxygen nearer the sheet's middle, and fewer that burn dirty."""
    off: dict[Stage, list[float]] = {Stage.AS_FOUND: [], Stage.AS_LEFT: []}
    dirty = {Stage.AS_FOUND: 0, Stage.AS_LEFT: 0}
    for case in shop.cases:
        sheet = SHELF.sheets[case.heater.sheet]
        middle = 50.0 * (sheet.o2_dry_low_fraction + sheet.o2_dry_high_fraction)
        if not case.visit.service_complete or not read(case.visit, "flue_o2", Stage.AS_FOUND):
            continue
        for stage in off:
            off[stage].append(abs(read(case.visit, "flue_o2", stage)[0] - middle))
            co = read(case.visit, "flue_co", stage)
            dirty[stage] += not co or co[0] > 100.0
    assert len(off[Stage.AS_LEFT]) > 60
    assert np.mean(off[Stage.AS_LEFT]) < 0.4 * np.mean(off[Stage.AS_FOUND])
    assert dirty[Stage.AS_LEFT] < 0.4 * dirty[Stage.AS_FOUND]


def test_air_that_burns_otherwise_as_left_was_noted_as_set(shop: DemoShop) -> None:
    """Else what is expected here would be that of the last setting, and doubt a good burn."""
    set_anew = 0
    for visit in (case.visit for case in shop.cases):
        found, left = (read(visit, "flue_o2", stage) for stage in (Stage.AS_FOUND, Stage.AS_LEFT))
        if found and left and abs(found[0] - left[0]) > 1.5 and visit.closed_at is not None:
            kinds = [each.kind for each in visit.events]
            set_anew += EventKind.ADJUSTED in kinds
            assert kinds.count(EventKind.ADJUSTED) <= 1
    assert set_anew > 20


def test_troubles_are_of_many_kinds(shop: DemoShop) -> None:
    assert len({case.visit.complaint for case in shop.cases}) >= 7
    assert len({done for case in shop.cases for done in case.visit.work_done}) >= 15

"""The invented shop: large enough, the same for the same seed, marked, and judged like any other."""

from collections import Counter
from datetime import UTC, datetime

import numpy as np
import pytest

from lightoff.demo import DemoShop, invent_shop
from lightoff.judging.verdict import judge
from lightoff.shelf import open_shelf
from lightoff.terms.visit import Stage

NOW = datetime(2026, 11, 25, 11, 0, tzinfo=UTC)
SHELF = open_shelf()


def invented(seed: int = 20261125) -> DemoShop:
    return invent_shop(np.random.default_rng(seed), fuels=SHELF.fuels, sheets=SHELF.sheets, now=NOW)


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


def test_one_visit_is_under_way_with_nothing_as_left(shop: DemoShop) -> None:
    under_way = [case for case in shop.cases if case.visit.closed_at is None]
    assert [case.visit.id for case in under_way] == [shop.open_visit]
    assert {each.stage for each in under_way[0].visit.readings} == {Stage.AS_FOUND}


def test_every_reading_is_of_the_catalogue_and_plausible_in_kind(shop: DemoShop) -> None:
    for case in shop.cases:
        for reading in case.visit.readings:
            entry = SHELF.catalogue.entries[reading.key]
            assert (reading.state in entry.states) if entry.states else reading.value is not None
            assert reading.instrument is None or reading.instrument in case.instruments


def test_verdicts_of_all_kinds_and_most_full_visits_fit(shop: DemoShop) -> None:
    verdicts: Counter[str] = Counter()
    for case in shop.cases:
        found = judge(
            case,
            limits=SHELF.limits,
            catalogue=SHELF.catalogue,
            sheet=SHELF.sheets[case.heater.sheet],
            co2_largest_fraction=SHELF.fuels[case.visit.fuel].stoichiometry.largest_dry_co2_fraction,
            now=NOW,
        )
        verdicts[str(found.verdict)] += 1
    assert set(verdicts) == {"stop", "not fit", "not proven", "fit as tested"}
    assert verdicts["fit as tested"] > 0.35 * len(shop.cases)
    assert verdicts["stop"] < 0.1 * len(shop.cases)

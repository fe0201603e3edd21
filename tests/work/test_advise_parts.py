"""The invented shop's parts live by a known truth: the book finds it again, and advises by it."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from lightoff.demo.lives import TRUTH
from lightoff.terms.part import Bin
from lightoff.terms.people import Planning
from lightoff.texts import Speaker
from lightoff.wear.advice import Action
from lightoff.wear.lives import Clock
from lightoff.work.advise_parts import advise_parts, advised
from lightoff.work.fleet import fleet, possible
from lightoff.work.pieces import Where
from lightoff.work.reckoning import Price, Reckoning, Whence, price_of, reckoning
from lightoff.work.units import Unit, lives_of, units
from lightoff.work.workshop import Workshop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
MOST_MISSED = 1
"""Of eleven intervals at nineteen in twenty."""


@pytest.fixture(scope="module")
def shop(demo_shop: Workshop) -> Workshop:
    return demo_shop


@pytest.fixture(scope="module")
def heaters(shop: Workshop) -> Mapping[str, Unit]:
    return units(shop, NOW)


def test_the_truth_lies_within_its_intervals(shop: Workshop, heaters: Mapping[str, Unit]) -> None:
    missed = []
    for key, (life, shape) in TRUTH.items():
        kind = shop.shelf.part_types[key]
        lives = lives_of(heaters.values(), kind)
        # Heater types are alike here, so that all lives may stand for one.
        together = {"all": tuple(each for some in lives.values() for each in some)}
        found = possible(kind, together, "all")
        assert found.failure_count >= 1, key
        if not (found.life().holds(life) and found.shape().holds(shape)):
            missed.append((key, found.life(), found.shape()))
    assert len(missed) <= MOST_MISSED, missed


def test_every_heater_gets_advice_the_most_pressing_first(shop: Workshop) -> None:
    speaker = Speaker()
    heater = shop.book.heaters()[0]
    found = advise_parts(shop, heater.id, NOW)
    assert {each.kind.key for each in found} == set(TRUTH)
    order = [list(Action).index(each.advice.action) for each in found if each.advice]
    assert order == sorted(order)
    for each in found:
        assert each.advice is not None
        said = " ".join(speaker.say(sentence) for sentence in each.advice.says())
        assert "{" not in said
        assert "@" not in said


def test_an_open_housing_makes_renewing_cheaper(shop: Workshop, heaters: Mapping[str, Unit]) -> None:
    unit = next(iter(heaters.values()))
    every, reckoned = fleet(shop, NOW), reckoning(shop)
    shut = advised(every, unit, reckoned, NOW)
    opened = advised(every, unit, reckoned, NOW, is_open=True)
    cost = {each.kind.key: each.advice.renewal_cost for each in shut if each.advice}
    for each in opened:
        assert each.advice is not None
        assert each.advice.renewal_cost < cost[each.kind.key]


def test_a_working_igniter_taken_out_is_the_spare(heaters: Mapping[str, Unit], shop: Workshop) -> None:
    spares = [
        (unit, piece)
        for unit in heaters.values()
        for piece in unit.pieces
        if piece.where is Where.SPARE and piece.part.kind == "igniter"
    ]
    assert spares
    unit, spare = spares[0]
    assert spare.used[Clock.STARTS].value > 0.0
    (fitted,) = (
        each for each in advised(fleet(shop, NOW), unit, reckoning(shop), NOW) if each.kind.key == "igniter"
    )
    assert spare in fitted.spares


def test_one_heater_alone_is_the_same_as_among_all(shop: Workshop, heaters: Mapping[str, Unit]) -> None:
    key = shop.book.heaters()[3].id
    assert units(shop, NOW, heater_id=key)[key] == heaters[key]


@pytest.mark.parametrize(
    ("day", "months"), [((2026, 11, 1), 5.95), ((2026, 4, 20), 1.0), ((2026, 5, 1), 11.99)]
)
def test_the_season_lasts_till_spring(day: tuple[int, int, int], months: float) -> None:
    usual = Reckoning(planning=Planning(), prices={})
    assert usual.months_to_spring(datetime(*day, tzinfo=UTC)) == pytest.approx(months, abs=0.05)
    late = Reckoning(planning=Planning(spring_month=6), prices={})
    assert late.months_to_spring(datetime(2026, 11, 1, tzinfo=UTC)) == pytest.approx(6.97, abs=0.05)


def test_what_a_failure_costs_follows_what_the_shop_reckons_with(shop: Workshop) -> None:
    kind, reckoned = shop.shelf.part_types["igniter"], reckoning(shop)
    usual = reckoned.costs(kind)
    dear = Reckoning(planning=Planning(hour_rate=Decimal(200), trip=Decimal(500)), prices=reckoned.prices)
    costs = dear.costs(kind)
    assert costs.trip == 500.0
    assert (costs.fitting, costs.opening) == (2.0 * usual.fitting, 2.0 * usual.opening)
    # Ten of its twenty minutes are spared where the housing is open.
    assert usual.opening == pytest.approx(100.0 * 10.0 / 60.0)


def test_the_price_of_the_bin_counted_last_counts(shop: Workshop) -> None:
    kind = shop.shelf.part_types["igniter"]

    def bin_of(day: int, price: str | None) -> Bin:
        at = datetime(2026, 11, day, tzinfo=UTC)
        cost = Decimal(price) if price else None
        return Bin(id=f"bin-{day}", kind="igniter", place="van", counted=1, counted_at=at, price=cost)

    bins = [bin_of(3, "80"), bin_of(5, "95"), bin_of(7, None)]
    assert price_of(kind, bins, Planning()) == Price(amount=95.0, whence=Whence.BIN)
    on_shelf = replace(kind, price=Decimal(70))
    assert price_of(on_shelf, [], Planning()) == Price(amount=70.0, whence=Whence.SHELF)
    assert price_of(kind, [], Planning()) == Price(amount=50.0, whence=Whence.USUAL)

"""What comes next stands on the report of the latest visit, and of no other."""

from datetime import UTC, datetime

import pytest

from lightoff.ground.message import DayOf
from lightoff.terms.visit import Visit
from lightoff.texts import Speaker
from lightoff.work.advise_parts import advise_parts, part_name
from lightoff.work.next_due import next_due
from lightoff.work.running import MONTH
from lightoff.work.workshop import Workshop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def shop(demo_shop: Workshop) -> Workshop:
    return demo_shop


def serviced(shop: Workshop) -> list[tuple[Visit, ...]]:
    every = [shop.book.visits_of(each.id) for each in shop.book.heaters()]
    return [each for each in every if len(each) > 1 and each[-1].service_complete]


def test_the_next_service_is_counted_from_the_last(shop: Workshop) -> None:
    for visits in serviced(shop)[:10]:
        first = next_due(shop, visits[-1], NOW)[0]
        assert first.key == "report.next_due"
        assert first.values["day"] == DayOf(visits[-1].started_at + 12 * MONTH)


def test_an_earlier_visit_says_nothing_of_what_came_next(shop: Workshop) -> None:
    assert all(next_due(shop, visits[-2], NOW) == () for visits in serviced(shop)[:10])


def test_what_is_worth_having_aboard_is_what_wear_advises(shop: Workshop) -> None:
    speaker, named = Speaker(), 0
    for visits in serviced(shop)[:12]:
        told = {each.key: speaker.say(each) for each in next_due(shop, visits[-1], NOW)}
        for each in advise_parts(shop, visits[-1].heater, NOW):
            name = speaker.text(part_name(each.kind)[1:])
            if name in told.get("report.next_spares", ""):
                assert not each.spares, "it carries one"
            if each.advice is not None and each.advice.action.value == "renew_now":
                assert "report.next_renew_now" in told
                named += 1
            named += name in told.get("report.next_spares", "")
    assert named, "no heater is advised anything, or this test is empty"

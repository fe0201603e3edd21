"""Who needs a visit: what was left open, what is a year old, and parts that may not last."""

from datetime import UTC, datetime, timedelta

import pytest

from lightoff.texts import Speaker
from lightoff.work.who_needs_visit import YEARLY, who_needs_visit
from lightoff.work.workshop import Workshop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def shop(demo_shop: Workshop) -> Workshop:
    return demo_shop


def test_every_heater_left_stopped_open_or_unserviced_is_on_it_with_its_reason(shop: Workshop) -> None:
    found = {each.line.heater.id: each for each in who_needs_visit(shop, NOW)}
    speaker = Speaker()
    for heater in shop.book.heaters():
        visits = shop.book.visits_of(heater.id)
        serviced = [each.started_at for each in visits if each.service_complete]
        if any(each.closed_at is None for each in visits) or not serviced:
            assert heater.id in found
        elif serviced[-1] + YEARLY < NOW:
            assert found[heater.id].by <= NOW
    for each in found.values():
        assert each.reasons
        said = " ".join(speaker.say(reason) for reason in each.reasons)
        assert "{" not in said
        assert "@" not in said
        assert "nozzle_ring" in each.parts


def test_the_most_pressing_comes_first_and_time_only_adds(shop: Workshop) -> None:
    now = who_needs_visit(shop, NOW)
    assert [each.by for each in now] == sorted(each.by for each in now)
    later = {each.line.heater.id for each in who_needs_visit(shop, NOW + timedelta(days=400))}
    assert {each.line.heater.id for each in now} <= later
    assert len(later) == len(shop.book.heaters())

"""What to carry, in a browser's hands: the visits chosen, limits that bind, and what is typed wrong."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from lightoff.work.workshop import Workshop

if TYPE_CHECKING:
    from conftest import Bay

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def numbers(text: str, label: str) -> list[int]:
    return [int(each) for each in re.findall(rf'data-label="{label}">(\d+)<', text)]


def test_the_most_pressing_visits_are_ticked_and_the_season_is_beside_them(client: TestClient) -> None:
    text = client.get("/spares").text
    assert text.count("checked>") >= 4
    assert "With the kit" in text
    assert "Till spring" in text
    assert "judgement without a source" in text
    assert "counts as 50.00, as the shop reckons" in text


def test_limits_bind_the_kit_and_say_how_far_it_reaches(client: TestClient) -> None:
    free = sum(numbers(client.get("/spares").text, "Carry"))
    text = client.get("/spares", params={"money": "300", "mass": "5"}).text
    assert 0 < sum(numbers(text, "Carry")) * 50 <= 300
    assert sum(numbers(text, "Carry")) < free
    assert "Within these limits the parts that are needed for sure reach for" in text
    assert 'value="300"' in text


def test_visits_are_those_that_were_ticked_in_their_order(client: TestClient, shop: Workshop) -> None:
    heaters = [each.id for each in shop.book.heaters()[5:7]]
    text = client.get("/spares", params={"heater": [*heaters, "nobody"]}).text
    places = [text.index(f'href="/heaters/{each}/parts"') for each in heaters]
    assert places == sorted(places)
    assert text.count('/parts"><b>') == 2


@pytest.mark.parametrize("typed", ["-3", "much", "0", "1e9", "nan"])
def test_a_limit_that_is_none_is_said_at_its_box(client: TestClient, typed: str) -> None:
    answer = client.get("/spares", params={"volume": typed})
    assert answer.status_code == 422
    assert "Type a number above 0" in answer.text


def test_a_shop_without_heaters_at_work_is_told_so(bay: Bay) -> None:
    text = bay.client.get("/spares").text
    assert "Services that fall due till spring" in text


def test_the_list_of_who_needs_a_visit_goes_on_after_a_page(client: TestClient) -> None:
    first = re.findall(r'<li><a href="/heaters/([\w-]+)"', client.get("/due").text)
    assert 0 < len(first) <= 40
    beyond = re.findall(r'<li><a href="/heaters/([\w-]+)"', client.get("/due", params={"from": "5"}).text)
    assert beyond[: len(first) - 5] == first[5:]
    assert "the yearly parts" in client.get("/due").text
    assert client.get("/due", params={"from": "junk"}).status_code == 200

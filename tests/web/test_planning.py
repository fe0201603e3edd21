"""What the shop reckons with: kept, said where it cannot be, and used."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from lightoff.terms.people import Planning

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


def test_the_form_shows_the_judgement_and_keeps_what_is_typed(bay: Bay) -> None:
    assert 'name="hour_rate" value="100"' in bay.client.get("/planning").text
    typed = {"hour_rate": "84,5", "spring_month": "4", "spring_day": "15", "service_hours": "1200"}
    answer = bay.client.post("/planning", data=typed, headers=OWN)
    assert answer.status_code == 200
    expected = Planning(hour_rate=Decimal("84.5"), spring_month=4, spring_day=15, service_hours=1200)
    assert bay.workshop.book.planning() == expected
    assert 'value="84.5"' in answer.text
    assert '<option value="4" selected>' in answer.text


@pytest.mark.parametrize(
    ("name", "value"),
    [("hour_rate", "a lot"), ("hour_rate", "-4"), ("spring_month", "13"), ("service_months", "2.5"),
     ("trip", "1e3"), ("usual_price", "0"), ("spare_share", "1.5")],
)  # fmt: skip
def test_what_cannot_be_is_said_at_its_box_and_nothing_is_kept(bay: Bay, name: str, value: str) -> None:
    answer = bay.client.post("/planning", data={name: value}, headers=OWN)
    assert answer.status_code == 422
    assert f'id="{name}-problem"' in answer.text or name == "spring_month"
    assert bay.workshop.book.planning() == Planning()


def test_sent_twice_it_is_kept_once(bay: Bay) -> None:
    for _ in range(2):
        bay.client.post("/planning", data={"trip": "90"}, headers=OWN)
    assert len(bay.workshop.book.entries("shop")) == 2  # the shop itself, and this

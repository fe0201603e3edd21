"""What the shop reckons with: kept, said where it cannot be, and used."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from lightoff.terms.people import Planning
from lightoff.terms.visit import Close, Visit

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


def test_a_shop_south_of_the_equator_lays_up_in_its_own_spring(bay: Bay) -> None:
    """All that speaks of the season takes it from one setting: the procedure, and how long it still lasts."""
    bay.clock.at = datetime(2026, 9, 20, 9, tzinfo=UTC)
    served = Visit(id="served", heater=bay.ids["heater"], started_at=bay.clock() - timedelta(days=60))
    bay.keep(replace(served, service_complete=True), "visit", subject="served")
    bay.keep(Close(id="", closed_at=served.started_at), "close", subject="served")
    visit = bay.start_visit()
    line = "served on 22 July 2026"
    assert f"{line}, so a check" in bay.client.get(f"/visits/{visit}").text
    assert "in 7 months" in bay.client.get("/spares").text
    page = bay.client.get("/planning").text
    assert "North of the equator spring is in May, which stands here before you change it" in page
    bay.client.post("/planning", data={"spring_month": "11"}, headers=OWN)
    assert f"{line}; the season ends" in bay.client.get(f"/visits/{visit}").text
    assert "in 1 months" in bay.client.get("/spares").text

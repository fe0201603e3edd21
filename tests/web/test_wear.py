"""The shop's view of wear: every part type with a life opens to what its numbers rest on."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from lightoff.work.shop_wear import UNSAID, part_course
from lightoff.work.workshop import Workshop

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def test_every_part_type_with_a_life_is_listed_and_opens(client: TestClient) -> None:
    text = client.get("/wear").text
    keys = re.findall(r'href="/wear/(\w+)"', text)
    assert len(keys) == 11
    for key in keys:
        answer = client.get(f"/wear/{key}")
        assert answer.status_code == 200
        assert "judgement, no source" in answer.text
        assert answer.text.count("<svg") >= 2


def test_a_part_type_shows_the_curve_its_counts_and_each_failed_piece(
    client: TestClient, shop: Workshop
) -> None:
    found = part_course(shop, "igniter", NOW)
    text = client.get("/wear/igniter").text
    assert f"{found.lives.failure_count} of {found.lives.life_count} pieces followed have failed." in text
    assert text.count('/parts"><b>') == len(found.failed) == found.lives.failure_count
    last = found.curve.steps.at_risk[found.curve.steps.ages <= found.oldest][-1]
    assert f">{int(last)}</td>" in text


def test_a_part_type_tells_what_ended_its_pieces_with_counts_at_risk(
    client: TestClient, shop: Workshop
) -> None:
    found = part_course(shop, "igniter", NOW).causes
    assert found is not None
    assert sum(found.failures.values()) == part_course(shop, "igniter", NOW).lives.failure_count
    text = client.get("/wear/igniter").text
    told = text.partition('id="causes"')[2].partition("</section>")[0]
    leading = max(found.by_cause, key=lambda each: (each != UNSAID, found.by_cause[each][-1]))
    assert f"{found.failures[leading]} of {sum(found.failures.values())} failures" in told
    assert told.count('<li><div class="row">') == len(found.failures)
    assert ("Not said" in told) == (UNSAID in found.failures)
    # All that failed by the last failure, cause by cause, is what the curve says.
    curve = part_course(shop, "igniter", NOW).curve.steps
    assert sum(found.at(float(curve.ages[-1])).values()) == pytest.approx(1.0 - float(curve.survival[-1]))


def test_a_part_type_of_which_nobody_said_a_cause_says_so(bay: Bay) -> None:
    path = f"/visits/{bay.start_visit()}/parts"
    form = {"kind": "igniter", "source": "new", "stamped": "2024-01-01"}
    bay.client.post(path, data={**form, "fate": "scrapped"}, headers=OWN)
    bay.clock.later(days=90)
    assert bay.client.post(path, data={**form, "fate": "failed"}, headers=OWN).status_code == 200
    assert "Of no failure anybody has said" in bay.client.get("/wear/igniter").text
    bay.clock.later(days=90)
    typed = {**form, "fate": "failed", "cause": "igniter_cracked"}
    assert bay.client.post(path, data=typed, headers=OWN).status_code == 200
    assert bay.workshop.book.moves()[-2].cause == "igniter_cracked"
    text = bay.client.get("/wear/igniter").text
    assert "Cracked igniter" in text
    assert "1 of 2 failures" in text


def test_a_cause_that_ends_no_such_part_is_refused(bay: Bay) -> None:
    path = f"/visits/{bay.start_visit()}/parts"
    typed = {"kind": "igniter", "fate": "failed", "source": "new", "cause": "fan_worn"}
    answer = bay.client.post(path, data=typed, headers=OWN)
    assert answer.status_code == 422
    assert "“fan_worn” does not end such a part" in answer.text
    assert bay.workshop.book.moves() == ()


def test_the_shop_sees_come_backs_repairs_and_whether_a_heater_stands_out(client: TestClient) -> None:
    text = client.get("/wear").text
    assert "Within 30 days" in text
    assert "have had their days" in text
    assert "years since the first visit" in text
    assert "Heaters that stand out" in text


def test_an_unknown_part_type_is_said(client: TestClient) -> None:
    answer = client.get("/wear/flux_capacitor", headers={"accept": "text/html"})
    assert answer.status_code == 404
    assert "No life of “flux_capacitor” is known yet." in answer.text


def test_a_part_type_that_nobody_has_seen_shows_its_judgement(client: TestClient) -> None:
    answer = client.get("/wear/aquastat")
    assert answer.status_code == 200
    assert "No life of “coolant thermostat” is known yet." in answer.text
    assert "Source: judgement, no source." in answer.text


def test_a_shop_without_a_piece_is_told_what_to_do(bay: Bay) -> None:
    text = bay.client.get("/wear").text
    assert "No piece is on record yet." in text
    assert "No visit is on record yet." in text


def test_the_steady_burns_of_a_log_stand_among_the_readings(client: TestClient, shop: Workshop) -> None:
    heaters = {each.heater for each in shop.book.traces()}
    assert heaters
    told = {each: client.get(f"/heaters/{each}/drift").text for each in heaters}
    logged = {each: text.split('<section class="block plain drifting"') for each, text in told.items()}
    by_log = [
        re.match(r'\s*id="(\w+)"', part)[1]  # type: ignore[index]
        for each, parts in logged.items()
        for part in parts[1:]
        if f'/heaters/{each}/running">a log about' in part
    ]
    assert {"stack_gas_temperature", "time_to_light", "igniter_current"} <= set(by_log)


def test_a_heater_tells_whether_its_readings_drift(client: TestClient, shop: Workshop) -> None:
    told = 0
    for heater in shop.book.heaters()[:6]:
        answer = client.get(f"/heaters/{heater.id}/drift")
        assert answer.status_code == 200
        told += answer.text.count("in the conditions of the last visit, sound heaters")
        assert "{" not in answer.text.partition("<main")[2]
    assert told >= 6
    assert client.get("/heaters/nobody/drift", headers={"accept": "text/html"}).status_code == 404


def test_a_heater_of_which_nothing_was_read_is_told_so(bay: Bay) -> None:
    text = bay.client.get(f"/heaters/{bay.ids['heater']}/drift").text
    assert "Nothing of igniter current" in text
    assert f'/heaters/{bay.ids["heater"]}/drift"' in bay.client.get(f"/heaters/{bay.ids['heater']}").text


def test_advice_on_a_part_opens_to_the_lives_and_costs_that_it_rests_on(
    client: TestClient, shop: Workshop
) -> None:
    text = client.get(f"/heaters/{shop.book.heaters()[0].id}/parts").text
    assert 'href="/wear/igniter"' in text
    assert 'href="/planning"' in text

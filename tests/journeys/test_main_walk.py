"""The whole walk: find, start, type, judge, correct, print, lose the server, find everything."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_the_whole_walk(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], size: str
) -> None:
    page = open_page(size)
    card = walk(page, server.url)
    card.burn(o2="8.4")
    # O2 of 8.4 % and CO2 of 11.9 % do not belong together; the slip is corrected.
    expect(card.judgement).to_contain_text("do not belong together")
    o2 = card.type("flue_o2", "4.8", set_number=1)
    expect(card.judgement).to_contain_text("Lambda 1.28")
    expect(card.judgement).to_contain_text("not proven")
    expect(card.judgement.locator("svg[role=img]")).to_be_visible()
    expect(page.locator("#f-flue_co-as_left-1 .scale")).to_contain_text("air-free 49")
    expect(page.locator("#next")).to_contain_text("next:")
    card.on_the_van(o2)
    visit = page.url.split("#")[0]

    report = page.request.get(f"{visit}/report.pdf")
    assert report.headers["content-type"] == "application/pdf"
    assert report.body().startswith(b"%PDF-")

    server.kill()
    air = card.type("combustion_air_temperature", "12", set_number=1)
    expect(air.locator(".kept")).to_have_attribute("data-kept", "phone")
    expect(page.locator("#trouble")).to_contain_text("The van does not answer.")
    server.start()
    card.on_the_van(air)
    expect(page.locator("#trouble")).to_be_hidden()

    again = open_page(size)
    again.goto(visit)
    for key, value in {
        "flue_o2": "4.8",
        "flue_co2": "11.9",
        "flue_co": "38",
        "combustion_air_temperature": "12",
    }.items():
        expect(again.locator(f"#i-{key}-as_left-1")).to_have_value(value)
    expect(again.locator("#assessment")).to_contain_text("Lambda 1.28")

    page.goto(f"{visit}/hand-over")
    body = page.locator("main")
    for words in ("Work done", "What was measured", "What the verdict rests on", "at most"):
        expect(body).to_contain_text(words)


def test_the_foot_leads_to_the_reading_that_helps_most(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    card.burn()
    page.locator("#a-altitude").fill("100000")
    expect(page.locator(".about .about-kept .doubt")).to_contain_text("No road or water lies so high")
    page.locator("#a-altitude").fill("5")
    expect(page.locator(".about .about-kept .doubt")).to_have_text("")
    expect(page.locator("#task-flue_set_1 .said")).to_have_text("5 of 5 read")
    expect(page.locator("#task-flue_set_2 .said")).to_have_text("")  # the first set is none of the second's
    expect(page.locator("#next")).to_have_attribute("href", re.compile("living_space_co_running"))
    page.locator("#next").click()
    expect(page.locator("#i-living_space_co_running-as_left")).to_be_focused()


def test_a_flame_a_state_undo_and_history(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    page.locator('#step-light [data-event="flame"]').click()
    moment = page.locator("#step-light .moments li")
    expect(moment).to_contain_text("flame")
    expect(moment.locator(".kept")).to_have_attribute("data-kept", "van")
    light = card.field("light_off")
    card.choose(light, "second try")
    card.on_the_van(light)
    card.choose(light, "first try")
    light.locator("summary").click()
    light.locator(".undo").click()
    expect(light.locator('input[value="second try"]')).to_be_checked()
    light.locator(".past").click()
    expect(light.locator(".history")).to_contain_text("first try")
    moment.get_by_role("button", name="Undo").click()
    expect(page.locator("#step-light .moments li")).to_have_count(0)
    page.reload()
    expect(page.locator("#f-light_off-as_left input[value='second try']")).to_be_checked()
    expect(page.locator("#step-light .moments li")).to_have_count(0)


def test_calculated_co2_proves_nothing_by_itself(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    card.burn(basis="calculated")
    page.locator("#assessment details.gates summary").click()
    expect(card.judgement).to_contain_text("calculated by the instrument, so it proves nothing by itself")
    expect(page.locator("#f-flue_co2-as_left-1 .label")).to_contain_text("calculated by the instrument")
    assert page.request.get(page.url.split("#")[0] + "/report.pdf").ok


@pytest.mark.parametrize("server", ["one"], indirect=True)
def test_without_a_gas_probe_there_is_a_card_and_a_report(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    expect(page.locator("#f-flue_o2-as_left-1")).to_be_hidden()
    card.choose(card.field("light_off"), "first try")
    card.type("time_to_light", "43")
    card.type("supply_voltage_rest", "25.4")
    card.type("supply_voltage_igniter", "24.6")
    current = card.type("igniter_current", "8.6")
    card.on_the_van(current)
    # Typed off a note: the watch that the first temperature starts has timed the typing, and says nothing.
    card.type("coolant_temperature_start", "20")
    card.on_the_van(card.type("coolant_temperature_end", "62"))
    expect(card.field("warm_up_time").locator(".value input")).to_have_value("")
    warm = card.type("warm_up_time", "7")
    card.on_the_van(warm)
    expect(warm.locator("select.unit")).to_have_value("min")
    expect(warm.locator(".doubt")).to_have_text("")
    expect(card.judgement).to_contain_text("43")
    expect(card.judgement).to_contain_text("not proven")
    visit = page.url.split("#")[0]
    assert page.request.get(f"{visit}/report.pdf").body().startswith(b"%PDF-")
    page.goto(f"{visit}/hand-over")
    expect(page.locator("main")).to_contain_text("24.6")


def test_us_customary_units(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    page.goto(f"{server.url}/settings")
    page.locator("label", has=page.locator("input[name=units][value=us]")).click()
    with page.expect_navigation():
        page.get_by_role("button", name="Keep").first.click()
    card = walk(page, server.url)
    unit = page.locator("#f-stack_gas_temperature-as_left-1 select.unit")
    expect(unit).to_have_value("degF")
    card.choose(page.locator(".about"), "diesel_2")
    card.choose(card.type("flue_o2", "4.8", set_number=1), "dry")
    card.choose(card.type("flue_co2", "11.9", set_number=1), "measured")
    card.type("stack_gas_temperature", "457", set_number=1)
    air = card.type("combustion_air_temperature", "52", set_number=1)
    card.on_the_van(air)
    expect(card.judgement).to_contain_text("Lambda 1.28")
    # The same number in the other unit is another temperature: switching is a correction.
    unit.select_option("degC")
    expect(card.judgement).not_to_contain_text("loss 11.0")
    # What was written in one unit and is read in another stays what it was while something else changes.
    page.locator("#a-altitude").fill("101")
    page.locator("#a-altitude").press("Tab")
    expect(page.locator(".about .about-kept .kept")).to_have_attribute("data-kept", "van")
    metric = open_page()
    metric.goto(page.url)
    metric.wait_for_selector("#visit[data-ready=yes]")
    expect(metric.locator("#a-altitude")).to_have_value("30.8")
    metric.locator(".about label", has=metric.locator("input[value=kerosene]")).click()
    expect(metric.locator(".about .about-kept .kept")).to_have_attribute("data-kept", "van")
    metric.reload()
    kept = json.loads(metric.locator("#visit").get_attribute("data-visit-body") or "")
    assert (kept["fuel"], kept["place"]["altitude_m"]) == ("kerosene", "30.7848")
    page.reload()
    expect(page.locator("#a-altitude")).to_have_value("101")


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_danger_stands_at_the_foot_wherever_one_works(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], size: str
) -> None:
    page = open_page(size)
    card = walk(page, server.url)
    card.burn()
    foot = page.locator("#next")
    expect(foot).not_to_contain_text("Stop")
    card.type("flue_co", "900", set_number=1)
    expect(foot).to_contain_text("Stop")
    expect(foot).to_contain_text("Do not fire")
    foot.click()
    expect(page.locator("#assessment")).to_be_focused()
    expect(page.locator("#assessment .verdict")).to_be_in_viewport()
    card.type("flue_co", "38", set_number=1)
    expect(foot).not_to_contain_text("Stop")

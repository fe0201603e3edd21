"""A service on a phone: steps answered by a tap, a yearly part renewed, a working igniter kept as spare."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server


def task(page: Page, key: str) -> Locator:
    """A step of the work, unfolded as a thumb would."""
    step = page.locator(f"#task-{key}")
    fold = page.locator("details.run", has=step)
    if fold.count() and fold.get_attribute("open") is None:
        fold.locator("> summary").click()
    return step


def on_the_van(step: Locator) -> None:
    expect(step.locator(".kept").first).to_have_attribute("data-kept", "van")


def test_a_step_is_answered_by_a_tap_kept_and_taken_back(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    step = task(page, "isolate")
    step.locator(".answers [data-answer]").first.dblclick()  # a glove taps twice, and answers once
    on_the_van(step)
    server.kill()
    server.start()
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    first = task(page, "isolate").locator(".answers [data-answer]").first
    expect(first).to_have_attribute("aria-pressed", "true")
    first.click()
    expect(first).to_have_attribute("aria-pressed", "false")
    on_the_van(task(page, "isolate"))
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(task(page, "isolate").locator(".answers [data-answer]").first).to_have_attribute(
        "aria-pressed", "false"
    )


def test_not_done_asks_why(server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]) -> None:
    page = open_page("phone")
    walk(page, server.url)
    step = task(page, "open_cover")
    step.locator("summary").click()
    step.get_by_role("button", name="not done").click()
    expect(step.locator("[data-reason]")).to_be_focused()
    step.locator("[data-reason]").fill("no room for the ladder")
    step.get_by_role("button", name="not done").click()
    expect(step.locator(".said")).to_have_text("not done: no room for the ladder")
    on_the_van(step)


def test_away_from_the_van_an_answer_waits_on_the_phone(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    server.kill()
    step = task(page, "fuel_shut")
    step.locator(".answers [data-answer]").first.click()
    expect(step.locator(".kept").first).to_have_attribute("data-kept", "phone")
    server.start()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    on_the_van(step)


def test_a_yearly_part_is_renewed_with_its_step_and_an_igniter_kept_as_spare(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    ring = task(page, "renew_nozzle_ring")
    ring.locator(".answers [data-answer]").first.click()
    on_the_van(ring)
    page.wait_for_timeout(500)  # its part and moves follow it
    page.goto(f"{visit}/parts")
    expect(page.locator("#kind-nozzle_ring")).to_contain_text("0 months")
    page.select_option("#kind", "igniter")
    page.locator("label", has_text="kept as this vehicle's spare").click()
    page.fill("#condition", "clean, 9.1 A")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#kind-igniter")).to_be_visible()
    expect(page.locator("section", has=page.locator("#spares"))).to_contain_text("Igniter")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_work_that_only_the_report_would_know_asks_for_its_piece(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    asks = page.locator('[data-piece-of="Igniter renewed"]')
    expect(asks).to_be_hidden()
    work = page.locator("label", has_text="Igniter renewed")
    work.click()
    expect(asks).to_be_visible()
    work.click()
    expect(asks).to_be_hidden()
    work.click()
    asks.get_by_role("link").click()
    expect(page.locator("#kind")).to_have_value("igniter")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#kind-igniter")).to_be_visible()
    page.get_by_role("link", name="Back to the visit").click()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(page.locator("input[value='Igniter renewed']")).to_be_checked()
    expect(asks).to_have_count(0)


def test_another_procedure_has_other_steps(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    assert task(page, "renew_nozzle_ring").count() == 1
    expect(page.locator("#procedure > summary")).to_contain_text("Annual service")
    page.locator("#procedure > summary").click()
    with page.expect_navigation():
        page.locator("label", has=page.locator('input[value="winter_decommissioning"]')).click()
    ready(page)
    expect(task(page, "renew_nozzle_ring")).to_have_count(0)
    expect(page.locator("#procedure > summary")).to_contain_text("Decommissioning for winter, chosen by hand")
    page.locator("#procedure > summary").click()
    page.locator("label", has=page.locator('input[value="annual_service"]')).click()
    expect(page.locator("#task-renew_nozzle_ring")).to_have_count(1)
    ready(page)
    expect(page.locator('input[value="annual_service"]')).to_be_checked()


def ready(page: Page) -> None:
    page.wait_for_selector("#visit[data-ready=yes]")


def pieces(page: Page, visit: str, kind: str) -> int:
    """How many pieces of a part type the page shows as fitted."""
    page.goto(f"{visit}/parts")
    return page.locator(f"#kind-{kind}").count()


def test_a_yearly_part_taken_back_after_a_reload_takes_its_exchange_back(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    on_the_van_after(page, "renew_nozzle_ring")
    page.reload()
    ready(page)
    on_the_van_after(page, "renew_nozzle_ring")
    page.wait_for_timeout(500)
    assert pieces(page, visit, "nozzle_ring") == 0
    page.goto(visit)
    ready(page)
    on_the_van_after(page, "renew_nozzle_ring")
    page.wait_for_timeout(500)
    assert pieces(page, visit, "nozzle_ring") == 1


def test_a_part_that_had_failed_is_said_so_where_it_is_renewed(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    step = task(page, "renew_fuel_filter")
    causes = step.locator(".ended-by")
    expect(causes).to_be_hidden()
    on_the_van_after(page, "renew_fuel_filter")  # by plan, and then said otherwise
    step.locator("[data-failed]").click()
    on_the_van(step)
    assert ended(page, visit) == [("failed", "")]
    page.reload()
    ready(page)
    expect(step.locator("[data-failed]")).to_have_attribute("aria-pressed", "true")
    before = step.get_attribute("data-entry")
    causes.locator('[data-cause="fuel_filter_restricted"]').click()
    expect(step).not_to_have_attribute("data-entry", before or "")
    on_the_van(step)
    assert ended(page, visit) == [("failed", "fuel_filter_restricted")]
    page.reload()
    ready(page)
    pressed = causes.locator('[aria-pressed="true"]')
    expect(pressed).to_have_attribute("data-cause", "fuel_filter_restricted")
    step.locator('[data-answer="done"]').click()
    expect(causes).to_be_hidden()
    on_the_van(step)
    assert ended(page, visit) == []  # nobody knew the old one, and it still worked


def ended(page: Page, visit: str) -> list[tuple[str, str]]:
    """What became of fuel filters that were taken out on a visit, and by what."""
    expect(page.locator('#visit .kept[data-kept="phone"]')).to_have_count(0, timeout=30_000)
    page.wait_for_timeout(500)  # what an answer writes of a part follows it
    moves = page.request.get(f"{visit}.json").json().get("move", [])
    fitted = [each for each in moves if each["kind"] == "fitted"]
    assert len(fitted) == 1
    return [(each["kind"], each.get("cause", "")) for each in moves if each["kind"] in ("failed", "scrapped")]


def on_the_van_after(page: Page, key: str) -> None:
    step = task(page, key)
    before = step.get_attribute("data-entry")
    step.locator('[data-answer="done"]').click()
    expect(step).not_to_have_attribute("data-entry", before or "")
    on_the_van(step)


def test_the_after_run_counts_down_survives_a_closed_page_and_is_kept_with_start_and_end(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    page.add_init_script(
        "navigator.vibrate = (pattern) => { (window.buzzed ??= []).push(pattern); return true; }"
    )
    page.clock.install()
    walk(page, server.url)
    step = task(page, "after_run_wait")
    step.get_by_role("button", name="Switched off").dblclick()
    # The clock runs on between the jumps, on a busy machine by seconds.
    expect(step.locator(".clock b")).to_have_text(re.compile(r"3:00|2:[345]\d"))
    expect(page.locator('#step-found .moments [data-kind="flame out"]')).to_have_count(1)
    page.clock.fast_forward(60_000)
    expect(step.locator(".clock b")).to_have_text(re.compile(r"2:00|1:[2345]\d"))
    page.reload()  # and what a closed page does
    ready(page)
    step = task(page, "after_run_wait")
    page.clock.fast_forward(80_000)
    expect(step.locator(".clock b")).to_have_text(re.compile(r"0:(?!00)\d\d"))
    assert not page.evaluate("window.buzzed?.some((each) => each.length > 1)")
    page.clock.fast_forward(42_000)
    expect(step.locator(".clock span")).to_contain_text("over the sheet's length")
    assert page.evaluate("window.buzzed.some((each) => each.length > 1)")
    step.get_by_role("button", name="The fan stopped").click()
    on_the_van(step)
    page.reload()
    ready(page)
    kept = page.locator("#f-after_run_time-as_found")
    assert 182 <= float(kept.locator(".value input").input_value()) <= 222
    start, end = (datetime.fromisoformat(each) for each in str(kept.get_attribute("data-span")).split("/"))
    assert timedelta(seconds=182) <= end - start <= timedelta(seconds=222)
    expect(page.locator('#f-after_run-as_found input[value="ran its length"]')).to_be_checked()


def test_an_after_run_cut_short_is_timed_and_judged_by_nobody_but_a_person(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    page.clock.install()
    walk(page, server.url)
    step = task(page, "after_run_again")
    step.get_by_role("button", name="Switched off").click()
    page.clock.fast_forward(70_000)
    step.get_by_role("button", name="The fan stopped").click()
    on_the_van(step)
    expect(page.locator("#f-after_run_time-as_left .value input")).to_have_value(re.compile(r"7\d"))
    assert page.locator("#f-after_run-as_left input:checked").count() == 0


def test_light_off_is_timed_from_lamp_to_flame_without_the_van(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    page.clock.install()
    walk(page, server.url)
    server.kill()
    step = task(page, "prove_fires")
    step.get_by_role("button", name="Igniter lamp is on").click()
    page.clock.fast_forward(42_000)
    step.get_by_role("button", name="Flame: first try").click()
    field = page.locator("#f-time_to_light-as_found")
    expect(field.locator(".value input")).to_have_value(re.compile("4[2-9]"))
    expect(field.locator(".kept")).to_have_attribute("data-kept", "phone")
    server.start()
    page.clock.fast_forward(60_000)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(field.locator(".kept")).to_have_attribute("data-kept", "van")
    on_the_van(step)
    page.reload()
    ready(page)
    expect(page.locator('#f-light_off-as_found input[value="first try"]')).to_be_checked()
    expect(page.locator('#step-found .moments [data-kind="flame"]')).to_have_count(1)
    # More lights, quicker ones: all are kept, the field shows the last, and the worse try stays.
    for seconds, flame in ((31, "Flame: second try"), (33, "Flame: first try")):
        step.get_by_role("button", name="The lamp once more").click()
        page.clock.fast_forward(1000 * seconds)
        step.get_by_role("button", name=flame).click()
        on_the_van(field)
        on_the_van(step)
    expect(page.locator('#f-light_off-as_found input[value="second try"]')).to_be_checked()
    page.reload()
    ready(page)
    expect(field.locator(".value input")).to_have_value(re.compile("3[3-9]"))
    book = tomllib.loads(page.request.get(page.url.split("#")[0] + ".toml").text())
    lights = [each for each in book["reading"] if each["key"] == "time_to_light"]
    assert [each.get("set_number") for each in lights] == [None, 2, 3]
    assert lights[0]["value"] > 41 > lights[1]["value"]
    # What the igniter drew is typed once a start, each beside those before it.
    field = page.locator("#f-igniter_current-as_left")
    for number, amperes in enumerate(("8.4", "8.1", "8.6")):
        if number:
            field.get_by_role("button", name="Of one more start").click()
        field.locator(".value input").fill(amperes)
        field.locator(".value input").press("Tab")
        on_the_van(field)
    expect(field.locator(".beside")).to_have_text("beside it 8.4 A, 8.1 A; the worst of them is judged")
    page.reload()
    ready(page)
    expect(field.locator(".value input")).to_have_value("8.6")
    expect(field.locator(".beside")).to_contain_text(re.compile(r"8\.4\sA, 8\.1\sA"))
    book = tomllib.loads(page.request.get(page.url.split("#")[0] + ".toml").text())
    drew = [each for each in book["reading"] if each["key"] == "igniter_current"]
    assert [(each.get("set_number"), each["value"]) for each in drew] == [(None, 8.4), (2, 8.1), (3, 8.6)]


def test_photographs_at_steps_stand_side_by_side_on_card_and_hand_over(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], tmp_path: Path
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    for key, colour in (("look_nozzle", "#222222"), ("clean_nozzle", "#DDDDDD")):
        picture = tmp_path / f"{key}.jpg"
        Image.new("RGB", (400, 300), colour).save(picture, "JPEG")
        task(page, key).locator("[data-shoot]").set_input_files(picture)
        on_the_van(task(page, key))  # the photograph answers it
    expect(page.locator("#photos .kept[data-kept=van]")).to_have_count(2)
    for _ in range(2):
        for key in ("look_nozzle", "clean_nozzle"):
            for side in ("as found", "as left"):
                expect(task(page, key).locator(f'.shots [data-side="{side}"] img')).to_have_count(1)
        page.reload()
        ready(page)
    page.goto(f"{visit}/hand-over")
    pair = page.locator(".pair-of-photos")
    expect(pair).to_have_count(1)
    expect(pair.locator("img")).to_have_count(2)
    expect(pair).to_contain_text("before")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_smoke_spot_photographed_at_its_step_is_read_at_its_field(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], tmp_path: Path
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    picture = tmp_path / "paper.jpg"
    Image.new("RGB", (400, 300), "#EEEEEE").save(picture, "JPEG")
    task(page, "smoke_left").locator("[data-shoot]").set_input_files(picture)
    field = page.locator("#f-smoke_number-as_left")
    expect(field.locator(".shot")).to_be_visible()
    field.get_by_role("button", name="Read the spot").click()
    expect(field.locator(".pictures [role=status]")).not_to_be_empty()
    page.reload()
    ready(page)
    expect(field.locator(".shot")).to_be_visible()


def test_a_part_renewed_by_its_step_comes_off_the_vans_stock_and_goes_back_with_it(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    page.goto(f"{server.url}/stock")
    page.select_option("#kind", "nozzle_ring")
    page.fill("#counted", "2")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("h2 .right")).to_have_text("2")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    for left in ("1", "2"):
        on_the_van_after(page, "renew_nozzle_ring")
        page.wait_for_timeout(500)
        page.goto(f"{server.url}/stock")
        expect(page.locator("h2 .right")).to_have_text(left)
        page.goto(visit)
        ready(page)


def test_what_goes_in_is_offered_for_the_part_that_is_picked(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    for kind in ("igniter", "fuel_filter"):
        page.goto(f"{server.url}/stock")
        page.select_option("#kind", kind)
        page.fill("#counted", "3")
        page.get_by_role("button", name="Keep").click()
        expect(page.locator("h2 .right")).to_have_count(1 + (kind == "fuel_filter"))
    walk(page, server.url)
    page.goto(f"{page.url.split('#')[0]}/parts?kind=igniter")
    expect(page.locator("#source option:not([hidden])")).to_have_count(3)  # new, from the van, nothing
    expect(page.locator("#source")).to_have_value(re.compile("^bin "))
    expect(page.locator('input[name="fate"]:checked')).to_have_value("kept as spare")
    page.select_option("#kind", "fuel_filter")
    expect(page.locator("#source option:checked")).to_contain_text("Fuel filter: new, from van")
    page.select_option("#kind", "fan")
    expect(page.locator("#source")).to_have_value("new")


def test_a_grouped_answer_is_taken_back_with_one_tap_and_leaves_what_was_answered_by_itself(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    task(page, "isolate").locator('[data-answer="dead"]').click()
    page.locator("#step-work [data-routine-done]").click()
    expect(task(page, "supply_on")).to_have_attribute("data-done", "done")
    expect(page.locator("#step-work .moments li")).to_have_count(0)
    on_the_van(task(page, "supply_on"))
    page.reload()
    ready(page)
    back = page.locator("#step-work [data-routine-back]")
    back.click()
    expect(back).to_be_hidden()
    expect(page.locator('#step-work [data-task][data-done="done"]')).to_have_count(1)
    expect(task(page, "isolate")).to_have_attribute("data-done", "done")
    # What closes the cover says that all is shut again; taken back, it says so no more.
    shut = task(page, "close_cover").locator('.answers [data-answer="done"]')
    shut.click()
    expect(page.locator("#step-work .moments li")).to_have_count(2)  # opened, closed up
    page.wait_for_timeout(400)  # sooner it would be a glove's second tap
    shut.click()
    expect(page.locator("#step-work .moments li")).to_have_count(0)
    expect(page.locator('#visit .kept[data-kept="phone"]')).to_have_count(0, timeout=30_000)
    assert pieces(page, visit, "nozzle_ring") == 0


def test_what_waits_for_an_answer_says_so_at_once_and_no_answer_with_others_takes_it(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    isolate, cover = task(page, "isolate"), task(page, "pull_igniter_connector")
    waits = page.locator("#task-nozzle_out .held, #task-pull_igniter_connector .held")
    expect(waits.first).to_be_hidden()
    isolate.locator('[data-answer="still live"]').click()
    for each in page.locator("details[data-run]").all():
        each.evaluate("each => { each.open = true; }")
    expect(waits.first).to_contain_text("still live. Cure that first")
    page.locator("#step-work [data-routine-done]").click()
    expect(task(page, "intake_filter_off")).to_have_attribute("data-done", "done")
    expect(cover).to_have_attribute("data-done", "")
    expect(task(page, "nozzle_out")).to_have_attribute("data-done", "")
    on_the_van(isolate)
    page.reload()
    ready(page)
    expect(waits.first).to_be_visible()
    isolate.locator('[data-answer="dead"]').click()
    expect(waits.first).to_be_hidden()


def test_a_note_goes_with_the_answer_of_its_step_and_stands_in_the_hand_over(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    ring = task(page, "renew_nozzle_ring")
    ring.evaluate("each => { each.closest('details.run').open = true; }")
    ring.locator('[data-answer="done"]').first.click()
    on_the_van(ring)
    ring.locator("summary").click()
    ring.locator("[data-reason]").fill("groove scored")
    ring.locator("[data-reason]").press("Tab")
    expect(ring.locator(".step-note")).to_have_text("groove scored")
    waste = task(page, "waste_away")
    waste.locator("summary").click()
    waste.locator("[data-reason]").fill("2 L of fuel, to the yard's tank")
    waste.locator('[data-answer="taken along"]').click()
    on_the_van(waste)
    expect(page.locator('#visit .kept[data-kept="phone"]')).to_have_count(0, timeout=30_000)
    page.reload()
    ready(page)
    expect(ring.locator(".step-note")).to_have_text("groove scored")
    expect(ring).to_have_attribute("data-done", "done")
    expect(waste.locator('[data-answer="taken along"]')).to_have_attribute("aria-pressed", "true")
    page.goto(f"{visit}/hand-over")
    expect(page.locator("main")).to_contain_text("2 L of fuel, to the yard's tank.")
    expect(page.locator("main")).to_contain_text("groove scored.")
    assert pieces(page, visit, "nozzle_ring") == 1


def test_a_nought_of_co_holds_next_until_it_is_said_again(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    page.clock.install()
    card = walk(page, server.url)
    field = card.field("outdoor_co")
    box = field.locator(".value input")
    box.fill("0")
    box.press("Enter")
    box.press("Enter")  # a bounce says nothing
    expect(field.locator(".insist")).to_be_visible()
    expect(box).to_be_focused()
    expect(field).to_have_attribute("data-confirmed", "")
    page.clock.fast_forward(1000)
    box.press("Enter")
    expect(field).to_have_attribute("data-confirmed", "0")
    expect(box).not_to_be_focused()
    on_the_van(field)
    box.fill("00")  # typed anew, it is asked anew
    expect(field).to_have_attribute("data-confirmed", "")
    box.press("Enter")
    expect(box).to_be_focused()


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_what_a_step_reads_leads_to_its_field_by_thumb_and_by_keyboard(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], size: str
) -> None:
    page = open_page(size)
    walk(page, server.url)
    step = task(page, "flue_set_2")
    for each in page.locator("details[data-run]").all():
        each.evaluate("each => { each.open = true; }")
    step.locator("summary").click()
    link = step.locator('a[href="#f-flue_co-as_left-2"]')
    link.click()
    expect(page.locator("#i-flue_co-as_left-2")).to_be_focused()
    expect(page.locator("#i-flue_co-as_left-2")).to_be_in_viewport()
    page.keyboard.type("36")
    page.go_back()
    expect(link).to_be_in_viewport()
    link.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#i-flue_co-as_left-2")).to_be_focused()
    expect(page.locator("#i-flue_co-as_left-2")).to_have_value("36")
    # A state: the first of its choices. A fold that it lies in opens.
    step = task(page, "exhaust_end_to_end")
    step.locator("summary").click()
    field = page.locator("#f-exhaust_path-as_found")
    step.locator('a[href="#f-exhaust_path-as_found"]').press("Enter")
    expect(field.locator("input").first).to_be_focused()
    expect(field).to_be_in_viewport()
    # What the card has no field for is said and leads nowhere.
    assert step.locator(".caption a").count() < 4
    for each in page.locator('.tasks a[href^="#f-"]').evaluate_all("all => all.map((each) => each.hash)"):
        assert page.locator(each).count() == 1, each

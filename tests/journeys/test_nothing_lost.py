"""What was entered survives: no connection, no server, a closed page, an odd number."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from playwright.sync_api import Page, Route, expect

if TYPE_CHECKING:
    from conftest import Card, Server

A_PICTURE = (
    b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x06\x00\x00\x00\x1f\x15\xc4\x89"
    b"\x00\x00\x00\rIDATx\x9cc\xf8\xcf\xc0\xf0\x1f\x00\x05\x00\x01\xff\x89\x99=\x1d\x00\x00\x00\x00IEND\xaeB`\x82"
)


def test_without_connection_it_waits_on_the_phone(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    page.context.set_offline(True)
    o2 = card.type("flue_o2", "4.8", set_number=1)
    card.choose(o2, "dry")
    card.choose(card.field("light_off"), "first try")
    expect(o2.locator(".kept")).to_have_attribute("data-kept", "phone")
    page.context.set_offline(False)
    card.on_the_van(o2)
    card.on_the_van(card.field("light_off"))


def test_a_page_that_was_closed_while_the_server_was_dead_sends_later(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    visit = page.url
    server.kill()
    co = card.type("flue_co", "38", set_number=1)
    expect(co.locator(".kept")).to_have_attribute("data-kept", "phone")
    page.close()
    server.start()
    again = page.context.new_page()
    again.goto(visit)
    expect(again.locator("#i-flue_co-as_left-1")).to_have_value("38")
    expect(again.locator("#f-flue_co-as_left-1 .kept")).to_have_attribute("data-kept", "van")


def test_a_photo_waits_and_arrives(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], tmp_path: Path
) -> None:
    page = open_page()
    walk(page, server.url)
    picture = tmp_path / "probe.png"
    picture.write_bytes(A_PICTURE)
    page.context.set_offline(True)
    page.locator("#photo").set_input_files(picture)
    kept = page.locator("#photos li .kept")
    expect(kept).to_have_attribute("data-kept", "phone")
    page.context.set_offline(False)
    expect(kept).to_have_attribute("data-kept", "van")
    page.reload()
    expect(page.locator("#photos img")).to_have_count(1)


def test_an_impossible_number_is_questioned_and_kept_if_insisted(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    card.burn()
    o2 = card.type("flue_o2", "25", set_number=1)
    expect(o2.locator(".doubt")).to_contain_text("25")
    o2.get_by_role("button", name="Keep 25").click()
    card.on_the_van(o2)
    expect(o2.locator(".insist")).to_be_hidden()
    expect(o2.locator(".doubt")).to_contain_text("25")
    # It is kept, and not used: the burn is told from carbon dioxide alone, and proves nothing.
    expect(card.judgement).to_contain_text("comes from carbon dioxide alone")
    expect(card.judgement).to_contain_text("not proven")


def test_closing_sends_what_is_still_being_typed(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    visit = page.url
    card.field("after_run_time").locator(".value input").fill("180")
    page.locator('#close-form [data-state="told only"]').click()
    page.wait_for_url("**/hand-over")
    page.goto(visit)
    expect(page.locator("#i-after_run_time-as_left")).to_have_value("180")
    expect(page.get_by_text("Accept the late reading")).to_have_count(0)


def test_a_page_that_was_drawn_just_before_an_answer_arrived_shows_the_answer(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page(service_workers="block")
    walk(page, server.url)
    page.locator('#step-light [data-event="flame"]').click()
    moment = page.locator("#step-light .moments li")
    expect(moment.locator(".kept")).to_have_attribute("data-kept", "van")
    sending: list[Route] = []

    def drawn_before(route: Route) -> None:
        before = route.fetch()
        sending[0].continue_()
        page.wait_for_timeout(1000)  # the page that is left hears that its answer arrived
        route.fulfill(response=before)

    page.route("**/entries", lambda route: route.continue_() if sending else sending.append(route))
    moment.get_by_role("button", name="Undo").click()
    expect(moment).to_have_count(0)
    page.route(page.url, drawn_before)
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(moment).to_have_count(0)

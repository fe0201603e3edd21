"""The van is away: what was opened on the phone opens again, says that it is a copy, and loses nothing."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server

KEPT = "html[data-kept=yes]"
CLOCK = re.compile(r"as of \d\d:\d\d")


def kept(page: Page) -> None:
    """Waits until this page lies on the phone."""
    page.wait_for_selector(KEPT, state="attached")


def values(page: Page, url: str, key: str) -> list[str]:
    """What the book holds of a reading, entries that were corrected included."""
    told = tomllib.loads(page.request.get(f"{url}.toml").text())
    return [str(each["value"]) for each in told.get("reading", []) if each["key"] == key]


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_card_opens_without_the_van_takes_a_value_and_sends_it_once(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], size: str
) -> None:
    page = open_page(size)
    card = walk(page, server.url)
    card.burn()
    expect(card.judgement).to_contain_text("Lambda 1.28")
    visit = page.url.split("#")[0]
    kept(page)
    card.on_the_van(card.field("combustion_air_temperature", set_number=1))
    server.kill()
    context = page.context
    page.close()

    page = context.new_page()
    page.goto(visit)
    page.wait_for_selector("#visit[data-ready=yes]")
    copy = page.locator(".copy")
    expect(copy).to_be_visible()
    expect(copy).to_contain_text("Kept on this phone, as of ")
    expect(copy).to_contain_text(CLOCK)
    # The verdict that stands there is one of then, and says so beside itself.
    expect(page.locator("#assessment .as-of")).to_be_visible()
    expect(page.locator("#assessment .as-of")).to_have_text(
        re.compile(r"^as of \d\d:\d\d, not judged since$")
    )
    # What was sent after the copy was made stands in its field as well.
    expect(page.locator("#i-combustion_air_temperature-as_left-1")).to_have_value("11")
    expect(page.locator("#i-flue_co-as_left-1")).to_have_value("38")
    page.locator("#i-smoke_number-as_left").fill("0.5")
    page.locator("#i-smoke_number-as_left").press("Tab")
    expect(page.locator("#f-smoke_number-as_left .kept")).to_have_attribute("data-kept", "phone")
    expect(page.locator("#assessment .as-of")).to_be_visible()

    server.start()
    page.wait_for_selector("html:not([data-kept-at])", state="attached", timeout=30_000)
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(page.locator("#i-smoke_number-as_left")).to_have_value("0.5")
    expect(page.locator("#f-smoke_number-as_left .kept")).to_have_attribute("data-kept", "van")
    expect(page.locator(".copy")).to_be_hidden()
    expect(page.locator("#assessment .as-of")).to_be_hidden()
    assert values(page, visit, "smoke_number") == ["0.5"]
    assert values(page, visit, "flue_co") == ["38"]
    history = page.request.get(f"{visit}/history/smoke_number-as_left").text()
    assert history.count("<li>") == 1


def test_list_and_heater_open_as_copies_and_their_verdict_is_of_then(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    card.burn()
    card.on_the_van(card.field("combustion_air_temperature", set_number=1))
    for path in ("/heaters/h-Saltgrass", "/"):
        page.goto(server.url + path)
        kept(page)
    server.kill()
    for path, words in (("/heaters/h-Saltgrass", "Not proven"), ("/", "Saltgrass, aft heater")):
        page.goto(server.url + path)
        expect(page.locator(".copy")).to_contain_text(CLOCK)
        expect(page.locator("main")).to_contain_text(words)
        for verdict in page.locator(".verdict").all():
            expect(verdict.locator("xpath=following-sibling::p[1]")).to_have_text(CLOCK)
    # A search that could not be made says so, and does not say that there is nothing.
    page.get_by_label("Find by vehicle").fill("whimbrel")
    expect(page.locator("#van-away")).to_be_visible()
    # An address that was never opened here: a sentence, and what there is.
    page.goto(f"{server.url}/heaters/h-Whimbrel")
    expect(page.locator("main")).to_contain_text("This page is not kept on this phone.")
    page.locator("#kept-pages a", has_text="Saltgrass, aft heater").first.click()
    expect(page.locator(".copy")).to_be_visible()


def test_the_page_that_was_not_kept_opens_by_itself_when_the_van_is_back(
    server: Server, open_page: Callable[..., Page]
) -> None:
    page = open_page()
    page.goto(server.url)
    kept(page)
    server.kill()
    page.goto(f"{server.url}/heaters/h-Whimbrel")
    expect(page.locator("h1")).to_contain_text("The van does not answer")
    server.start()
    expect(page.locator("h1")).to_contain_text("Whimbrel", timeout=30_000)


def test_a_form_keeps_what_was_typed_while_the_van_is_away(
    server: Server, open_page: Callable[..., Page]
) -> None:
    page = open_page()
    page.goto(f"{server.url}/settings")
    page.wait_for_selector("html[data-kept=no]", state="attached")
    page.locator("#shop_name").fill("Heron Quay")
    server.kill()
    page.locator("form[action='/settings/shop'] button").click()
    expect(page.locator("#van-away")).to_contain_text("nothing was sent")
    expect(page.locator("#shop_name")).to_have_value("Heron Quay")
    server.start()
    page.locator("form[action='/settings/shop'] button").click()
    expect(page.locator(".where")).to_have_text("Heron Quay")


def test_a_form_that_the_book_refused_is_found_again_as_it_was_typed(
    server: Server, open_page: Callable[..., Page]
) -> None:
    page = open_page(service_workers="block")  # it would answer before the route does
    page.goto(f"{server.url}/settings")
    problem = page.request.get(f"{server.url}/heaters/none", headers={"accept": "text/html"}).text()
    page.route(
        "**/settings/shop", lambda route: route.fulfill(status=503, body=problem, content_type="text/html")
    )
    page.locator("#shop_name").fill("Heron Quay")
    page.locator("label", has=page.locator("input[name=shop_paper][value=letter]")).click()
    page.locator("form[action='/settings/shop'] button").click()
    page.get_by_role("link", name="Back to what you typed").click()
    expect(page.locator("#shop_name")).to_have_value("Heron Quay")
    expect(page.locator("input[name=shop_paper][value=letter]")).to_be_checked()
    page.unroute("**/settings/shop")
    page.locator("form[action='/settings/shop'] button").click()
    expect(page.locator(".where")).to_have_text("Heron Quay")
    page.goto(f"{server.url}/heaters/none")
    expect(page.get_by_role("link", name="Back to what you typed")).to_be_hidden()


def test_a_judgement_that_cannot_follow_says_of_when_it_is(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    card.burn()
    expect(card.judgement).to_contain_text("Lambda 1.28")
    expect(card.judgement.locator(".as-of")).to_be_hidden()
    server.kill()
    card.type("flue_co", "900", set_number=1)
    expect(card.judgement.locator(".as-of")).to_have_text(CLOCK)
    server.start()
    expect(card.judgement.locator(".as-of")).to_be_hidden(timeout=30_000)
    expect(card.judgement).to_contain_text("there is danger unless")


def test_a_kept_page_is_named_as_it_names_itself(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page()
    page.goto(f"{server.url}/heaters/new")
    page.get_by_label("In the book already?").fill("mira")
    page.locator("#known label", has_text="another vehicle").click()
    page.locator("#heater_name").fill("heater")
    page.locator("label", has=page.locator("input[value=generic_9_kw]")).click()
    page.locator("#vehicle_name").fill("Heron's <Wake> & Co")
    page.locator("label", has=page.locator("input[value=cabin]")).click()
    page.get_by_role("button", name="Keep").click()
    kept(page)
    page.goto(f"{server.url}/settings")
    expect(page.locator("#kept-pages b").first).to_contain_text("Heron's <Wake> & Co")


def test_pages_are_forgotten_when_asked(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page()
    page.goto(f"{server.url}/heaters/h-Saltgrass")
    kept(page)
    page.goto(f"{server.url}/settings")
    expect(page.locator("#kept-pages li")).to_have_count(1)
    page.get_by_role("button", name="Forget them").click()
    expect(page.locator("#kept-pages li")).to_have_count(0)
    server.kill()
    page.goto(f"{server.url}/heaters/h-Saltgrass")
    expect(page.locator("main")).to_contain_text("No page is kept on this phone yet")


def test_a_copy_stays_dark_in_the_dark_bay(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page()
    page.goto(server.url)
    kept(page)
    page.goto(f"{server.url}/settings")
    page.locator("label", has=page.locator("input[name=appearance][value=dark]")).click()
    page.get_by_role("button", name="Keep").first.click()
    page.wait_for_selector("html[data-appearance=dark][data-kept=no]", state="attached")
    server.kill()
    for path in ("/", "/heaters/h-Whimbrel"):
        page.goto(server.url + path)
        assert page.locator("html").get_attribute("data-appearance") == "dark", path

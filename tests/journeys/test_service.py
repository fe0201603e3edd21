"""A service on a phone: steps answered by a tap, a yearly part renewed, a working igniter kept as spare."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server


def task(page: Page, key: str) -> Locator:
    """A step of the work, its list opened as a thumb would."""
    steps = page.locator("#step-work details.tasks")
    if steps.count() and steps.get_attribute("open") is None:
        steps.locator("> summary").click()
    return page.locator(f"#task-{key}")


def on_the_van(step: Locator) -> None:
    expect(step.locator(".kept").first).to_have_attribute("data-kept", "van")


def test_a_step_is_answered_by_a_tap_kept_and_taken_back(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    step = task(page, "isolate")
    step.locator(".answers [data-answer]").first.click()
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


def test_another_procedure_has_other_steps(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    assert task(page, "renew_nozzle_ring").count() == 1
    page.locator("#step-arrive details.tasks > summary").click()
    page.locator("label", has=page.locator('input[value="winter_decommissioning"]')).click()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(task(page, "renew_nozzle_ring")).to_have_count(0)

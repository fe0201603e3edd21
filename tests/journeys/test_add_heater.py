"""A heater is added to a vehicle and an owner that stand in the book already."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Server


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_the_vehicle_is_found_and_picked_and_what_was_typed_stays(
    server: Server, open_page: Callable[..., Page], size: str
) -> None:
    page = open_page(size)
    page.goto(f"{server.url}/heaters/new")
    page.locator("#heater_name").fill("bow heater")
    page.get_by_label("In the book already?").fill("oduya whim")
    picks = page.locator("#known label")
    expect(picks).to_have_count(3)
    expect(picks.first).to_contain_text("Whimbrel")
    picks.first.click()
    expect(page.locator("#vehicle_name")).to_be_hidden()
    expect(page.locator("#owner_name")).to_be_hidden()
    page.locator("label", has=page.locator("input[value=generic_6_kw]")).click()
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("h1")).to_have_text("Whimbrel, bow heater")
    expect(page.locator(".also")).to_contain_text("rear heater")


def test_another_vehicle_of_a_known_owner(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page()
    page.goto(f"{server.url}/heaters/new")
    page.get_by_label("In the book already?").fill("mira")
    page.locator("#known label", has_text="another vehicle").click()
    expect(page.locator("#owner_name")).to_be_hidden()
    page.locator("#heater_name").fill("cabin heater")
    page.locator("label", has=page.locator("input[value=generic_9_kw]")).click()
    page.locator("#vehicle_name").fill("Turnstone")
    page.locator("label", has=page.locator("input[value=cabin]")).click()
    page.get_by_role("button", name="Keep").click()
    expect(page.locator(".subject")).to_contain_text("cabin of Mira Oduya")

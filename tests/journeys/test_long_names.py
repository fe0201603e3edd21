"""A name without a break stays within the page, on the phone and at the desk."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from coming import comes_true
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Server

UNBROKEN = "Saltgrass" * 17


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_no_page_runs_off_its_side(server: Server, open_page: Callable[..., Page], size: str) -> None:
    page = open_page(size)
    page.goto(f"{server.url}/heaters/new")
    for name in ("heater_name", "vehicle_name", "owner_name"):
        page.locator(f"#{name}").fill(UNBROKEN)
    for value in ("generic_6_kw", "boat"):
        page.locator("label", has=page.locator(f'input[value="{value}"]')).click()
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("h1")).to_contain_text(UNBROKEN)  # an address alone would fit the form too
    heater = page.url
    page.get_by_role("button", name="Start a visit").click()
    page.wait_for_selector("#visit[data-ready=yes]")
    visit = page.url.split("#")[0]
    rooms = ("", "/edit", "/elsewhere")
    paths = [f"{server.url}/", f"{server.url}/heaters/new?known=Salt", *(heater + each for each in rooms)]
    for path in (*paths, visit, f"{visit}/hand-over", f"{visit}/fault"):
        page.goto(path)
        # Letters may come a moment after the page: what counts is where it comes to rest.
        comes_true(page, f"() => ({OFF})().length === 0", within_s=3.0)
        assert page.evaluate(OFF) == [], path


OFF = """() => {
    const wide = document.documentElement.scrollWidth;
    const off = [...document.querySelectorAll("main *")].filter((each) => {
        const box = each.getBoundingClientRect();
        const isHidden = box.width <= 1 || getComputedStyle(each).position === "absolute";
        return !isHidden && box.right > innerWidth + 1;
    }).map((each) => each.outerHTML.slice(0, 80)).slice(0, 4);
    return wide > innerWidth ? [`the page is ${wide} px wide`, ...off] : off;
}"""

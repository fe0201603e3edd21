"""Finding a fault in a browser: with one thumb, and with the keyboard alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server


@pytest.mark.parametrize("by", ["thumb", "keyboard"])
def test_from_the_owners_words_to_the_next_step_and_back(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], by: str
) -> None:
    page = open_page("phone")
    walk(page, server.url)
    page.goto(f"{page.url.split('#')[0]}/fault")
    words = page.locator('input[value="lights then dies"]')
    if by == "thumb":
        page.locator("label", has=words).click()
    else:
        words.focus()
        page.keyboard.press("Space")
    expect(page.locator("h1")).to_contain_text("Lights, then dies")
    suspects = page.locator("main h2, main h3").all_inner_texts()
    assert len(suspects) >= 3, suspects
    page.goto(f"{page.url.split('?')[0]}?step=reading.run_time_before_stop")
    beside = page.locator('#step [data-key="time_to_light"] .label').bounding_box()
    assert beside is not None
    assert beside["width"] > 50, "what else the watch reads is named"
    page.goto(page.url.split("?")[0])
    back = page.get_by_role("button", name="Take back")
    if by == "thumb":
        back.click()
    else:
        back.focus()
        page.keyboard.press("Enter")
    expect(page.locator('input[value="lights then dies"]')).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_what_fits_nothing_is_read_again_and_stands(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    """A flow that no heater has: asked for again, *Reads the same* keeps it, and the plan goes on."""
    page = open_page("phone")
    walk(page, server.url)
    here = f"{page.url.split('#')[0]}/fault"
    for key, state in (
        ("owner_says", "smokes or smells"),
        ("last_work", "nothing"),
        ("smoke_colour", "black"),
        ("inlet_path", "restricted"),
    ):
        page.goto(f"{here}?step=reading.{key}")
        page.locator("#step label", has=page.locator(f'input[value="{state}"]')).click()
        page.wait_for_url(here)
    for key, number in (("flue_o2", "2.0"), ("coolant_flow", "120")):
        page.goto(f"{here}?step=reading.{key}")
        page.locator(f'#step [data-key="{key}"] .value input').fill(number)
        page.get_by_role("button", name="Go on").click()
        page.wait_for_url(here)
    expect(page.locator("#step-title")).to_have_text("Read again: Coolant flow")
    expect(page.locator('#step [data-key="coolant_flow"] .value input')).to_have_value("120")
    page.get_by_role("button", name="Reads the same").click()
    expect(page.locator("#step-title")).not_to_have_text("Read again: Coolant flow")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.goto(f"{here}?step=reading.coolant_flow")
    expect(page.locator('#step [data-key="coolant_flow"] .value input')).to_have_value("120")

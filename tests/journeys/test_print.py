"""What a page leaves on paper."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TYPE_CHECKING

import pikepdf
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server


def test_invented_data_says_so_on_paper(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("desk")
    walk(page, server.url)
    visit = page.url.split("#")[0]
    for path in (visit, f"{visit}/hand-over", f"{server.url}/", f"{server.url}/heaters/h-Saltgrass"):
        page.goto(path)
        page.emulate_media(media="print")
        expect(page.get_by_text("invented data", exact=True).first).to_be_visible()
        expect(page.get_by_role("link", name="Settings")).to_have_count(0)


def test_a_printed_hand_over_leaves_no_page_mostly_empty(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page("desk")
    card = walk(page, server.url)
    card.burn()
    card.on_the_van(card.field("combustion_air_temperature", set_number=1))
    page.goto(page.url.split("#")[0] + "/hand-over")
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "10mm")
    printed = pikepdf.open(io.BytesIO(page.pdf(format="A4", margin=margin)))
    assert len(printed.pages) <= 3, "the gates stand in two columns, and only rows stay whole"


def test_labels_print_three_beside_each_other_and_nothing_else(
    server: Server, open_page: Callable[..., Page]
) -> None:
    page = open_page("desk")
    page.goto(f"{server.url}/labels")
    page.set_viewport_size({"width": 734, "height": 1000})  # A4 less its margins
    page.emulate_media(media="print")
    boxes = [each.bounding_box() for each in page.locator(".sheet-of-labels li").all()]
    assert len(boxes) == 3
    assert len({round(box["y"]) for box in boxes if box}) == 1
    expect(page.get_by_role("heading", name="Labels")).to_be_hidden()
    assert len(pikepdf.open(io.BytesIO(page.pdf(format="A4"))).pages) == 1

"""What a page leaves on paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

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

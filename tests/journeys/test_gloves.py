"""With gloves on every target can be hit, the small ones too."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page

if TYPE_CHECKING:
    from conftest import Card, Server

LEAST_PX = 64
TARGETS = "a, button, summary, select, input, textarea, label:has(input)"
SMALL = """([least, targets]) => [...document.querySelectorAll(targets)]
    .filter((each) => {
        const box = each.getBoundingClientRect();
        const isHidden = !box.width || !box.height || getComputedStyle(each).visibility === "hidden";
        if (isHidden || each.closest(".skip") || each.matches("p a")) return false;
        const whole = each.closest("label:has(input), .value") ?? each;  // what a tap on it may hit
        return whole.getBoundingClientRect().height < least - 0.5;
    })
    .map((each) => `${each.outerHTML.slice(0, 90)}: ${each.getBoundingClientRect().height}`)"""


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_every_target_is_large_enough(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], size: str
) -> None:
    page = open_page(size)
    card = walk(page, server.url)
    visit = page.url.split("#")[0]
    page.context.add_cookies([{"name": "lightoff_gloves", "value": "yes", "url": server.url}])
    card.burn()
    rooms = ("/", "/settings", "/heaters/h-Saltgrass")
    for path in (visit, f"{visit}/fault", f"{visit}/hand-over", *(server.url + each for each in rooms)):
        page.goto(path)
        page.evaluate("document.fonts.ready.then(() => true)")
        page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
        assert page.locator('html[data-gloves="yes"]').count() == 1
        small = page.evaluate(SMALL, [LEAST_PX, TARGETS])
        assert not small, (path, len(small), small[:12])

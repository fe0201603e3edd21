"""How long it has run: told while the last flame burns, and of a heater that is out nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server


@pytest.mark.parametrize("ending", ["flame out", "opened"])
def test_a_heater_that_is_out_is_not_told_to_run(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], ending: str
) -> None:
    page = walk(open_page("phone"), server.url).page
    running = page.locator("#step-flue_1 .running")

    def tap(kind: str) -> None:
        page.locator(f'[data-event="{kind}"]').first.click()
        expect(page.locator(f'li[data-kind="{kind}"] .kept').first).to_have_attribute("data-kept", "van")

    expect(running).to_have_text("")
    tap("flame")
    expect(running).to_have_text("running 0 min")
    tap(ending)
    expect(running).to_have_text("")
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(running).to_have_text("")
    # What ended it was tapped by mistake: taken back, it runs on.
    page.locator(f'li[data-kind="{ending}"] .undo-event').first.click()
    expect(running).to_have_text("running 0 min")

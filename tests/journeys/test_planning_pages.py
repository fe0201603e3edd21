"""Pages that plan, with an invented shop's lives on them: WCAG 2.2 AA, opened up, in both appearances."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from accessible import violations
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Server


@pytest.mark.parametrize("appearance", ["light", "dark"])
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_no_page_that_plans_has_a_violation(
    invented: Server, open_page: Callable[..., Page], size: str, appearance: str
) -> None:
    page = open_page(size, color_scheme=appearance)
    page.goto(f"{invented.url}/due")
    heater = page.locator('.rows a[href^="/heaters/"]').first.get_attribute("href")
    faults = []
    for path in ("/due", "/planning", "/spares?money=600", "/wear", "/wear/igniter", f"{heater}/drift"):
        page.goto(invented.url + path)
        for summary in page.locator("summary").all():
            summary.click()
        faults += violations(page)
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, f"{path} scrolls sideways"
    assert not faults, "\n".join(faults)


def test_a_day_is_packed_within_a_limit_by_thumb(invented: Server, open_page: Callable[..., Page]) -> None:
    page = open_page("phone")
    page.goto(f"{invented.url}/due")
    page.get_by_role("link", name="What to carry", exact=True).click()
    expect(page.get_by_role("heading", name="What to carry")).to_be_visible()
    ticked = page.locator('input[name="heater"]:checked')
    before = ticked.count()
    ticked.first.uncheck(force=True)
    page.get_by_label("Worth at most, in your money").fill("400")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator('input[name="heater"]:checked')).to_have_count(before - 1)
    expect(page.get_by_label("Worth at most, in your money")).to_have_value("400")
    carried = [int(each) for each in page.locator('.tight td[data-label="Carry"]').all_inner_texts()]
    assert 0 < sum(carried) * 50 <= 400


def test_what_the_shop_reckons_with_moves_the_list(invented: Server, open_page: Callable[..., Page]) -> None:
    page = open_page("phone")
    page.goto(f"{invented.url}/due")
    page.get_by_role("link", name="What the shop reckons with").click()
    page.get_by_label("Run hours from one to the next").fill("150")
    with page.expect_navigation():
        page.get_by_role("button", name="Keep").click()
    expect(page.get_by_label("Run hours from one to the next")).to_have_value("150")
    page.goto(f"{invented.url}/due")
    expect(page.locator("main")).to_contain_text("due again after 150.")

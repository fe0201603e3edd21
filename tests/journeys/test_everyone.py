"""For everyone: WCAG 2.2 AA on every page in both appearances, keyboard alone, large enough targets."""

from __future__ import annotations

import pkgutil as modules
import re
from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING

import pytest
from accessible import violations
from playwright.sync_api import Page, expect

from lightoff import web
from lightoff.web.rooms import Rooms

if TYPE_CHECKING:
    from conftest import Card, Server

PAGES = (
    "/",
    "/?search=zeppelin",
    "/settings",
    "/heaters/new",
    "/heaters/h-Saltgrass",
    "/heaters/h-Saltgrass/drift",
    "/heaters/h-Saltgrass/running",
    "/due",
    "/planning",
    "/spares",
    "/wear",
    "/labels",
    "/heaters/h-Saltgrass/label",
    "/stock",
    "/nothing",
)
# What is seldom opened is looked at in each appearance once.
SELDOM = (
    "/heaters/h-Saltgrass/edit",
    "/heaters/h-Saltgrass/elsewhere",
    "/heaters/h-Saltgrass/parts",
    "/sheets/new",
    "/sheets/generic_12_kw",
    "/wear/igniter",
)
OF_VISIT = ("fault", "telephone", "parts")
# Pieces of a page, files, pictures and scripts.
NO_PAGE = re.compile(r"\.(csv|pdf|js)$|\.{kind}$|^/photos/|/history/|/lives$")


def test_every_page_is_looked_at() -> None:
    rooms = {
        each.path
        for module in modules.iter_modules(web.__path__)
        for each in getattr(import_module(f"lightoff.web.{module.name}"), "rooms", Rooms()).routes
        if "GET" in (each.methods or ()) and not NO_PAGE.search(each.path)
    }
    here = [each.partition("?")[0] for each in (*PAGES, *SELDOM)] + [f"/visits/v/{each}" for each in OF_VISIT]
    here += ["/visits/v", "/visits/v/hand-over", "/away"]
    unseen = {
        each
        for each in rooms
        if not any(re.fullmatch(re.sub(r"{\w+}", "[^/]+", each), path) for path in here)
    }
    assert not unseen
    assert len(rooms) > 20, "or nothing was looked for"


@pytest.mark.parametrize("appearance", ["light", "dark"])
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_no_page_has_a_violation(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], size: str, appearance: str
) -> None:
    page = open_page(size, color_scheme=appearance)
    card = walk(page, server.url)
    card.burn(o2="25")
    expect(card.field("flue_o2", set_number=1).locator(".doubt")).to_contain_text("25")
    page.locator('#step-light [data-event="flame"]').click()
    for summary in page.locator("#step-flue_1 summary").all():
        summary.click()
    visit, faults = page.url.split("#")[0], violations(page)
    seldom = SELDOM if (size == "phone") is (appearance == "light") else ()
    for path in (f"{visit}/hand-over", *PAGES, *seldom, *(f"{visit}/{each}" for each in OF_VISIT)):
        page.goto(path if path.startswith("http") else server.url + path)
        faults += violations(page)
    page.route("**/healthz", lambda route: route.abort())  # or it gives way to the page itself
    page.goto(f"{server.url}/away")
    faults += violations(page)
    assert not faults, "\n".join(faults)


def test_the_keyboard_alone_is_enough(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page("desk")
    page.goto(server.url)
    keys = page.keyboard

    def tab_to(test: str) -> None:
        for _ in range(320):  # each step of the work is a stop of its own
            keys.press("Tab")
            if page.evaluate(f"(() => {{ const e = document.activeElement; return Boolean({test}); }})()"):
                return
        pytest.fail(f"Tab never came to {test}")

    tab_to("e.id === 'search'")
    keys.type("saltgrass")
    expect(page.locator("#found li")).to_have_count(1)
    tab_to("e.closest('#found')")
    keys.press("Enter")
    page.wait_for_url("**/heaters/**")
    tab_to("e.textContent.includes('Start a visit')")
    keys.press("Enter")
    page.wait_for_selector("#visit[data-ready=yes]")
    tab_to("e.name === 'a-fuel'")
    keys.press("Space")
    tab_to("e.id === 'i-flue_o2-as_left-1'")
    keys.type("4.8")
    tab_to("e.name === 'b-flue_o2-as_left-1'")
    keys.press("Space")
    expect(page.locator("#f-flue_o2-as_left-1 .kept")).to_have_attribute("data-kept", "van")
    expect(page.locator("#f-flue_o2-as_left-1 .basis input:checked")).to_have_value("dry")
    # Where the focus is can be seen, and the foot does not hide it.
    tab_to("e.id === 'i-flue_co-as_left-1'")
    box = page.locator("#i-flue_co-as_left-1").bounding_box()
    foot = page.locator(".foot").bounding_box()
    assert box is not None
    assert foot is not None
    assert box["y"] + box["height"] <= foot["y"] or box["x"] + box["width"] <= foot["x"]


@pytest.mark.parametrize(("gloves", "least"), [("no", 64), ("yes", 96)])
def test_targets_are_large_enough_for_the_hand(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], gloves: str, least: int
) -> None:
    page = open_page()
    page.context.add_cookies([{"name": "lightoff_gloves", "value": gloves, "url": server.url}])
    walk(page, server.url)
    sizes = page.eval_on_selector_all(
        ".choices label, .second-action, .action",
        "all => all.map(e => e.getBoundingClientRect()).filter(r => r.width).map(r => r.height)",
    )
    assert len(sizes) > 30
    assert min(sizes) >= least
    page.screenshot()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_no_page_is_wider_than_the_phone(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page()
    for path in ("/", "/settings", "/heaters/new", "/heaters/h-Saltgrass", "/labels", "/stock"):
        page.goto(server.url + path)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path


def test_without_script_the_list_still_searches(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page(java_script_enabled=False)
    page.goto(server.url)
    page.get_by_label("Find by vehicle").fill("whimbrel")
    page.get_by_role("button", name="Find").click()
    expect(page.locator("#found li")).to_have_count(1)

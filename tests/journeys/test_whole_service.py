"""A whole service of an invented heater on a phone, from the list of who needs a visit back to it."""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pikepdf
from PIL import Image
from playwright.sync_api import Locator, Page, expect

sys.path.insert(0, str(Path(__file__).parents[1] / "spot"))
sys.path.insert(0, str(Path(__file__).parents[1] / "report"))
from invented_photos import Scene, photograph
from pdf_inside import words
from test_service import on_the_van, ready, task

if TYPE_CHECKING:
    from conftest import Server

YEARLY = ("nozzle_filter", "nozzle_ring", "fuel_filter", "filter_seal", "intake_filter")


def test_after_a_whole_service_the_plan_is_another(
    invented: Server, open_page: Callable[..., Page], tmp_path: Path
) -> None:
    page = open_page("phone")
    heater, carry, before = a_heater_that_is_due(page, invented.url)
    assert {"Nozzle O-ring", "Fuel filter", "Igniter"} <= before

    page.goto(invented.url + heater)
    page.locator("button.action, a.action").first.click()
    ready(page)
    visit = page.url.split("#")[0]
    page.locator("#procedure > summary").click()
    page.locator("label", has_text="Annual service").click()
    ready(page)
    step = task(page, "after_run_wait")
    step.get_by_role("button", name="Switched off").click()
    page.wait_for_timeout(400)  # a second tap sooner than that is a glove's
    step.get_by_role("button", name="The fan stopped").click()
    on_the_van(step)

    for key in YEARLY:
        step = task(page, f"renew_{key}")
        step.locator(".answers [data-answer]").first.click()
        on_the_van(step)
    page.wait_for_timeout(500)  # their parts and moves follow them
    page.goto(f"{visit}/parts")
    page.select_option("#kind", "igniter")
    page.locator("label", has_text="kept as this vehicle's spare").click()
    page.fill("#condition", "clean, 9.1 A")
    page.get_by_role("button", name="Keep").click()
    spare = page.locator("section", has=page.locator("#spares"))
    expect(spare).to_contain_text(re.compile(r"Igniter.*used [\d,]+ starts", re.DOTALL))

    page.goto(visit)
    ready(page)
    paper = tmp_path / "paper.jpg"
    Image.fromarray(photograph(Scene(number=1.0), np.random.default_rng(2))).save(paper, quality=92)
    task(page, "smoke_left").locator("[data-shoot]").set_input_files(paper)
    field = page.locator("#f-smoke_number-as_left")
    field.get_by_role("button", name="Read the spot").click()
    field.get_by_role("button", name=re.compile(r"Take [\d.]+ over")).click()
    expect(field.locator(".value input")).to_have_value(re.compile(r"^[0-2]\.\d$"))
    on_the_van(field)

    page.locator("#close-form", has_text="Service complete: close").locator(
        '[data-state="told only"]'
    ).click()
    expect(page).to_have_url(re.compile("/hand-over"))
    expect(page.locator("main")).to_contain_text(re.compile("Smoke number is .* does not prove"))
    report = page.request.get(f"{visit}/report.pdf").body()
    told = words(pikepdf.open(io.BytesIO(report)))
    assert "Service complete" in told
    assert "old one kept as a spare" in told
    assert "The next complete service is due by" in told
    aboard = re.search(r"aboard as spares: ([^.]*)\.", told)
    assert aboard is None or "igniter" not in aboard[1], "it carries one now"

    page.goto(f"{invented.url}/due")
    now = page.locator(".rows li", has=page.locator(f'a[href="{heater}"]'))
    if now.count():
        assert "due again" not in now.inner_text()
    page.goto(carry)
    after = carried(page)
    assert not {"Nozzle O-ring", "Fuel filter"} & after, "what was renewed today need not be carried"
    assert "Igniter" not in after, "the vehicle carries one"


def a_heater_that_is_due(page: Page, url: str) -> tuple[str, str, set[str]]:
    """One of the list for which an igniter too would be carried: which of them depends on the day."""
    page.goto(f"{url}/due")
    rows = page.locator(".rows li", has_text="Last complete service").filter(has_not_text="still open")
    rows.first.wait_for()
    due = [each for each in rows.all() if re.search("Chance|due again", each.inner_text())]
    heaters = [str(each.locator("a").first.get_attribute("href")) for each in due]
    for heater in heaters:
        carry = f"{url}/spares?heater={heater.rpartition('/')[2]}"
        page.goto(carry)
        if "Igniter" in (before := carried(page)):
            return heater, carry, before
    raise AssertionError("nobody on the list needs an igniter")


def carried(page: Page) -> set[str]:
    """The parts of which the best kit for these visits has one."""
    lines: list[Locator] = page.locator(".tight").first.locator("tbody tr").all()
    told = {
        line.locator("th, td").first.inner_text(): line.locator('[data-label="Carry"]').inner_text()
        for line in lines
    }
    return {part for part, count in told.items() if int(count or 0) > 0}

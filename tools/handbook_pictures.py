"""Takes the handbook's pictures anew from the invented shop: python3 tools/handbook_pictures.py

Run it in the environment that `python3 dev.py test` sets up, with Chromium, Chrome or Edge installed (or
named in LIGHTOFF_CHROMIUM). It writes docs/pictures/*.png. Dates in the pictures are those of the day.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import uvicorn
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright

from lightoff.judging.assessment import Verdict
from lightoff.report import typesetting
from lightoff.report.content import content
from lightoff.report.letters import printable
from lightoff.texts import Speaker
from lightoff.web.app import create_app
from lightoff.work.assess_visit import assess_visit
from lightoff.work.find_heaters import find_heaters
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.workshop import Workshop, open_shop

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 1200}
COLOURS = 64
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
# What the walk of docs/first-visit.md types.
FIRST_SET = {
    "flue_o2": "4.8",
    "flue_co2": "11.9",
    "flue_co": "38",
    "stack_gas_temperature": "236",
    "combustion_air_temperature": "11",
}
WAYS = {"flue_o2": "dry", "flue_co2": "measured"}
REPORT_PPI = 80


def main() -> None:
    """Make a shop, serve it, walk through it, keep each picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        shop = make_demo_shop(Path(folder) / "demo-shop", datetime.now(tz=UTC))
        with open_shop(shop) as workshop, served(workshop) as address, started_browser() as browser:
            walk(browser, address)
            keep("report", first_page_of_a_report(workshop))


def walk(browser: Browser, address: str) -> None:
    """The first visit as the handbook tells it, on a phone; the heater's history on a desk."""
    desk = browser.new_page(viewport=DESK, device_scale_factor=1)
    desk.goto(address)
    desk.locator("a[href^='/heaters/']", has_text="Saltgrass").first.click()
    desk.wait_for_selector("#lives")
    keep("heater-desk", desk.screenshot())
    phone = browser.new_page(viewport=PHONE, device_scale_factor=2)
    phone.goto(address)
    phone.get_by_label("Find by vehicle").fill("saltgrass")
    expect(phone.locator("#found a")).to_have_count(1)
    keep("find-phone", phone.screenshot())
    phone.locator("#found a", has_text="Saltgrass").first.click()
    phone.locator("a.action, button.action").first.click()
    phone.wait_for_selector("#visit[data-ready=yes]")
    type_first_set(phone)
    shown(phone, "readings-phone", field(phone, "flue_o2"))
    shown(phone, "visit-phone", phone.locator("#assessment"))
    box = field(phone, "flue_o2").locator(".value input")
    box.fill("8.4")
    box.press("Tab")
    phone.locator("#assessment", has_text="do not belong together").wait_for()
    shown(phone, "contradiction-phone", phone.locator("#assessment"))


def type_first_set(page: Page) -> None:
    """The first set of flue readings as left."""
    for key, text in FIRST_SET.items():
        part = field(page, key)
        part.locator(".value input").fill(text)
        part.locator(".value input").press("Tab")
        # The card asks only where it does not know the meter's way from an earlier reading.
        way = part.locator("label", has=page.locator(f'input[value="{WAYS.get(key, "")}"]'))
        if key in WAYS and way.is_visible():
            way.click()
    page.locator("#assessment", has_text="Lambda 1.28").wait_for()


def field(page: Page, key: str) -> Locator:
    """A field of the first set as left."""
    return page.locator(f"#f-{key}-as_left-1")


def shown(page: Page, name: str, part: Locator) -> None:
    """The part at the top of the window, once what it says has settled."""
    part.scroll_into_view_if_needed()
    part.evaluate("each => window.scrollBy(0, each.getBoundingClientRect().top - 16)")
    page.wait_for_timeout(600)
    keep(name, page.screenshot())


def first_page_of_a_report(workshop: Workshop) -> bytes:
    """Page one of the latest visit that was proven fit, rather one with photographs."""
    now, fit = datetime.now(tz=UTC), []
    for heater in find_heaters(workshop, limit=200):
        for visit in workshop.book.visits_of(heater.heater.id):
            case, assessment = assess_visit(workshop, visit.id, now)
            if assessment.verdict.verdict is Verdict.FIT:
                fit.append((bool(visit.photos), visit.started_at, case, assessment))
    if not fit:
        sys.exit("no visit of the invented shop is fit")
    _, _, case, assessment = max(fit, key=lambda each: each[:2])
    told = content(case, assessment, shelf=workshop.shelf, speaker=Speaker(), photos={})
    cleaned, lost = printable(dict(told))
    rest = {"paper": "a4", "language": "en", "letters_lost": lost, "attachment": None}
    pages = typesetting._compiler().compile(
        typesetting._template("owner.typ"),
        format="png",
        ppi=REPORT_PPI,
        sys_inputs={"content": json.dumps({**cleaned, **rest}, ensure_ascii=False)},
    )
    return bytes(pages[0] if isinstance(pages, list) else pages)


def keep(name: str, picture: bytes) -> None:
    """A picture with few colours: small, and nothing is lost on a page of ink and paper."""
    with Image.open(io.BytesIO(picture)) as opened:
        small = opened.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
        small.save(PICTURES / f"{name}.png", optimize=True)
    sys.stdout.write(f"{name}.png {(PICTURES / f'{name}.png').stat().st_size // 1024} kB\n")


@contextmanager
def served(workshop: Workshop) -> Iterator[str]:
    """The shop's pages at a free port of this computer."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    server = uvicorn.Server(uvicorn.Config(create_app(workshop), port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(timeout=10)


@contextmanager
def started_browser() -> Iterator[Browser]:
    """The system's own Chromium."""
    path = os.environ.get("LIGHTOFF_CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
    if path is None:
        sys.exit("No Chromium, Chrome or Edge was found: install one, or name it in LIGHTOFF_CHROMIUM.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


if __name__ == "__main__":
    main()

"""A real server, a real browser, and a hand that types on the card."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from http import HTTPStatus
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect, sync_playwright

from lightoff.work.make_demo_shop import make_demo_shop

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 800}
SIZES = {"phone": PHONE, "desk": DESK}
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
HERE = Path(__file__).parent
GATHERED_S = 120.0
"""A busy machine may take this long over what a page over the whole shop needs."""
expect.set_options(timeout=20_000)
sys.path.insert(0, str(HERE))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's own Chromium."""
    path = os.environ.get("LIGHTOFF_CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no Chromium was found, and under CI the browser tests must run")
        pytest.skip("no Chromium was found: the journeys in a browser were not tried")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield started
        started.close()


@dataclass
class Server:
    """The server as a process of its own."""

    folder: Path
    port: int
    kit: str = "full"
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        command = [sys.executable, str(HERE / "serve_bay.py"), str(self.folder), str(self.port), self.kit]
        self.process = subprocess.Popen(command)
        for _ in range(150):
            try:
                with urllib.request.urlopen(f"{self.url}/healthz", timeout=2):
                    return
            except (urllib.error.URLError, OSError):
                assert self.process.poll() is None, "the server ended by itself"
                time.sleep(0.1)
        pytest.fail("the server did not answer within 15 s")

    def kill(self) -> None:
        """No goodbye: as when the van's battery goes."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def server(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Server]:
    made = Server(tmp_path / "shop", free_port(), kit=getattr(request, "param", "full"))
    made.start()
    yield made
    made.kill()


@pytest.fixture(scope="module")
def invented(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The demo shop as of now, served like any other."""
    folder = make_demo_shop(tmp_path_factory.mktemp("invented") / "shop", datetime.now(UTC))
    made = Server(folder, free_port())
    made.start()
    until = time.monotonic() + GATHERED_S
    while urllib.request.urlopen(f"{made.url}/due").status == HTTPStatus.ACCEPTED:
        assert time.monotonic() < until, "the shop was not gathered in time"
        time.sleep(0.5)
    yield made
    made.kill()


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Pages in contexts of their own, watched for faults in the console."""
    contexts: list[BrowserContext] = []
    faults: list[str] = []

    def opened(size: str = "phone", **more: object) -> Page:
        context = browser.new_context(viewport=SIZES[size], **more)  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not faults, faults


@dataclass
class Card:
    """A visit's card as a technician uses it."""

    page: Page

    def field(self, key: str, *, stage: str = "as_left", set_number: int | None = None) -> Locator:
        name = "-".join(str(part) for part in (key, stage, set_number) if part)
        return self.page.locator(f"#f-{name}")

    def type(self, key: str, text: str, *, set_number: int | None = None, stage: str = "as_left") -> Locator:
        field = self.field(key, stage=stage, set_number=set_number)
        box = field.locator(".value input")
        box.fill(text)
        box.press("Tab")
        return field

    def choose(self, field: Locator, word: str) -> None:
        field.locator("label", has=self.page.locator(f'input[value="{word}"]')).click()

    def burn(self, *, o2: str = "4.8", basis: str = "measured") -> None:
        """The readings of the first set."""
        self.choose(self.page.locator(".about"), "diesel_2")
        self.choose(self.type("flue_o2", o2, set_number=1), "dry")
        self.choose(self.type("flue_co2", "11.9", set_number=1), basis)
        self.type("flue_co", "38", set_number=1)
        self.type("stack_gas_temperature", "236", set_number=1)
        self.type("combustion_air_temperature", "11", set_number=1)

    def on_the_van(self, field: Locator) -> None:
        expect(field.locator(".kept")).to_have_attribute("data-kept", "van")

    @property
    def judgement(self) -> Locator:
        return self.page.locator("#assessment")


def start_visit(page: Page, url: str, *, vehicle: str = "Saltgrass") -> Card:
    """From the list to the card."""
    page.goto(url)
    page.get_by_label("Find by vehicle").fill(vehicle.lower())
    expect(page.locator("#found li")).to_have_count(1)  # the list was swapped for what was found
    page.locator("#found a", has_text=vehicle).click()
    page.wait_for_url("**/heaters/*")  # the list starts a first visit too
    page.get_by_role("button", name="Start a visit").click()
    page.wait_for_selector("#visit[data-ready=yes]")
    return Card(page)


@pytest.fixture
def walk() -> Callable[..., Card]:
    return start_visit

"""The page in the place of one that is still being gathered: for everyone, and it gives way by itself."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from accessible import violations
from playwright.sync_api import Page, Route, expect
from starlette.testclient import TestClient

from lightoff.web import due, gathering
from lightoff.web.app import create_app
from lightoff.work.workshop import open_shop

if TYPE_CHECKING:
    from conftest import Server


@pytest.fixture
def under_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The page as the server answers it."""

    def slow(*_: Any, **__: Any) -> tuple[()]:
        time.sleep(0.5)
        return ()

    monkeypatch.setattr(gathering, "PATIENCE_S", 0.01)
    monkeypatch.setattr(due, "who_needs_visit", slow)
    with open_shop(tmp_path / "shop") as workshop:
        client = TestClient(create_app(workshop), base_url="http://127.0.0.1")
        answer = client.get("/due")
        assert answer.status_code == 202
        time.sleep(1.0)  # the work ends before its book does
        return answer.text


@pytest.mark.parametrize("appearance", ["light", "dark"])
def test_it_has_no_violation_and_goes_on_by_itself(
    server: Server, open_page: Callable[..., Page], under_way: str, appearance: str
) -> None:
    page = open_page("phone", color_scheme=appearance)
    asked: list[int] = []

    def answered(route: Route) -> None:
        asked.append(1)
        if len(asked) > 2:
            route.continue_()
        else:
            route.fulfill(status=202, content_type="text/html", body=under_way)

    page.route("**/due", answered)
    page.goto(f"{server.url}/due")
    expect(page.locator("progress")).to_be_visible()
    faults = violations(page)
    assert not faults, "\n".join(faults)
    expect(page.locator("h1")).to_have_text("Who needs a visit", timeout=30_000)

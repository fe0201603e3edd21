"""The smoke spot read off its photo: a proposal that closes no gate, taken over in one tap."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image
from playwright.sync_api import Page, expect

sys.path.insert(0, str(Path(__file__).parents[1] / "spot"))
from invented_photos import Scene, photograph

if TYPE_CHECKING:
    from conftest import Card, Server

SPOT = Scene(number=3.0)


def picture(path: Path, scene: Scene) -> Path:
    Image.fromarray(photograph(scene, np.random.default_rng(1))).save(path, quality=92)
    return path


def test_the_spot_is_read_off_its_photo_and_the_eye_decides(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], tmp_path: Path
) -> None:
    page = open_page()
    card = walk(page, server.url)
    field = card.field("smoke_number")
    field.locator(".value input").focus()
    page.locator("#photo").set_input_files(picture(tmp_path / "dark.jpg", replace(SPOT, exposure=0.01)))
    ask = field.get_by_role("button", name="Read the spot from the photo")
    ask.click()
    expect(field.locator(".pictures [role=status]")).to_contain_text("too dark")
    expect(field.locator("[data-body]")).to_have_count(0)

    page.locator("#photo").set_input_files(picture(tmp_path / "spot.jpg", SPOT))
    ask.click()
    expect(field.locator(".pictures [role=status]")).to_contain_text(
        "The eye beside the bought scale decides"
    )
    expect(field.locator(".pictures [role=status]")).to_contain_text("± 1.0")
    field.get_by_role("button", name="over", exact=False).click()
    expect(field.locator(".value input")).to_have_value("3.0")
    expect(field.locator(".basis-word")).to_have_text(", off a photograph")
    card.on_the_van(field)

    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(field.locator(".basis-word")).to_have_text(", off a photograph")
    address = page.url.split("#")[0] + ".toml"
    (read,) = tomllib.loads(page.request.get(address).text())["reading"]
    assert (read["key"], str(read["value"]), read["basis"]) == ("smoke_number", "3.0", "by photograph")

    # Typed by hand it is the eye's again.
    card.type("smoke_number", "3")
    card.on_the_van(field)
    (read,) = tomllib.loads(page.request.get(address).text())["reading"]
    assert "basis" not in read

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

    # Another photograph is not the one that it was read off, and no picture is told to be none.
    bound = read["photo"]
    other = page.locator('[data-task="smoke_left"] [data-shoot]')
    other.set_input_files(picture(tmp_path / "other.jpg", replace(SPOT, number=6.0)))
    expect(page.locator("#photos li")).to_have_count(3)
    expect(page.locator('#visit .kept[data-kept="phone"]')).to_have_count(0, timeout=30_000)
    (read,) = tomllib.loads(page.request.get(address).text())["reading"]
    assert (read["photo"], str(read["value"])) == (bound, "3.0")
    (tmp_path / "none.jpg").write_text("no picture")
    other.set_input_files(tmp_path / "none.jpg")
    expect(page.locator("#trouble")).to_contain_text("is no JPEG, PNG or WebP")
    card.type("living_space_co_running", "2")
    card.on_the_van(card.field("living_space_co_running"))
    expect(page.locator("#trouble")).to_contain_text("is no JPEG, PNG or WebP")

    # Typed by hand it is the eye's again.
    card.type("smoke_number", "3")
    card.on_the_van(field)
    every = tomllib.loads(page.request.get(address).text())["reading"]
    (read,) = (each for each in every if each["key"] == "smoke_number")
    assert "basis" not in read

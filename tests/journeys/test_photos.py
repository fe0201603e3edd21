"""Photo now, number later: the picture stands at its field, gives its time, and prints beside its reading."""

from __future__ import annotations

import io
import tomllib
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pikepdf
import pytest
from coming import comes_true
from PIL import Image
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from conftest import Card, Server

GREEN = (30, 200, 60)  # no other picture of the report has this colour
O2 = "#f-flue_o2-as_left-1"


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A photo as a telephone writes it, with device and place."""
    exif = Image.Exif()
    exif[0x010F] = "SecretCamera"
    exif.get_ifd(0x8825)[27] = b"GPSPlace"
    path = tmp_path / "display.jpg"
    Image.new("RGB", (1200, 900), GREEN).save(path, exif=exif.tobytes())
    assert b"GPSPlace" in path.read_bytes()
    return path


def readings(page: Page) -> list[dict[str, object]]:
    """The visit's readings as the book tells them."""
    return tomllib.loads(page.request.get(page.url.split("#")[0] + ".toml").text())["reading"]  # type: ignore[no-any-return]


def green_pictures(pdf: pikepdf.Pdf) -> Iterator[Image.Image]:
    for each in pdf.objects:
        if isinstance(each, pikepdf.Stream) and each.get("/Subtype") == "/Image":
            image = pikepdf.PdfImage(each).as_pil_image().convert("RGB")
            middle = image.getpixel((image.width // 2, image.height // 2))
            assert isinstance(middle, tuple)
            if all(abs(one - other) < 12 for one, other in zip(middle, GREEN, strict=True)):
                yield image


def told(pdf: pikepdf.Pdf) -> list[str]:
    """What is said of each picture to those who cannot see it."""
    return [
        str(each["/Alt"]) for each in pdf.objects if isinstance(each, pikepdf.Dictionary) and "/Alt" in each
    ]


def test_photo_now_number_later_and_beside_its_reading_on_paper(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], photo: Path
) -> None:
    page = open_page()
    card = walk(page, server.url)
    page.locator(f"{O2} .value input").focus()
    page.locator("#photo").set_input_files(photo)
    shot = page.locator(f"{O2} .shot")
    expect(shot).to_contain_text("type its number when there is time")
    expect(page.locator("#photos li .kept")).to_have_attribute("data-kept", "van")
    # The page is opened anew before anybody types: the picture waits at its own field.
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(shot.locator("img")).to_have_js_property("complete", value=True)
    expect(page.locator(".shot")).to_have_count(1)
    shot.click()
    expect(shot).to_have_attribute("aria-expanded", "true")
    page.wait_for_timeout(1500)
    o2 = card.type("flue_o2", "4.8", set_number=1)
    card.choose(o2, "dry")
    card.on_the_van(o2)
    expect(shot.locator(".waits")).to_be_hidden()
    (read,) = readings(page)
    taken, now = read["taken_at"], datetime.now().astimezone()
    assert isinstance(taken, datetime)
    assert now - taken > timedelta(seconds=1.5), "the number takes the photo's time"

    address = page.locator("#photos img").get_attribute("src") or ""
    shown = page.request.get(server.url + address).body()
    assert Image.open(io.BytesIO(shown)).size == (720, 540), "a page shows it small"
    assert b"SecretCamera" not in shown
    kept = page.request.get(server.url + address.partition("?")[0]).body()
    assert b"SecretCamera" not in kept
    assert b"GPSPlace" not in kept
    assert Image.open(io.BytesIO(kept)).size == (1200, 900)

    report = page.request.get(page.url.split("#")[0] + "/report.pdf").body()
    with pikepdf.open(io.BytesIO(report)) as opened:
        assert len(list(green_pictures(opened))) == 1
        assert [each for each in told(opened) if "O₂" in each and "4.8" in each and "set 1" in each]
    assert b"GPSPlace" not in report


def test_a_photo_after_the_number_belongs_to_it_too(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], photo: Path
) -> None:
    page = open_page()
    card = walk(page, server.url)
    co = card.type("flue_co", "38", set_number=1)
    card.on_the_van(co)
    before = readings(page)[0]
    co.locator(".value input").focus()
    page.locator("#photo").set_input_files(photo)
    expect(co.locator(".shot")).to_be_visible()
    named = (
        "() => fetch(location.pathname + '.toml').then(r => r.text()).then(told => /^photo = /m.test(told))"
    )
    assert comes_true(page, named)
    (after,) = readings(page)
    assert after["taken_at"] == before["taken_at"]


def test_a_large_photo_holds_no_reading_up(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], photo: Path
) -> None:
    page = open_page()
    card = walk(page, server.url)
    page.route("**/photos", lambda route: None)  # a thin line: the picture never gets through
    page.locator("#photo").set_input_files(photo)
    co = card.type("flue_co", "38", set_number=1)
    page.wait_for_timeout(300)
    expect(page.locator("#photos li .kept")).to_have_attribute("data-kept", "phone")
    card.on_the_van(co)


def test_what_is_too_large_or_no_picture_is_told_and_leaves_no_frame(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], photo: Path
) -> None:
    page = open_page()
    card = walk(page, server.url)
    no_picture = photo.with_name("notes.jpg")
    no_picture.write_text("what the meter showed")
    co = card.type("flue_co", "38", set_number=1)
    co.locator(".value input").focus()
    page.locator("#photo").set_input_files(no_picture)
    expect(page.locator("#trouble")).to_contain_text("no JPEG, PNG or WebP picture")
    expect(page.locator("#photos li")).to_have_count(0)
    expect(co.locator(".pictures > *")).to_have_count(0)
    card.on_the_van(co)
    assert next(each for each in readings(page) if each["key"] == "flue_co").get("photo") is None
    step = page.locator("#task-clean_nozzle")
    step.locator("[data-shoot]").last.set_input_files(no_picture)
    expect(step.locator("figure")).to_have_count(0)
    expect(page.locator("#trouble")).to_be_in_viewport()
    expect(step).to_have_attribute("data-done", "")  # no photograph, no answer
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(page.locator("#photos li")).to_have_count(0)
    expect(page.locator("figure")).to_have_count(0)
    expect(step).to_have_attribute("data-done", "")
    with photo.open("ab") as file:
        file.truncate(40_000_001)
    page.locator("#photo").set_input_files(photo)
    expect(page.locator("#trouble")).to_contain_text("larger than 40 MB")
    expect(page.locator("#photos li")).to_have_count(0)


def test_where_a_photo_was_taken_stands_beside_it_where_this_phone_keeps_it(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], tmp_path: Path
) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "S", 2: (41.0, 17.0, 11.0), 3: "E", 4: (174.0, 46.0, 34.0)})
    path = tmp_path / "there.jpg"
    Image.new("RGB", (400, 300), GREEN).save(path, exif=exif.tobytes())
    page = open_page()
    walk(page, server.url)
    visit = page.url.split("#")[0]
    photos = page.locator("#photos li")
    page.locator("#photo").set_input_files(path)
    expect(photos.first.locator(".kept")).to_have_attribute("data-kept", "van")
    expect(photos.first).not_to_contain_text("taken at")
    page.goto(f"{server.url}/settings")
    page.locator("#reader ~ form label", has=page.locator('input[name="location"][value="yes"]')).click()
    with page.expect_navigation():
        page.locator("#reader ~ form button").click()
    page.goto(visit)
    page.wait_for_selector("#visit[data-ready=yes]")
    page.locator("#photo").set_input_files(path)
    expect(photos.nth(1)).to_contain_text("taken at -41.28639, 174.77611")
    page.reload()
    expect(page.locator("#photos")).to_contain_text("taken at -41.28639, 174.77611")
    page.goto(f"{visit}/hand-over")
    expect(page.locator("main")).not_to_contain_text("174.77")


def test_a_picture_that_breaks_off_is_asked_about_at_its_field(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card], photo: Path
) -> None:
    page = open_page()
    card = walk(page, server.url)
    noisy = io.BytesIO()
    Image.effect_noise((640, 480), 80.0).convert("RGB").save(noisy, "JPEG")
    photo.write_bytes(noisy.getvalue()[: noisy.tell() // 2])
    co = card.type("flue_co", "38", set_number=1)
    card.on_the_van(co)
    co.locator(".value input").focus()
    page.locator("#photo").set_input_files(photo)
    asked = co.locator(".cut-short")
    expect(asked).to_contain_text("This picture breaks off or cannot be drawn")
    expect(page.locator("#trouble")).to_be_in_viewport()
    page.reload()  # nobody has answered: it waits on this phone, and asks again
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(asked).to_have_count(1)
    asked.get_by_role("button", name="Keep what there is").click()
    mine = page.locator("#photos li")
    expect(mine.locator(".kept")).to_have_attribute("data-kept", "van")
    expect(mine).to_contain_text("breaks off: a part of it is missing")
    expect(page.locator(".cut-short")).to_have_count(0)
    file = tomllib.loads(page.request.get(page.url.split("#")[0] + ".toml").text())
    assert [each["cut_short"] for each in file["photo"]] == [True]
    assert file["photo"][0]["id"] == readings(page)[0]["photo"]

    o2 = page.locator(O2)
    o2.locator(".value input").focus()
    page.locator("#photo").set_input_files(photo)
    o2.locator(".cut-short").get_by_role("button", name="Take it away").click()
    expect(o2.locator(".pictures > *")).to_have_count(0)
    expect(mine).to_have_count(1)
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(mine).to_have_count(1)
    expect(mine).to_contain_text("breaks off: a part of it is missing")
    expect(page.locator(".cut-short")).to_have_count(0)

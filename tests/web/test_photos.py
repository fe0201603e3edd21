"""The door that reads a smoke spot off a photo: a proposal, and nothing kept."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pikepdf
import pytest
from PIL import Image

from lightoff.work.keep_visit_file import keep_visit_file
from lightoff.work.visit_file import read_visit_file

sys.path.insert(0, str(Path(__file__).parents[1] / "spot"))
from invented_photos import Scene, photograph

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


def written(scene: Scene) -> bytes:
    file = io.BytesIO()
    Image.fromarray(photograph(scene, np.random.default_rng(1))).save(file, "JPEG", quality=92)
    return file.getvalue()


def test_a_spot_is_proposed_off_a_photograph(bay: Bay) -> None:
    answer = bay.client.post("/photos/smoke-spot", content=written(Scene(number=2.0)), headers=OWN).json()
    assert answer["body"] == {"value": "2.0", "unit": "smoke no.", "basis": "by photograph"}
    assert answer["take_over"] == "Take 2.0 over"
    assert answer["said"][-1].startswith("The eye beside the bought scale decides")


def test_a_refused_photo_offers_nothing_to_take_over(bay: Bay) -> None:
    dark = written(Scene(number=2.0, exposure=0.01))
    answer = bay.client.post("/photos/smoke-spot", content=dark, headers=OWN).json()
    assert answer["take_over"] is None
    assert "body" not in answer
    assert "too dark" in answer["said"][0]


def test_what_is_no_picture_is_refused_with_a_sentence(bay: Bay) -> None:
    headers = {**OWN, "accept": "application/json"}
    answer = bay.client.post("/photos/smoke-spot", content=b"none", headers=headers)
    assert answer.status_code == 422
    assert "no JPEG, PNG or WebP picture" in answer.json()["problem"]


def test_a_page_gets_a_picture_small_and_a_program_the_whole(bay: Bay) -> None:
    file = io.BytesIO()
    Image.effect_noise((1600, 1200), 80.0).convert("RGB").save(file, "JPEG", quality=92)
    whole = file.getvalue()
    sha256 = bay.client.post("/photos", content=whole, headers=OWN).json()["sha256"]
    kept = bay.client.get(f"/photos/{sha256}").content
    answer = bay.client.get(f"/photos/{sha256}?small=yes")
    assert answer.headers["content-type"] == "image/jpeg"
    assert len(answer.content) < len(kept)
    with Image.open(io.BytesIO(answer.content)) as small, Image.open(io.BytesIO(kept)) as large:
        assert max(small.size) < max(large.size)


def cut(share: float, kind: str = "JPEG") -> bytes:
    """A picture whose file breaks off."""
    file = io.BytesIO()
    Image.effect_noise((320, 240), 80.0).convert("RGB").save(file, kind)
    return file.getvalue()[: int(share * file.tell())]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("share", [0.3, 0.9, 0.999])
def test_a_picture_that_breaks_off_is_asked_about_and_kept_where_one_says_so(
    bay: Bay, kind: str, share: float
) -> None:
    data, headers = cut(share, kind), {**OWN, "accept": "application/json"}
    asked = bay.client.post("/photos", content=data, headers=headers)
    assert asked.status_code == 409
    assert "breaks off or cannot be drawn" in asked.json()["problem"]
    assert asked.json()["problems"][0]["field"] == "photo"
    kept = bay.client.post("/photos?cut_short=yes", content=data, headers=headers).json()
    assert bay.client.get(f"/photos/{kept['sha256']}?small=yes").status_code == 200


def test_a_picture_with_its_end_but_nothing_to_draw_is_asked_about(bay: Bay) -> None:
    data = bytearray(cut(1.0))
    scan = data.index(b"\xff\xda")
    data[scan + 4] = 9  # more components than any picture has
    asked = bay.client.post("/photos", content=bytes(data), headers=OWN)
    assert asked.status_code == 409


def test_a_picture_that_ends_before_it_begins_is_refused_however_often_one_says_so(bay: Bay) -> None:
    headers = {**OWN, "accept": "application/json"}
    for data in (cut(1.0)[:100], b"\xff\xd8\xff\xd9", b""):
        answer = bay.client.post("/photos?cut_short=yes", content=data, headers=headers)
        assert answer.status_code == 422
        assert "ends before anything of it is seen" in answer.json()["problem"]


def test_a_kept_part_says_so_on_card_hand_over_report_and_in_the_file(bay: Bay, visit: str) -> None:
    answer = bay.client.post("/photos?cut_short=yes", content=cut(0.6), headers=OWN).json()
    taken = {"heater": bay.ids["heater"], "taken_at": bay.clock().isoformat(), "cut_short": True}
    bay.send(bay.entry({**taken, **answer}, named="photo"))
    for page in ("", "/hand-over"):
        assert "breaks off: a part of it is missing" in bay.client.get(f"/visits/{visit}{page}").text
    with pikepdf.open(io.BytesIO(bay.client.get(f"/visits/{visit}/report.pdf").content)) as pdf:
        said = [
            str(each["/Alt"])
            for each in pdf.objects
            if isinstance(each, pikepdf.Dictionary) and "/Alt" in each
        ]
    assert any("breaks off: a part of it is missing" in each for each in said)
    file = bay.client.get(f"/visits/{visit}.toml").content
    assert b"cut_short = true" in file
    assert read_visit_file(file, "visit.toml", bay.workshop.shelf).visit.photos[0].cut_short


def test_no_spot_is_read_off_a_picture_that_breaks_off(bay: Bay) -> None:
    whole = written(Scene(number=2.0))
    headers = {**OWN, "accept": "application/json"}
    answer = bay.client.post("/photos/smoke-spot", content=whole[: len(whole) // 2], headers=headers)
    assert answer.status_code == 422
    assert "breaks off" in answer.json()["problem"]


def with_place() -> bytes:
    """A photo as a telephone writes it: 52.3733 degrees north, 4.8924 degrees east."""
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 22.0, 23.88), 3: "E", 4: (4.0, 53.0, 32.64)})
    file = io.BytesIO()
    Image.new("RGB", (400, 300), "#857A6B").save(file, "JPEG", exif=exif.tobytes())
    return file.getvalue()


def sent(bay: Bay) -> dict[str, str]:
    """The photo and its entry, as the card sends them."""
    answer: dict[str, str] = bay.client.post("/photos", content=with_place(), headers=OWN).json()
    taken = {"heater": bay.ids["heater"], "taken_at": bay.clock().isoformat(), "step": "close_cover"}
    bay.send(bay.entry({**taken, "stage": "as left", **answer}, named="photo"))
    return answer


def gps_of(picture: bytes) -> dict[int, object]:
    with Image.open(io.BytesIO(picture)) as opened:
        return dict(opened.getexif().get_ifd(0x8825))


def test_where_a_photo_was_taken_is_thrown_away(bay: Bay, visit: str) -> None:
    assert gps_of(with_place())
    answer = sent(bay)
    assert set(answer) == {"sha256", "media_type"}
    assert not gps_of(bay.client.get(f"/photos/{answer['sha256']}").content)
    assert bay.workshop.book.visit(visit).photos[0].place == ""
    assert "52.37" not in bay.client.get(f"/visits/{visit}").text


def test_where_it_was_taken_is_kept_where_one_wants_it_and_stands_on_the_card_alone(
    bay: Bay, visit: str
) -> None:
    bay.send(bay.reading("smoke_number", "0", "smoke no.", instrument=bay.ids["smoke_pump"]))
    page = bay.client.get("/settings").text
    assert 'name="location" value="no" checked' in page
    told = {"units": "metric", "appearance": "auto", "gloves": "no", "location": "yes"}
    bay.client.post("/settings/reader", data=told, headers=OWN)
    assert 'name="location" value="yes" checked' in bay.client.get("/settings").text
    answer = sent(bay)
    assert answer["place"] == "52.37330, 4.89240"
    assert bay.workshop.book.visit(visit).photos[0].place == answer["place"]
    assert "taken at 52.37330, 4.89240" in bay.client.get(f"/visits/{visit}").text
    assert not gps_of(bay.client.get(f"/photos/{answer['sha256']}").content)
    assert not gps_of(bay.client.get(f"/photos/{answer['sha256']}?small=yes").content)
    pdf = bay.client.get(f"/visits/{visit}/report.pdf").content
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        attached = [each.get_file().read_bytes() for each in opened.attachments.values()]
        drawn = [
            each.read_bytes()
            for each in opened.objects
            if isinstance(each, pikepdf.Stream) and each.get("/Subtype") != "/Image"
        ]
    assert attached
    assert drawn
    faces = [bay.client.get(f"/visits/{visit}{each}").content for each in ("/hand-over", ".toml", ".json")]
    for each in (*faces, pdf, *attached, *drawn):
        assert b"52.37" not in each
        assert b"4.892" not in each
    case = read_visit_file(faces[1], "visit.toml", bay.workshop.shelf)
    assert keep_visit_file(bay.workshop, case) == (), "its own file takes no place away"
    assert bay.workshop.book.visit(visit).photos[0].place == answer["place"]

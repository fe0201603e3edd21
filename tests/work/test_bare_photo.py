"""A photo is kept without its whereabouts and unchanged in every pixel; judged by an independent reader."""

from __future__ import annotations

import io
import struct
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin

from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.work.bare_photo import bare_photo

TYPES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
SECRETS = (b"SecretCamera", b"GPSPlace", b"x:xmpmeta", b"a comment", b"ftypmp42")


def marks(turned: int = 1) -> bytes:
    """Exif with a device, a place and an orientation."""
    exif = Image.Exif()
    exif[0x010F] = "SecretCamera"
    exif[0x0112] = turned
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (52.0, 5.0, 7.5)
    exif.get_ifd(0x8825)[27] = b"GPSPlace"
    return exif.tobytes()


def picture(kind: str, *, turned: int = 1, **more: Any) -> bytes:
    image = Image.effect_mandelbrot((96, 64), (-2, -1, 1, 1), 40).convert("RGB")
    written = io.BytesIO()
    extra: dict[str, Any] = {"exif": marks(turned)}
    if kind == "JPEG":
        extra |= {"comment": b"a comment", "progressive": True, "quality": 90}
    if kind == "PNG":
        info = PngImagePlugin.PngInfo()
        info.add_text("place", "GPSPlace")
        info.add_itxt("XML:com.adobe.xmp", "x:xmpmeta GPSPlace")
        extra |= {"pnginfo": info}
    if kind == "WEBP":
        extra |= {"xmp": b"<x:xmpmeta GPSPlace/>", "lossless": True}
    image.save(written, kind, **{**extra, **more})
    return written.getvalue()


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


@pytest.mark.parametrize("turned", [1, 3, 6, 8])
@pytest.mark.parametrize("kind", TYPES)
def test_the_pixels_stay_and_the_whereabouts_go(kind: str, turned: int) -> None:
    data = picture(kind, turned=turned)
    assert b"SecretCamera" in data
    bare = bare_photo(data, TYPES[kind])
    assert not [each for each in SECRETS if each in bare]
    before, after = opened(data), opened(bare)
    assert after.tobytes() == before.tobytes()
    assert after.size == (96, 64)
    exif = after.getexif()
    assert dict(exif) in ({}, {0x0112: turned})
    assert not exif.get_ifd(0x8825)
    if kind != "PNG":  # a camera writes no PNG
        assert exif.get(0x0112, 1) == turned
    assert bare_photo(bare, TYPES[kind]) == bare


def test_a_profile_of_colours_stays_and_what_hangs_behind_goes() -> None:
    profile = b"a profile of colours, as a screen writes it"
    data = picture("JPEG", icc_profile=profile) + b"\0\0\0\x18ftypmp42 a film with its own GPSPlace"
    bare = bare_photo(data, "image/jpeg")
    assert opened(bare).info["icc_profile"] == profile
    assert bare.endswith(b"\xff\xd9")
    assert not [each for each in SECRETS if each in bare]


def test_restart_markers_and_fill_bytes_are_of_the_picture() -> None:
    data = picture("JPEG", restart_marker_blocks=1, progressive=False)
    assert data.count(b"\xff\xd0") > 0
    filled = data[:2] + b"\xff\xff" + data[2:]
    assert opened(bare_photo(filled, "image/jpeg")).tobytes() == opened(data).tobytes()


def test_a_picture_that_broke_off_is_kept_as_far_as_it_goes() -> None:
    data = picture("JPEG", progressive=False)
    bare = bare_photo(data[: len(data) - 200], "image/jpeg")
    assert b"SecretCamera" not in bare
    assert len(bare) > 500


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"\xff\xd8\xff", "image/jpeg"),
        (b"\xff\xd8\xff\xe1\xff\xffExif", "image/jpeg"),
        (b"\xff\xd8hello", "image/jpeg"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "image/png"),
        (b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 2**31) + b"IHDR", "image/png"),
        (b"RIFF\x04\0\0\0WEBP", "image/webp"),
        (b"RIFF\xff\xff\xff\xffWEBPVP8 \xff\xff\xff\xff", "image/webp"),
    ],
)
def test_what_is_no_picture_is_refused_with_a_sentence(data: bytes, kind: str) -> None:
    with pytest.raises(Refusal) as refused:
        bare_photo(data, kind)
    assert "no JPEG, PNG or WebP picture" in Speaker().say(refused.value.message)


@given(st.sampled_from(sorted(TYPES)), st.data())
def test_any_damage_is_a_picture_or_a_refusal(kind: str, draw: st.DataObject) -> None:
    data = bytearray(picture(kind, turned=6))
    for _ in range(draw.draw(st.integers(1, 8))):
        data[draw.draw(st.integers(0, len(data) - 1))] = draw.draw(st.integers(0, 255))
    try:
        bare = bare_photo(bytes(data), TYPES[kind])
    except Refusal:
        return
    assert len(bare) <= len(data) + 40

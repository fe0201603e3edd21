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
from lightoff.work.bare_photo import Bare, bare_photo

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
    bare = bare_photo(data).data
    assert not [each for each in SECRETS if each in bare]
    before, after = opened(data), opened(bare)
    assert after.tobytes() == before.tobytes()
    assert after.size == (96, 64)
    exif = after.getexif()
    assert dict(exif) in ({}, {0x0112: turned})
    assert not exif.get_ifd(0x8825)
    if kind != "PNG":  # a camera writes no PNG
        assert exif.get(0x0112, 1) == turned
    assert bare_photo(bare) == Bare(data=bare, media_type=TYPES[kind], is_whole=True)


def test_a_profile_of_colours_stays_and_what_hangs_behind_goes() -> None:
    profile = b"a profile of colours, as a screen writes it"
    data = picture("JPEG", icc_profile=profile) + b"\0\0\0\x18ftypmp42 a film with its own GPSPlace"
    bare = bare_photo(data).data
    assert opened(bare).info["icc_profile"] == profile
    assert bare.endswith(b"\xff\xd9")
    assert not [each for each in SECRETS if each in bare]


def test_restart_markers_and_fill_bytes_are_of_the_picture() -> None:
    data = picture("JPEG", restart_marker_blocks=1, progressive=False)
    assert data.count(b"\xff\xd0") > 0
    filled = data[:2] + b"\xff\xff" + data[2:]
    assert opened(bare_photo(filled).data).tobytes() == opened(data).tobytes()


@pytest.mark.parametrize("kind", TYPES)
def test_of_a_picture_that_broke_off_is_told_that_it_did(kind: str) -> None:
    data = picture(kind)
    assert bare_photo(data).is_whole
    for share in (0.98, 0.9, 0.6):
        bare = bare_photo(data[: int(share * len(data))])
        assert not bare.is_whole
        assert not [each for each in SECRETS if each in bare.data]


@given(st.sampled_from(sorted(TYPES)), st.booleans(), st.data())
def test_wherever_a_file_ends_too_early_it_is_no_whole_picture(
    kind: str, progressive: bool, draw: st.DataObject
) -> None:
    data = picture(kind, **({"progressive": progressive} if kind == "JPEG" else {}))
    try:
        bare = bare_photo(data[: draw.draw(st.integers(0, len(data) - 1))])
    except Refusal as refused:
        assert "ends before anything of it is seen" in Speaker().say(refused.message)
        return
    assert not bare.is_whole


def test_the_part_that_is_there_is_drawn() -> None:
    data = picture("JPEG", progressive=False)
    bare = bare_photo(data[: len(data) * 7 // 10])
    whole, part = opened(data), opened(bare.data)
    top = (0, 0, 96, 8)
    assert not bare.is_whole
    assert part.crop(top).tobytes() == whole.crop(top).tobytes()
    assert part.tobytes() != whole.tobytes()


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a",
        b"\xff\xd8\xff",
        b"\xff\xd8\xff\xe1\xff\xffExif",
        b"\xff\xd8hello",
        b"\x89PNG\r\n\x1a\n" + b"\0" * 40,
        b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 2**31) + b"IHDR",
        b"RIFF\x04\0\0\0WEBP",
        b"RIFF\x20\0\0\0WEBPEXIF\xff\xff\xff\xff",
    ],
)
def test_what_is_no_picture_is_refused_with_a_sentence(data: bytes) -> None:
    with pytest.raises(Refusal) as refused:
        bare_photo(data)
    assert "no JPEG, PNG or WebP picture" in Speaker().say(refused.value.message)


@given(st.sampled_from(sorted(TYPES)), st.data())
def test_any_damage_is_a_picture_or_a_refusal(kind: str, draw: st.DataObject) -> None:
    data = bytearray(picture(kind, turned=6))
    for _ in range(draw.draw(st.integers(1, 8))):
        data[draw.draw(st.integers(0, len(data) - 1))] = draw.draw(st.integers(0, 255))
    try:
        bare = bare_photo(bytes(data)).data
    except Refusal:
        return
    assert len(bare) <= len(data) + 40

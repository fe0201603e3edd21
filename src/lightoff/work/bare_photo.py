"""A photo without what its camera wrote beside the picture: place, time, owner, device.

The picture itself stays byte for byte as it came, nothing is encoded anew: JPEG segments, PNG and WebP
chunks that do not draw are left out. Which way up it was held is kept: without it a photo lies on its side.
Of a file that was cut short, what there is of the picture.
Basis: JPEG (ITU-T T.81), Exif 2.3 for the tag of orientation, PNG (W3C), WebP container (RFC 9649); from
memory, unverified, and held against an independent reader of pictures in the tests.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.ground.values import dataclass

_EXIF = b"Exif\0\0"
_ORIENTATION = 0x0112
_TURNED = range(2, 9)  # 1 is upright
# What a decoder needs to show the same colours and edges.
_PNG_DRAWS = frozenset(
    b"IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB cICP bKGD pHYs acTL fcTL fdAT".split()
)
_WEBP_DRAWS = frozenset((b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ICCP", b"ANIM", b"ANMF"))
_WEBP_PICTURES = frozenset((b"VP8 ", b"VP8L", b"ANMF"))
_WEBP_HAS_EXIF, _WEBP_HAS_XMP = 0x08, 0x04


_BEGINNINGS = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
)
_END_OF_IMAGE, _START_OF_SCAN = 0xD9, 0xDA


@dataclass(frozen=True, slots=True, kw_only=True)
class Bare:
    """The bytes of a picture, what they are, and whether its file goes on to its end."""

    data: bytes
    media_type: str
    is_whole: bool


def media_type_of(data: bytes) -> str:
    """What the bytes say they are, whatever the sender calls them; "" for none of ours."""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    return next((kind for beginning, kind in _BEGINNINGS if data.startswith(beginning)), "")


def bare_photo(data: bytes) -> Bare:
    """The picture alone. Raises Refusal for what is none of ours or ends before anything of it is seen."""
    kind = media_type_of(data)
    try:
        bare, is_whole = {"image/jpeg": _bare_jpeg, "image/png": _bare_png, "image/webp": _bare_webp}[kind](
            data
        )
    except (KeyError, struct.error, ValueError) as trouble:
        raise Refusal(message("web_error.not_a_photo"), field="photo") from trouble
    return Bare(data=bare, media_type=kind, is_whole=is_whole)


# ---- JPEG -------------------------------------------------------------------------------------------


def _bare_jpeg(data: bytes) -> tuple[bytes, bool]:
    kept, turned, markers = [data[:2]], 1, []
    for marker, segment in _jpeg_segments(data):
        body = segment[4:]
        markers.append(marker)
        if marker == 0xE1 and body.startswith(_EXIF):
            turned = _orientation(body[len(_EXIF) :])
        if _draws(marker, body):
            kept.append(segment)
    if _START_OF_SCAN not in markers:
        raise ValueError("no picture")
    is_whole = markers[-1] == _END_OF_IMAGE
    if not is_whole:
        kept.append(bytes((0xFF, _END_OF_IMAGE)))  # so that every reader draws the part that is there
    if turned in _TURNED:
        kept.insert(1, _segment(0xE1, _EXIF + _only_orientation(turned)))
    return b"".join(kept), is_whole


def _jpeg_segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Marker and bytes of each segment up to the end of the image; what hangs behind it is no part of it.

    Without that end where the file ends before it. Of a segment that outruns the file nothing is told.
    """
    at = 2
    while at < len(data):
        if data[at] != 0xFF:
            raise ValueError("no marker")
        while data[at + 1 : at + 2] == b"\xff":  # fill bytes
            at += 1
        if at + 1 >= len(data):
            return
        marker = data[at + 1]
        if marker == _END_OF_IMAGE:
            yield marker, data[at : at + 2]
            return
        if marker == 0x01 or 0xD0 <= marker <= 0xD7:
            yield marker, data[at : at + 2]
            at += 2
            continue
        if at + 4 > len(data):
            return
        (length,) = struct.unpack_from(">H", data, at + 2)
        end = at + 2 + length
        if length < 2:
            raise ValueError("a segment without length")
        if end > len(data):
            return
        if marker == _START_OF_SCAN:  # the picture itself follows up to the next marker
            end = _end_of_scan(data, end)
        yield marker, data[at:end]
        at = end


def _end_of_scan(data: bytes, at: int) -> int:
    """Where the coded picture ends: at a marker that is neither stuffing, nor a restart, nor fill."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            return len(data)
        following = data[at + 1]
        if following == 0xFF:
            at += 1
        elif following == 0x00 or 0xD0 <= following <= 0xD7:
            at += 2
        else:
            return at


def _draws(marker: int, body: bytes) -> bool:
    """Whether a segment is of the picture: not an application's own, not a comment."""
    if marker == 0xE2:
        return body.startswith(b"ICC_PROFILE\0")
    return marker in (0xE0, 0xEE) or not (0xE0 <= marker <= 0xEF or marker == 0xFE)


def _segment(marker: int, body: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body


# ---- Exif: which way up -----------------------------------------------------------------------------


def _orientation(tiff: bytes) -> int:
    """The tag of orientation in an Exif block, 1 where there is none that can be read."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2], "")
    if not order:
        return 1
    try:
        (first,) = struct.unpack_from(f"{order}I", tiff, 4)
        (count,) = struct.unpack_from(f"{order}H", tiff, first)
        for index in range(min(count, 200)):
            tag, _, _, value = struct.unpack_from(f"{order}HHIH", tiff, first + 2 + 12 * index)
            if tag == _ORIENTATION:
                return int(value)
    except struct.error:
        return 1
    return 1


def _only_orientation(turned: int) -> bytes:
    """A TIFF block that holds the orientation and nothing else."""
    return b"MM\0\x2a\0\0\0\x08" + struct.pack(">HHHIHHI", 1, _ORIENTATION, 3, 1, turned, 0, 0)


# ---- PNG and WebP -----------------------------------------------------------------------------------


def _bare_png(data: bytes) -> tuple[bytes, bool]:
    kept, at, has_rows = [data[:8]], 8, False
    while at + 8 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        has_rows |= kind == b"IDAT"
        if kind in _PNG_DRAWS and (end <= len(data) or kind == b"IDAT"):  # rows are drawn as far as they go
            kept.append(data[at:end])
        if kind == b"IEND" and end <= len(data):
            break
        at = end
    if not has_rows:
        raise ValueError("no picture")
    return b"".join(kept), kept[-1][4:8] == b"IEND"


def _bare_webp(data: bytes) -> tuple[bytes, bool]:
    (size,) = struct.unpack_from("<I", data, 4)
    stop = min(len(data), size + 8)
    is_whole, kept, turned, at = len(data) >= size + 8, [], 1, 12
    while at + 8 <= stop:
        kind, length = struct.unpack_from("<4sI", data, at)
        end = at + 8 + length + length % 2
        is_whole &= at + 8 + length <= stop
        chunk = data[at:end]
        if kind == b"EXIF":
            turned = _orientation(chunk[8:].removeprefix(_EXIF))
        if kind in _WEBP_DRAWS:
            kept.append(chunk)
        at = end
    if not any(each[:4] in _WEBP_PICTURES for each in kept):
        raise ValueError("no picture")
    if kept[0][:4] == b"VP8X":
        flags = kept[0][8] & ~(_WEBP_HAS_EXIF | _WEBP_HAS_XMP)
        if turned in _TURNED:
            flags |= _WEBP_HAS_EXIF
            kept.append(b"EXIF" + struct.pack("<I", 26) + _only_orientation(turned))
        kept[0] = kept[0][:8] + bytes((flags,)) + kept[0][9:]
    body = b"WEBP" + b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(body)) + body, is_whole

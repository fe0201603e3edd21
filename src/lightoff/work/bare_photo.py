"""A photo without what its camera wrote beside the picture: place, time, owner, device.

The picture itself stays byte for byte as it came, nothing is encoded anew: JPEG segments, PNG and WebP
chunks that do not draw are left out. Which way up it was held is kept: without it a photo lies on its side.
Basis: JPEG (ITU-T T.81), Exif 2.3 for the tag of orientation, PNG (W3C), WebP container (RFC 9649); from
memory, unverified, and held against an independent reader of pictures in the tests.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message

_EXIF = b"Exif\0\0"
_ORIENTATION = 0x0112
_TURNED = range(2, 9)  # 1 is upright
# What a decoder needs to show the same colours and edges.
_PNG_DRAWS = frozenset(
    b"IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB cICP bKGD pHYs acTL fcTL fdAT".split()
)
_WEBP_DRAWS = frozenset((b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ICCP", b"ANIM", b"ANMF"))
_WEBP_HAS_EXIF, _WEBP_HAS_XMP = 0x08, 0x04


def bare_photo(data: bytes, media_type: str) -> bytes:
    """The picture alone. Raises Refusal where the bytes are not built as their type says."""
    bare = {"image/jpeg": _bare_jpeg, "image/png": _bare_png, "image/webp": _bare_webp}[media_type]
    try:
        return bare(data)
    except (struct.error, ValueError) as trouble:
        raise Refusal(message("web_error.not_a_photo"), field="photo") from trouble


# ---- JPEG -------------------------------------------------------------------------------------------


def _bare_jpeg(data: bytes) -> bytes:
    if data[:2] != b"\xff\xd8":
        raise ValueError("no start of image")
    kept, turned = [data[:2]], 1
    for marker, segment in _jpeg_segments(data):
        body = segment[4:]
        if marker == 0xE1 and body.startswith(_EXIF):
            turned = _orientation(body[len(_EXIF) :])
        if _draws(marker, body):
            kept.append(segment)
    if len(kept) < 3:
        raise ValueError("no picture")
    if turned in _TURNED:
        kept.insert(1, _segment(0xE1, _EXIF + _only_orientation(turned)))
    return b"".join(kept)


def _jpeg_segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Marker and bytes of each segment up to the end of the image; what hangs behind it is no part of it."""
    at = 2
    while at < len(data):
        if data[at] != 0xFF:
            raise ValueError("no marker")
        while data[at + 1 : at + 2] == b"\xff":  # fill bytes
            at += 1
        marker = data[at + 1] if at + 1 < len(data) else 0xD9
        if marker == 0xD9:
            yield marker, data[at : at + 2]
            return
        if marker == 0x01 or 0xD0 <= marker <= 0xD7:
            yield marker, data[at : at + 2]
            at += 2
            continue
        (length,) = struct.unpack_from(">H", data, at + 2)
        end = at + 2 + length
        if length < 2 or end > len(data):
            raise ValueError("a segment outruns the file")
        if marker == 0xDA:  # start of scan: the picture itself follows up to the next marker
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


def _bare_png(data: bytes) -> bytes:
    kept, at = [data[:8]], 8
    while at < len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        if end > len(data):
            raise ValueError("a chunk outruns the file")
        if kind in _PNG_DRAWS:
            kept.append(data[at:end])
        if kind == b"IEND":
            return b"".join(kept)
        at = end
    raise ValueError("no end of image")


def _bare_webp(data: bytes) -> bytes:
    (size,) = struct.unpack_from("<I", data, 4)
    stop = min(len(data), size + 8)
    kept, turned, at = [], 1, 12
    while at + 8 <= stop:
        kind, length = struct.unpack_from("<4sI", data, at)
        end = at + 8 + length + length % 2
        if at + 8 + length > stop:
            raise ValueError("a chunk outruns the file")
        chunk = data[at:end]
        if kind == b"EXIF":
            turned = _orientation(chunk[8:].removeprefix(_EXIF))
        if kind in _WEBP_DRAWS:
            kept.append(chunk)
        at = end
    if not kept:
        raise ValueError("no picture")
    is_extended = kept[0][:4] == b"VP8X"
    if is_extended:
        flags = kept[0][8] & ~(_WEBP_HAS_EXIF | _WEBP_HAS_XMP)
        if turned in _TURNED:
            flags |= _WEBP_HAS_EXIF
            kept.append(b"EXIF" + struct.pack("<I", 26) + _only_orientation(turned))
        kept[0] = kept[0][:8] + bytes((flags,)) + kept[0][9:]
    body = b"WEBP" + b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(body)) + body

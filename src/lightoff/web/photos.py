"""Photos: bytes in, their name out; the entry that says what they show comes through /entries."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.web.page import Page
from lightoff.work.keep_photo import keep_photo as kept

rooms = APIRouter(tags=["photos"])
_BEGINNINGS = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
)


def media_type_of(data: bytes) -> str:
    """What the bytes say they are, whatever the sender calls them; "" for none of ours."""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    return next((kind for beginning, kind in _BEGINNINGS if data.startswith(beginning)), "")


@rooms.post("/photos")
async def keep_photo(request: Request) -> Response:
    """Keeps the body, a JPEG, PNG or WebP picture of at most 40 MB, without where and with what it was taken.

    Answers with the SHA-256 under which the bare picture lies in the book.
    """
    page = Page.of(request)
    data = await request.body()
    kind = media_type_of(data)
    if not kind:
        raise Refusal(message("web_error.not_a_photo"), field="photo")
    sha256 = await run_in_threadpool(kept, page.house.workshop, data, kind)
    return JSONResponse({"sha256": sha256, "media_type": kind})


@rooms.get("/photos/{sha256}", include_in_schema=False)
def show_photo(request: Request, sha256: str) -> Response:
    """The picture itself."""
    data = Page.of(request).book.photo_bytes(sha256)
    return Response(
        data,
        media_type=media_type_of(data) or "application/octet-stream",
        headers={"cache-control": "private, max-age=31536000, immutable"},
    )

"""Photos: bytes in, their name out; the entry that says what they show comes through /entries."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from lightoff.spot.telling import said
from lightoff.terms.visit import BY_PHOTOGRAPH
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.bare_photo import media_type_of
from lightoff.work.keep_photo import keep_photo as kept
from lightoff.work.read_smoke_spot import read_smoke_spot
from lightoff.work.small_photo import small_photo
from lightoff.work.where_taken import where_taken

rooms = Rooms()


@rooms.post("/photos")
async def keep_photo(request: Request) -> Response:
    """Keeps the body, a JPEG, PNG or WebP picture of at most 40 MB, without where and with what it was taken.

    Answers with the SHA-256 under which the bare picture lies in the book; and with where it was taken, where
    the reader of this browser wants that kept: for the entry, never in the picture. One that breaks off is
    kept with `?cut_short=yes` alone.
    """
    page = Page.of(request)
    data = await request.body()
    is_meant = page.asked("cut_short") == "yes"
    sha256, kind = await run_in_threadpool(kept, page.house.workshop, data, is_meant=is_meant)
    answer = {"sha256": sha256, "media_type": kind}
    if page.preferences.keeps_location:
        place = await run_in_threadpool(where_taken, data)
        answer |= {"place": place} if place else {}
    return JSONResponse(answer)


@rooms.post("/photos/smoke-spot")
async def read_spot(request: Request) -> Response:
    """Reads the smoke spot in the body, a picture of at most 40 MB; nothing of it is kept.

    Answers with sentences and, where there is a number, with the reading that one tap takes over: off a
    photograph, which closes no gate.
    """
    page = Page.of(request)
    reading = await run_in_threadpool(read_smoke_spot, await request.body())
    answer: dict[str, object] = {
        "said": [page.speaker.say(each) for each in said(reading)],
        "take_over": None,
    }
    if reading.number is not None:
        value = f"{reading.number:.1f}"
        answer["take_over"] = page.speaker.text("spot.take_over", number=value)
        answer["body"] = {"value": value, "unit": "smoke no.", "basis": BY_PHOTOGRAPH}
    return JSONResponse(answer)


@rooms.get("/photos/{sha256}")
def show_photo(request: Request, sha256: str) -> Response:
    """The picture itself, or with `?small=yes` no larger than a page shows it."""
    page = Page.of(request)
    data = small_photo(page.house.workshop, sha256) if page.asked("small") else page.book.photo_bytes(sha256)
    return Response(
        data,
        media_type=media_type_of(data) or "application/octet-stream",
        headers={"cache-control": "private, max-age=31536000, immutable"},
    )

"""Static files under an address that changes with any of them.

All stand under one hash, "/static/0f3a.../paper.css", so that a file which names a neighbour gets the
neighbour of its own issue, a browser keeps each for a year, and a page that a phone kept finds the files it
was made with.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

A_YEAR = "public, max-age=31536000, immutable"
_HASHED = re.compile(r"[0-9a-f]{12}[/\\]")


@cache
def issue() -> str:
    """A short hash of all static files together."""
    digest = hashlib.sha256()
    for path, file in _walk(files("lightoff.web").joinpath("static"), ""):
        digest.update(path.encode() + b"\0" + file.read_bytes() + b"\0")
    return digest.hexdigest()[:12]


def static(path: str) -> str:
    """The address of a static file."""
    return f"/static/{issue()}/{path}"


def _walk(folder: Traversable, above: str) -> Iterator[tuple[str, Traversable]]:
    for each in sorted(folder.iterdir(), key=lambda each: each.name):
        path = f"{above}/{each.name}"
        if each.is_dir():
            yield from _walk(each, path)
        else:
            yield path, each


class HashedFiles(StaticFiles):
    """The files; one that is asked for by the hash of this issue never changes."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, with or without a hash before it; by another hash it is that of today, kept by nobody."""
        hashed = _HASHED.match(path)
        response = await super().get_response(path[hashed.end() :] if hashed else path, scope)
        is_this = hashed is not None and path[:12] == issue() and response.status_code == 200
        response.headers["cache-control"] = A_YEAR if is_this else "no-cache"
        return response

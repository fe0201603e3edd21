"""What stands before every page: which host, whose change, how large, and what a page may load."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext, suppress
from typing import Protocol
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lightoff.ground.values import dataclass

ENTRY_BYTES = 1_000_000
PHOTO_BYTES = 40_000_000
FILE_BYTES = 25_000_000
_UNCHANGING = frozenset({"GET", "HEAD", "OPTIONS"})

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Mapping[str, str] = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    # "no-referrer" would turn the Origin of a plain form into "null"; this keeps it for our own pages.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
}


@dataclass(frozen=True, slots=True)
class Turned:
    """A request that is not let in: status and the sentence that says why."""

    status: int
    key: str
    values: Mapping[str, str]


def largest_body(path: str) -> int:
    """How many bytes a request to this path may carry."""
    if path.startswith("/photos") or (path.startswith("/heaters/") and path.endswith("/logs")):
        return PHOTO_BYTES
    if path.startswith("/visit-files"):
        return FILE_BYTES
    return ENTRY_BYTES


def host_of(header: str) -> str:
    """The host in a Host header, without its port."""
    try:
        return (urlsplit(f"//{header}").hostname or "").lower()
    except ValueError:
        return ""


def turned_away(method: str, path: str, headers: Headers, *, allowed_hosts: frozenset[str]) -> Turned | None:
    """Why this request is not let in, or None."""
    host = headers.get("host", "")
    if "*" not in allowed_hosts and host_of(host) not in allowed_hosts:
        return Turned(421, "web_error.host", {"host": host or "none"})
    if method not in _UNCHANGING and not _own_change(headers, host):
        return Turned(403, "web_error.origin", {"origin": headers.get("origin", "none")})
    length = headers.get("content-length", "0")
    if not length.isdigit() or int(length) > largest_body(path):
        return Turned(413, "web_error.too_large", {"most": f"{largest_body(path) // 1_000_000}"})
    return None


def _own_change(headers: Headers, host: str) -> bool:
    """A change must come from one of our own pages; a program says so with an Origin header."""
    site = headers.get("sec-fetch-site")
    if site is not None and site not in {"same-origin", "none"}:
        return False
    origin = headers.get("origin")
    if origin is None:
        return site == "same-origin"
    try:
        return urlsplit(origin).netloc.lower() == host.lower() != ""
    except ValueError:
        return False


class TooLarge(Exception):
    """The body grew past its limit while it was read."""


class Guard:
    """ASGI middleware: lets in what may come in, and puts the security headers on what goes out."""

    def __init__(
        self,
        app: ASGIApp,
        *,
        allowed_hosts: tuple[str, ...],
        refuse: Refuse,
        answering: Callable[[], AbstractContextManager[None]] = nullcontext,
    ) -> None:
        self.app = app
        self.answering = answering
        self.allowed_hosts = frozenset(each.lower() for each in allowed_hosts)
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request through, or answer it with a sentence."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        turned = turned_away(
            scope["method"], scope["path"], Headers(scope=scope), allowed_hosts=self.allowed_hosts
        )
        most = largest_body(scope["path"])
        had = 0
        began = over = False

        async def counted() -> Message:
            nonlocal had, over
            got = await receive()
            had += len(got.get("body", b""))
            if had > most:
                over = True
                raise TooLarge
            return got

        async def dressed(message: Message) -> None:
            nonlocal began
            if over and turned is None and not began:
                return  # whatever the page makes of a cut body: the sentence below is told instead
            if message["type"] == "http.response.start":
                began = True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-store")
            await send(message)

        if turned is None:
            with self.answering(), suppress(TooLarge):
                await self.app(scope, counted, dressed)
            if over and not began:
                turned = Turned(413, "web_error.too_large", {"most": f"{most // 1_000_000}"})
        if turned is not None:
            await self.refuse(scope, turned)(scope, receive, dressed)


class Refuse(Protocol):
    """How a turned-away request is told."""

    def __call__(self, scope: Scope, turned: Turned) -> Response:
        """The answer that says why."""

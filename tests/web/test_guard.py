"""Who is let in, whose change counts, how large, and what goes out."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from lightoff.web.guard import host_of, largest_body
from lightoff.work.bare_photo import media_type_of

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "", "[", "localhost@evil.example"]
)
def test_a_strange_host_is_turned_away_with_a_sentence(bay: Bay, host: str) -> None:
    answer = bay.client.get("/", headers={"host": host})
    assert answer.status_code in {400, 421}
    assert f"does not answer to the name “{host or 'none'}”" in answer.text
    assert "Saltgrass" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8000", "LOCALHOST", "localhost:1"])
def test_own_names_are_answered(bay: Bay, host: str) -> None:
    assert bay.client.get("/healthz", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"origin": "null"},
        {"origin": "http://evil.example"},
        {"origin": "http://127.0.0.1:9"},
        {"origin": "http://["},
        {"origin": "http://127.0.0.1", "sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_change_from_elsewhere_is_not_made(bay: Bay, headers: dict[str, str]) -> None:
    answer = bay.client.post("/settings/shop", data={"shop_name": "Stolen"}, headers=headers)
    assert answer.status_code == 403
    assert "was not made" in answer.text
    assert bay.workshop.book.shop().name == "Tern Lane Heat"


def test_own_pages_may_change(bay: Bay) -> None:
    for headers in (OWN, {"sec-fetch-site": "same-origin"}, {**OWN, "sec-fetch-site": "same-origin"}):
        assert bay.client.post("/entries", json=[], headers=headers).status_code == 200


def test_every_answer_carries_the_policy(bay: Bay) -> None:
    for path in ("/", "/nothing", "/healthz", "/static/paper.css"):
        headers = bay.client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe-inline" not in policy
        assert headers["x-content-type-options"] == "nosniff"


def test_no_page_loads_from_elsewhere_or_runs_inline_script(bay: Bay, visit: str) -> None:
    for path in (
        "/",
        "/settings",
        f"/visits/{visit}",
        f"/heaters/{bay.ids['heater']}",
        f"/visits/{visit}/hand-over",
    ):
        text = bay.client.get(path).text
        assert "https://" not in text
        assert " style=" not in text
        assert " onclick=" not in text
        assert "<script>" not in text


def test_a_body_that_is_too_large_is_refused(bay: Bay) -> None:
    answer = bay.client.post("/entries", content=b"x" * 1_000_001, headers=OWN)
    assert answer.status_code == 413
    assert "larger than 1 MB" in answer.text


def test_a_body_without_length_is_counted(bay: Bay) -> None:
    answer = bay.client.post("/entries", content=(b" " * 100_000 for _ in range(12)), headers=OWN)
    assert answer.status_code == 413
    assert "larger than 1 MB" in answer.text


def test_limits_by_path() -> None:
    assert (largest_body("/entries"), largest_body("/photos")) == (1_000_000, 40_000_000)
    assert host_of("[::1]:8000") == "::1"


def test_a_missing_page_is_a_sentence(bay: Bay) -> None:
    answer = bay.client.get("/nothing-here", headers={"accept": "text/html"})
    assert answer.status_code == 404
    assert "There is nothing at /nothing-here." in answer.text
    answer = bay.client.get("/visits/0198-none", headers={"accept": "text/html"})
    assert answer.status_code == 404
    assert "There is no visit 0198-none in the book." in answer.text


def test_a_crash_shows_no_traceback(bay: Bay, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr("lightoff.web.home.find_heaters", broken)
    bay.client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    answer = bay.client.get("/", headers={"accept": "text/html"})
    assert answer.status_code == 500
    assert "Something in the tool failed" in answer.text
    assert "secret detail" not in answer.text
    assert "Traceback" not in answer.text


def test_photos_are_known_by_their_bytes(bay: Bay) -> None:
    assert media_type_of(b"\xff\xd8\xff\xe0") == "image/jpeg"
    assert media_type_of(b"<svg") == ""
    written = io.BytesIO()
    Image.new("L", (3, 2)).save(written, "PNG")
    data = written.getvalue()
    kept = bay.client.post("/photos", content=data, headers=OWN).json()
    shown = bay.client.get(f"/photos/{kept['sha256']}")
    assert (shown.content, shown.headers["content-type"]) == (data, "image/png")
    for junk in (b"<svg onload=alert(1)>", b"\x89PNG\r\n\x1a\n" + b"\0" * 40):
        refused = bay.client.post("/photos", content=junk, headers=OWN)
        assert refused.status_code == 422
        assert "This is no JPEG, PNG or WebP picture" in refused.text


def test_a_photo_of_forty_megabytes_is_kept_and_a_larger_one_refused(bay: Bay) -> None:
    written = io.BytesIO()
    Image.effect_noise((6000, 6000), 100).save(written, "PNG")
    data = written.getvalue()
    assert 30_000_000 < len(data) <= 40_000_000
    kept = bay.client.post("/photos", content=data, headers=OWN)
    assert kept.status_code == 200, kept.text
    refused = bay.client.post("/photos", content=data + b"\0" * 10_000_000, headers=OWN)
    assert refused.status_code == 413
    assert "larger than 40 MB" in refused.text

"""Static files stand under one hash; the worker answers for every page, and is asked for anew each time."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from lightoff.web.static_files import issue, static

if TYPE_CHECKING:
    from conftest import Bay


def test_a_file_of_this_issue_is_kept_for_a_year_and_any_other_for_no_time(bay: Bay) -> None:
    here = bay.client.get(static("capture.js"))
    bare = bay.client.get("/static/capture.js")
    old = bay.client.get("/static/000000000000/capture.js")
    assert here.content == bare.content == old.content
    assert "immutable" in here.headers["cache-control"]
    assert bare.headers["cache-control"] == old.headers["cache-control"] == "no-cache"
    for path in (f"/static/{issue()}/no-such.js", f"/static/{issue()}/../page.py", "/static/../page.py"):
        assert bay.client.get(path).status_code == 404


def test_every_file_that_a_page_or_a_module_names_is_there(bay: Bay, visit: str) -> None:
    pages = ("/", "/settings", "/away", f"/visits/{visit}", f"/heaters/{bay.ids['heater']}", "/heaters/new")
    open_names = {
        each for page in pages for each in re.findall(r"/static/[^\"' ]+", bay.client.get(page).text)
    }
    seen: set[str] = set()
    while open_names:
        address = open_names.pop()
        seen.add(address)
        answer = bay.client.get(address)
        assert answer.status_code == 200, address
        if address.endswith((".js", ".css")):
            folder = address.rsplit("/", 1)[0]
            named = re.findall(r"(?:from|import) \"\./([^\"]+)\"|url\(\"([^\"]+)\"\)", answer.text)
            open_names |= {f"{folder}/{one or other}" for one, other in named} - seen
    assert len(seen) > 15
    assert all(address.startswith(f"/static/{issue()}/") for address in seen)


def test_the_worker_stands_at_the_root_and_is_no_page_of_a_year(bay: Bay) -> None:
    worker = bay.client.get("/worker.js")
    assert worker.headers["content-type"].startswith("text/javascript")
    assert worker.headers["cache-control"] == "no-cache"
    assert "connect-src 'self'" in worker.headers["content-security-policy"]


def test_only_a_copy_speaks_of_a_copy(bay: Bay, visit: str) -> None:
    for path in ("/", f"/visits/{visit}", f"/heaters/{bay.ids['heater']}"):
        text = bay.client.get(path).text
        assert "data-kept-at" not in text
        told = re.findall(r"<p class=\"[^\"]*\"[^>]*>[^<]*\[kept-at\]", text)
        assert told
        assert all(" hidden data-of-a-copy" in each for each in told)
        assert text.count("[kept-at]") == len(told)
        # Each verdict is followed by the line that a copy shows.
        assert len(re.findall(r"</h2>\s*<p class=\"as-of\"", text)) == text.count('class="verdict')

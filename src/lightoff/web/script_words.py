"""The few sentences that the card's script says by itself; it fills their places."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from lightoff.ground import units
from lightoff.terms.visit import EventKind
from lightoff.texts.speaker import Speaker
from lightoff.web.page import Page

_SAYS = (
    "understood",
    "above_range",
    "away",
    "keep_it",
    "taken_at",
    "photo_at",
    "photo_drop",
    "photo_keep",
    "photo_large",
    "photo_waits",
    "watch_start",
    "watch_stop",
    "new_test_begun",
    "timer_to_go",
    "timer_over",
    "timer_running",
    "timer_lamp",
    "timer_kept",
    "task_read",
    "task_grouped",
)
# The sentences of the grammar of typed numbers, which the field and the server share.
_TYPED = ("empty", "not_finite", "dashes", "two_separators", "grouped", "exponent", "not_a_number")
_PLACES = ("typed", "clock", "number", "unit", "got", "large", "small", "all")


def script_words(page: Page) -> dict[str, Any]:
    """What the script says, by key; "{name}" marks a place that it fills."""
    steady = page.shelf.limits.rows["steady_before_reading"]
    minutes = round(units.from_si(float(units.exact_si(steady.value, steady.unit)), "min"))
    return {**_words(page.speaker), "steady_minutes": minutes}


@lru_cache(maxsize=64)
def _words(speaker: Speaker) -> dict[str, Any]:
    said: dict[str, Any] = {key: _unfilled(speaker, f"web_script.{key}") for key in _SAYS}
    said["typed"] = {key: _unfilled(speaker, f"typed.{key}") for key in _TYPED}
    said["how"] = speaker.text("web.how")
    said["as_of"] = speaker.text("web.as_of", at="{at}")
    said["grouped"] = speaker.text("reading_own.grouped")
    said["by_photograph"] = speaker.text("reading_own.by_photograph")
    said["spot"] = {key: speaker.text(f"spot.{key}") for key in ("read_it", "away")}
    said["sides"] = {
        "as found": speaker.text("web_task.before"),
        "as left": speaker.text("web_task.after"),
    }
    said["unit_s"] = speaker.symbol("s")
    said["photo_cut_short"] = speaker.text("report.photo_cut_short")
    said["photo_where"] = speaker.text("web.photo_where", place="{typed}")
    said["undo"] = speaker.text("web.undo")
    said["events"] = {kind.value: speaker.text(f"web_event_past.{kind.name.lower()}") for kind in EventKind}
    return said


def _unfilled(speaker: Speaker, key: str) -> str:
    return speaker.text(key, **{name: f"{{{name}}}" for name in _PLACES})

"""`lightoff due`: who needs a visit, when and why."""

from __future__ import annotations

import json
import sys
from datetime import UTC
from pathlib import Path

import click

from lightoff.cli.as_data import plain
from lightoff.cli.reading import moment, shop_at
from lightoff.cli.telling import printable
from lightoff.ground.message import DayOf
from lightoff.texts import Speaker
from lightoff.work.fleet import fleet
from lightoff.work.who_needs_visit import Due, who_needs_visit

FORMAT = "lightoff due 1"


def due(shop: Path, *, as_json: bool, most: int | None) -> None:
    """Print the list, the most pressing first."""
    now = moment()
    with shop_at(shop) as workshop:
        found = who_needs_visit(workshop, now, count=most)
        fleet(workshop, now).keep(workshop)  # so that the next call goes on from here
        speaker = Speaker(own=workshop.shelf.own_words, zone=now.astimezone().tzinfo or UTC)
    if as_json:
        whole = {"format": FORMAT, "at": now.isoformat(), "heaters": [_data(each, speaker) for each in found]}
        text = json.dumps(whole, indent=2, ensure_ascii=False)
    else:
        lines = [_line(each, speaker, is_now=each.by <= now) for each in found]
        text = "\n".join(lines) or speaker.text("cli.due_nobody")
    click.echo(printable(text, sys.stdout))


def _line(each: Due, speaker: Speaker, *, is_now: bool) -> str:
    by = speaker.text("cli.due_now") if is_now else speaker.text("cli.due_by", day=DayOf(each.by))
    why = " ".join(speaker.say(reason) for reason in each.reasons)
    return speaker.text("cli.due_line", by=by, name=_name(each), why=why)


def _data(each: Due, speaker: Speaker) -> dict[str, object]:
    return {
        "heater": each.line.heater.id,
        "name": _name(each),
        "by": each.by.isoformat(),
        "last_verdict": each.verdict.value if each.verdict else None,
        "reasons": plain(each.reasons, speaker),
        "parts": list(each.parts),
    }


def _name(each: Due) -> str:
    return f"{each.line.vehicle.name}, {each.line.heater.name}"

"""`lightoff burns`: a logger's file in, its burns out; with a shop and a heater it can be kept."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from os import urandom
from pathlib import Path
from typing import Any

import click

from lightoff.cli.as_data import plain
from lightoff.cli.reading import STDIN, moment, shelf_of, shop_at
from lightoff.cli.telling import printable
from lightoff.ground.errors import Refusal
from lightoff.ground.ids import RANDOM_BYTES
from lightoff.ground.message import message
from lightoff.terms.trace import Channel
from lightoff.texts import Speaker
from lightoff.work.keep_trace import FoundTrace, find_trace, keep_trace
from lightoff.work.rated import sheet_named
from lightoff.work.read_log import LARGEST_BYTES

FORMAT = "lightoff burns 1"


def burns(
    file: Path,
    *,
    sheet: str | None,
    shop: Path | None,
    heater: str | None,
    keep: bool,
    channel: str | None,
    start: str | None,
    as_json: bool,
) -> None:
    """Print what the file tells, and keep it with a heater where that is asked for."""
    data = _bytes(file)
    asked: dict[str, Any] = {"channel": Channel(channel) if channel else None, "start": _start(start)}
    if heater is None:
        if keep or sheet is None:
            raise click.UsageError("Name the heater type with --sheet, or --shop and --heater.")
        shelf = shelf_of(shop)
        found = find_trace(data, sheet_named(sheet, shelf), shelf, **asked)
    else:
        if shop is None:
            raise click.UsageError("A heater needs its shop: name the folder with --shop.")
        found = _of_heater(shop, heater, data, file.name, keep=keep, asked=asked)
    speaker = Speaker()
    said = [speaker.say(each) for each in found.said()]
    if keep:
        said.append(speaker.text("cli.log_kept"))
    text = json.dumps(_data(found, said), indent=2, ensure_ascii=False) if as_json else "\n".join(said)
    click.echo(printable(text, sys.stdout))


def _of_heater(
    shop: Path, heater: str, data: bytes, name: str, *, keep: bool, asked: dict[str, Any]
) -> FoundTrace:
    with shop_at(shop) as workshop:
        if not keep:
            sheet = sheet_named(workshop.book.heater(heater).sheet, workshop.shelf)
            return find_trace(data, sheet, workshop.shelf, **asked)
        _, found = keep_trace(
            workshop,
            heater,
            data,
            moment(),
            file_name=name,
            author=workshop.book.shop().technician,
            randomness=urandom(RANDOM_BYTES),
            **asked,
        )
        return found


def _data(found: FoundTrace, said: list[str]) -> dict[str, Any]:
    cycles = found.cycles
    return {
        "format": FORMAT,
        "said": said,
        "channel": found.channel.value,
        "began_at": found.log.began_at.isoformat(),
        "ended_at": found.log.ended_at.isoformat(),
        "logged_s": cycles.logged_s,
        "burned_s": plain(cycles.burned, Speaker()),
        "starts": cycles.starts,
        "starts_unsure": cycles.starts_unsure,
        "bad_rows": found.log.bad_row_count,
        "burns": [
            {"lit_s": lit, "out_s": out}
            for lit, out in zip(cycles.lit_s.tolist(), cycles.out_s.tolist(), strict=True)
        ],
    }


def _bytes(file: Path) -> bytes:
    """The file, no more of it than a log may have. Raises Refusal."""
    try:
        if str(file) == STDIN:
            return sys.stdin.buffer.read(LARGEST_BYTES + 1)
        with file.open("rb") as opened:
            return opened.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as trouble:
        reason = getattr(trouble, "strerror", None) or str(trouble)
        raise Refusal(message("visit_file.cannot_read", file=str(file), reason=reason)) from trouble


def _start(text: str | None) -> datetime | None:
    if text is None:
        return None
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise Refusal(message("web_running.start", typed=text[:40]), field="start") from None
    return at if at.tzinfo else at.replace(tzinfo=UTC)

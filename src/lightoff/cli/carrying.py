"""`lightoff spares`: what to carry for the visits of a day, or till spring."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from lightoff.cli.as_data import plain
from lightoff.cli.reading import moment, shop_at
from lightoff.cli.telling import printable
from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.ground.units import to_si
from lightoff.texts import Speaker
from lightoff.wear.saying import plain_share
from lightoff.wear.spares import Kit, Limits
from lightoff.work.what_to_carry import VAN, Carried, for_the_day, for_the_season
from lightoff.work.who_needs_visit import who_needs_visit
from lightoff.work.workshop import Workshop

FORMAT = "lightoff spares 1"
A_DAY = 4  # the most pressing visits, where none is named
KINDS = ("money", "kg", "litres")


def spares(
    shop: Path, *, heaters: Sequence[str], season: bool, limits: Sequence[str], place: str, as_json: bool
) -> None:
    """Print the kit with what rests on it."""
    within, now = limits_of(limits), moment()
    with shop_at(shop) as workshop:
        speaker = Speaker(own=workshop.shelf.own_words)
        if season:
            said, data = _season(workshop, now, within, place or VAN)
        else:
            said, data = _day(workshop, now, within, heaters, place or VAN, speaker=speaker)
    if as_json:
        whole = {"format": FORMAT, "at": now.isoformat(), "said": plain(tuple(said), speaker), **data}
        text = json.dumps(whole, indent=2, ensure_ascii=False)
    else:
        text = "\n".join(speaker.say(each) for each in said)
    click.echo(printable(text, sys.stdout))


def limits_of(typed: Sequence[str]) -> Limits:
    """Limits as typed, such as "money=300", "kg=12" or "litres=40". Raises Refusal."""
    found = dict.fromkeys(KINDS, math.inf)
    for each in typed:
        kind, _, number = each.partition("=")
        try:
            value = float(number)
        except ValueError:
            value = math.nan
        if kind not in KINDS or not 0.0 < value < math.inf:
            said = message("cli.spares_limit", typed=each[:60], possible=", ".join(KINDS))
            raise Refusal(said, field="limit")
        found[kind] = value
    litres = found["litres"]
    return Limits(
        price=found["money"],
        mass_kg=found["kg"],
        volume_m3=to_si(litres, "L") if math.isfinite(litres) else math.inf,
    )


def _day(
    workshop: Workshop,
    now: datetime,
    limits: Limits,
    heaters: Sequence[str],
    place: str,
    *,
    speaker: Speaker,
) -> tuple[list[Message], dict[str, Any]]:
    chosen = list(heaters) or [each.line.heater.id for each in who_needs_visit(workshop, now, count=A_DAY)]
    if not chosen:
        return [message("cli.due_nobody")], {"parts": []}
    day = for_the_day(workshop, chosen, now, limits=limits, place=place)
    said = [*day.as_is.says()]
    if day.served_count < len(chosen):
        said.append(message("carry.served", count=day.served_count, visits=len(chosen)))
    said += day.kit.says()
    said.append(message("cli.spares_with_kit", share=plain_share(day.with_kit.every)))
    said += _to_fetch(day.parts)
    calls = [
        {
            "heater": unit.heater.id,
            "name": as_is.name,
            "as_is": as_is.chance,
            "with_kit": kit.chance,
            "needs": dict(needs),
            "why": plain(why, speaker),
        }
        for unit, as_is, kit, needs, why in zip(
            day.calls, day.as_is.calls, day.with_kit.calls, day.needs, day.why, strict=True
        )
    ]
    return said, {"visits": calls, "parts": [_data(each) for each in day.parts], **_totals(day.kit)}


def _season(
    workshop: Workshop, now: datetime, limits: Limits, place: str
) -> tuple[list[Message], dict[str, Any]]:
    season = for_the_season(workshop, now, limits=limits, place=place)
    months = f"{season.months:.0f}"
    said = [message("web_spares.season_line", services=season.services, months=months), *season.kit.says()]
    said += _to_fetch(season.parts)
    parts = [{**_data(each), "enough": season.enough[each.kind.key]} for each in season.parts]
    return said, {"services": season.services, "parts": parts, **_totals(season.kit)}


def _to_fetch(parts: Sequence[Carried]) -> list[Message]:
    """What has to be loaded from another bin, and what has to be bought."""
    found = []
    for key, counts in (
        ("cli.spares_load", [(each, each.to_load) for each in parts]),
        ("cli.spares_buy", [(each, each.to_buy) for each in parts]),
    ):
        lines = tuple(
            message("wear.kit_line", count=count, part=each.kind.label or f"@part.{each.kind.key}")
            for each, count in counts
            if count
        )
        if lines:
            found.append(message(key, parts=lines))
    return found


def _data(each: Carried) -> dict[str, Any]:
    return {
        "part": each.kind.key,
        "carry": each.wanted,
        "on_van": each.on_van,
        "elsewhere": each.elsewhere,
        "load": each.to_load,
        "buy": each.to_buy,
        "expected": each.expected,
        "price": each.price.amount,
        "price_from": each.price.whence.value,
    }


def _totals(kit: Kit) -> dict[str, Any]:
    return {
        "price": kit.price,
        "mass_kg": kit.mass_kg,
        "volume_m3": kit.volume_m3,
        "enough_chance": kit.enough_chance,
    }

"""`lightoff doctor`: what is in order, what is not, and what to do."""

from __future__ import annotations

import hashlib
import platform
import shutil
import sys
from collections.abc import Iterator
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

import click
import tomli

from lightoff.cli.reading import moment
from lightoff.cli.telling import ERROR, printable
from lightoff.ground.errors import LightoffError, NotFound
from lightoff.ground.message import Message, Value, message
from lightoff.ground.values import dataclass
from lightoff.judging.disputed import said_of_all
from lightoff.shelf import Shelf, open_shelf
from lightoff.terms.conflict import Conflict
from lightoff.texts import Speaker
from lightoff.work.look_again import LookAgain, look_again
from lightoff.work.workshop import BOOK, Workshop, open_shop

_OLDEST_PYTHON = (3, 11)
_LEAST_FREE_BYTES = 200_000_000  # some thousand visits and their pictures; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing looked at."""

    is_good: bool
    said: Message


def doctor(shop: Path | None) -> None:
    """Look everything over; ends with 1 if something needs doing."""
    shelf = open_shelf(shop / "shelf" if shop is not None and shop.is_dir() else None)
    speaker, all_good = Speaker(own=shelf.own_words), True
    for finding in _findings(shop, shelf):
        all_good &= finding.is_good
        mark = speaker.text("cli.good" if finding.is_good else "cli.bad")
        click.echo(printable(f"{mark:<6} {speaker.say(finding.said)}", sys.stdout))
    click.get_current_context().exit(0 if all_good else ERROR)


def _findings(shop: Path | None, shelf: Shelf) -> Iterator[Finding]:
    told = f"{platform.python_implementation()} {platform.python_version()}"
    good = sys.version_info >= _OLDEST_PYTHON
    said = message("cli.doctor_python", version=version("lightoff"), python=told)
    yield Finding(is_good=good, said=said)
    yield _fonts()
    if shop is None:
        yield from _shelf(shelf)
        yield Finding(is_good=True, said=message("cli.doctor_no_shop"))
        return
    if not shop.is_dir():
        yield Finding(is_good=False, said=message("cli.no_such_shop", path=str(shop)))
        return
    yield from _shelf(shelf)
    yield _disk(shop)
    yield from _book(shop)


def _fonts() -> Finding:
    folder = files("lightoff.report") / "fonts"
    manifest = tomli.loads((folder / "manifest.toml").read_text(encoding="utf-8"))
    bad = []
    for row in _rows(manifest):
        name = str(row.get("file") or row.get("path") or row.get("name"))
        try:
            data = (folder / name).read_bytes()
        except OSError:
            bad.append(name)
            continue
        if hashlib.sha256(data).hexdigest() != row["sha256"]:
            bad.append(name)
    if bad:
        return Finding(is_good=False, said=message("cli.doctor_fonts_bad", files=", ".join(bad)))
    return Finding(is_good=True, said=message("cli.doctor_fonts"))


def _rows(manifest: object) -> Iterator[dict[str, str]]:
    """The tables of a manifest that name a file with its hash, however deep they stand."""
    if isinstance(manifest, dict):
        if "sha256" in manifest and isinstance(manifest["sha256"], str):
            yield manifest
        for value in manifest.values():
            yield from _rows(value)
    elif isinstance(manifest, list):
        for value in manifest:
            yield from _rows(value)


def _shelf(shelf: Shelf) -> Iterator[Finding]:
    for problem in shelf.problems:
        yield Finding(is_good=False, said=problem.message)
    if not shelf.problems:
        yield Finding(is_good=True, said=message("cli.doctor_shelf", version=shelf.limits.version))


def _disk(shop: Path) -> Finding:
    there = next((each for each in (shop, *shop.absolute().parents) if each.exists()), Path("/"))
    free = shutil.disk_usage(there).free
    megabytes = free // 1_000_000
    key = "cli.doctor_disk" if free >= _LEAST_FREE_BYTES else "cli.doctor_disk_full"
    return Finding(is_good=free >= _LEAST_FREE_BYTES, said=message(key, megabytes=megabytes))


def _book(shop: Path) -> Iterator[Finding]:
    if not (shop / BOOK).is_file():
        yield Finding(is_good=False, said=message("cli.doctor_no_book", path=str(shop / BOOK)))
        return
    try:
        with open_shop(shop, create=False) as workshop:
            found = workshop.book.check()
            conflicts = [(_of_visit(workshop, each), each) for each in workshop.book.conflicts()]
            again = look_again(workshop, moment())
    except LightoffError as error:
        yield Finding(is_good=False, said=error.message)
        return
    for words in found.damage:
        yield Finding(is_good=False, said=message("cli.doctor_damage", reason=words[:200]))
    if found.altered:
        yield Finding(is_good=False, said=message("cli.doctor_altered", count=len(found.altered)))
    if found.differing:
        yield Finding(is_good=False, said=message("cli.doctor_differing", tables=", ".join(found.differing)))
    for where, each in conflicts:
        said = said_of_all([each], {})
        if said is not None:
            told = message("cli.doctor_where", **where, said=said) if where else said
            yield Finding(is_good=False, said=told)
    yield from (Finding(is_good=False, said=_worse_today(worse)) for worse in again)
    if found.is_sound:
        yield Finding(is_good=True, said=message("cli.doctor_book", count=sum(found.counts.values())))


def _of_visit(workshop: Workshop, conflict: Conflict) -> dict[str, Value]:
    """Heater and day of the visit in which entries contradict each other; nothing of any other noun."""
    try:
        visit = workshop.book.visit(conflict.subject)
    except NotFound:
        return {}
    line = workshop.book.line(visit.heater)
    return {"heater": f"{line.vehicle.name}, {line.heater.name}", "at": visit.day_of(visit.started_at)}


def _worse_today(found: LookAgain) -> Message:
    case = found.case
    return message(
        "cli.doctor_look_again",
        heater=f"{case.vehicle.name}, {case.heater.name}",
        at=case.visit.day_of(case.visit.started_at),
        then=f"@verdict_word.{found.then}",
        today=f"@verdict_word.{found.today}",
    )

"""Files and clocks at the door of the command line."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.message import message
from lightoff.shelf import Shelf, open_shelf
from lightoff.texts import Speaker
from lightoff.work.visit_file_text import LARGEST_BYTES, check_size

if TYPE_CHECKING:
    from lightoff.terms.case import Case
    from lightoff.work.workshop import Workshop

STDIN = "-"
SHELF = "shelf"  # in a shop's folder


def file_bytes(file: Path) -> bytes:
    """The bytes of a file or of standard input; no more is read than a visit can have.

    Raises Refusal for a file that cannot be read, and for one that is too large.
    """
    name = file.name
    try:
        if str(file) == STDIN:
            data = sys.stdin.buffer.read(LARGEST_BYTES + 1)
        else:
            if file.is_file():
                check_size(file.stat().st_size, name)
            with file.open("rb") as opened:
                data = opened.read(LARGEST_BYTES + 1)
    except OSError as trouble:
        reason = trouble.strerror or str(trouble)
        raise Refusal(message("visit_file.cannot_read", file=str(file), reason=reason)) from trouble
    except ValueError as trouble:  # a name with a zero byte
        raise Refusal(message("visit_file.cannot_read", file=repr(str(file)), reason=str(trouble))) from None
    check_size(len(data), name)
    return data


def shelf_of(shop: Path | None) -> Shelf:
    """The shipped shelf, with a shop's own edits where a shop is named. Raises Refusal for no folder."""
    if shop is not None and not shop.is_dir():
        raise Refusal(message("cli.no_such_shop", path=str(shop)))
    return open_shelf(None if shop is None else shop / SHELF)


def shop_at(folder: Path) -> Workshop:
    """A shop that is there; none is made. Raises Refusal for no folder, NotFound for one without a book."""
    from lightoff.work.workshop import open_shop  # the book is slow to load, and most commands need none

    if not folder.is_dir():
        raise Refusal(message("cli.no_such_shop", path=str(folder)))
    return open_shop(folder, create=False)


def speaker_of(case: Case, shelf: Shelf, units: str | None) -> Speaker:
    """Who tells of this visit: in its shop's language, in its units or those asked for, by its clock."""
    return Speaker(
        language=case.shop.language,
        units=units or case.shop.units,
        zone=case.visit.clock or UTC,
        own=shelf.own_words,
    )


def with_its_past(case: Case, shop: Path | None) -> Case:
    """The case with the earlier visits that the shop's book holds of its heater; as it is without a book."""
    if shop is None:
        return case
    from lightoff.work.heater_past import with_past

    try:
        with shop_at(shop) as workshop:
            return with_past(case, workshop)
    except NotFound:  # a folder with a shelf alone
        return case


def moment() -> datetime:
    """The time by this computer, to the second."""
    return datetime.now(tz=UTC).replace(microsecond=0)

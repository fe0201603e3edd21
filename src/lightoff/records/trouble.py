"""What the disk or the database says when it cannot, as a sentence with a cure."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from lightoff.ground.errors import LightoffError
from lightoff.ground.message import Message, message

_PRIMARY = 0xFF  # the low byte of an extended result code (sqlite.org/rescode.html)


class BookTrouble(LightoffError):
    """The book cannot be read or written now; what was acknowledged before stands, this did not enter."""


def _said(code: int, where: str, detail: str) -> Message:
    match code:
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return message("records.locked", book=where)
        case sqlite3.SQLITE_READONLY:
            return message("records.read_only", book=where)
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return message("records.corrupt", book=where)
        case sqlite3.SQLITE_FULL:
            return message("records.disk_full", book=where)
        case sqlite3.SQLITE_CANTOPEN:
            return message("records.cannot_open", book=where)
        case sqlite3.SQLITE_IOERR:
            return message("records.disk_failed", book=where, detail=detail)
        case _:
            return message("records.database_failed", book=where, detail=detail)


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turn what a database or disk raises into BookTrouble; `where` is the book as people know it."""
    try:
        yield
    except DBAPIError as error:
        code = getattr(error.orig, "sqlite_errorcode", None)
        detail = str(error.orig).splitlines()[0][:200] if str(error.orig) else type(error.orig).__name__
        if code is None and error.connection_invalidated:
            raise BookTrouble(message("records.unreachable", book=where, detail=detail)) from error
        raise BookTrouble(_said((code or 0) & _PRIMARY, where, detail)) from error
    except PoolTimeout as error:
        raise BookTrouble(message("records.locked", book=where)) from error
    except PermissionError as error:
        raise BookTrouble(message("records.read_only", book=where)) from error
    except OSError as error:
        detail = error.strerror or str(error)
        raise BookTrouble(message("records.disk_failed", book=where, detail=detail)) from error

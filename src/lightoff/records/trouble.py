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


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turn what a database or disk raises into BookTrouble; `where` is the book as people know it."""
    try:
        yield
    except DBAPIError as error:
        raise BookTrouble(_said(error, where)) from error
    except sqlite3.Error as error:
        raise BookTrouble(_said_by_sqlite(error, where)) from error
    except PoolTimeout as error:
        raise BookTrouble(message("records.locked", book=where)) from error
    except PermissionError as error:
        raise BookTrouble(message("records.read_only", book=where)) from error
    except OSError as error:
        detail = error.strerror or str(error)
        raise BookTrouble(message("records.disk_failed", book=where, detail=detail)) from error


def _said(error: DBAPIError, where: str) -> Message:
    cause = error.orig
    if isinstance(cause, sqlite3.Error):
        return _said_by_sqlite(cause, where)
    return _said_by_postgresql(getattr(cause, "sqlstate", None), where, _first_line(cause))


def _first_line(cause: BaseException | None) -> str:
    return (str(cause).splitlines() or [type(cause).__name__])[0][:200]


def _said_by_sqlite(cause: sqlite3.Error, where: str) -> Message:
    detail = _first_line(cause)
    # A failure that the driver itself found carries no code.
    match getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & _PRIMARY:
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


def _said_by_postgresql(state: str | None, where: str, detail: str) -> Message:
    match state:  # PostgreSQL manual, appendix A: error codes
        case "53100":
            return message("records.disk_full", book=where)
        case "25006" | "42501":
            return message("records.read_only", book=where)
        case "55P03" | "57014":
            return message("records.locked", book=where)
        case str() if state[:2] not in ("08", "57"):
            return message("records.database_failed", book=where, detail=detail)
        case _:  # nothing came back from the server, or it is going down
            return message("records.unreachable", book=where, detail=detail)

"""Opening a book: one writer and many readers, the right version, and a copy before it is changed.

SQLite. The writer is one connection, taken by one thread at a time; it begins IMMEDIATE, so that it
never finds its snapshot outdated half-way, syncs fully at each commit, and alone carries the
write-ahead log back into the file, in its turn: versions up to 3.51.2 can corrupt a file when two
connections do that at the same instant (sqlite.org/wal.html, "the WAL-reset bug"). Readers cannot write.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import sqlalchemy
from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError

from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records.trouble import BookTrouble, told
from lightoff.records.turns import Turns

LATEST = "0013"  # the newest migration; a test holds it to the folder
MIGRATIONS = Path(__file__).parent / "migrations"
_APPLICATION_ID = 0x4C4F4646  # "LOFF" in the file's header, so that others can tell whose file it is
_BUSY_MS = 10_000
_READERS = 8
_WRITERS_LOCK = 0x4C4F4646  # PostgreSQL: writers wait for each other, as on SQLite


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The two doors to one book. `path` is None where the book lies on a server."""

    writer: Engine
    reader: Engine
    turns: Turns
    path: Path | None
    name: str


def open_engines(path_or_url: str | Path, *, create: bool) -> Opened:
    """Both engines of a book whose tables are of this program's version.

    Raises NotFound for a missing file where `create` is false, Refusal for an address that is none or a
    file that is no book or is newer than the program, BookTrouble for what disk and database refuse.
    """
    url = _url(path_or_url)
    path = Path(url.database or "") if url.get_backend_name() == "sqlite" else None
    name = str(path) if path else _shown(url)
    with told(name):
        if path:
            _prepare_file(path, create=create)
        opened = Opened(
            writer=_engine(url, reads_only=False),
            reader=_engine(url, reads_only=True),
            turns=Turns(path, name),
            path=path,
            name=name,
        )
        try:
            _bring_up_to_date(opened)
        except BaseException:
            close_engines(opened)
            raise
    return opened


def close_engines(opened: Opened) -> None:
    """Readers first, so that the writer closes last, in its turn, and leaves one plain file."""
    opened.reader.dispose()
    try:
        with opened.turns.turn():
            opened.writer.dispose()
    except (BookTrouble, OSError):  # another program holds the book: it will tidy up when it closes
        opened.writer.dispose()


def copy_file(opened: Opened, to: Path) -> None:
    """A consistent copy of an SQLite book, taken while it is in use."""
    unfinished = to.with_name(f"{to.name}.unfinished")
    try:
        with (
            closing(sqlite3.connect(str(opened.path))) as source,
            closing(sqlite3.connect(unfinished)) as copy,
        ):
            source.execute("PRAGMA wal_autocheckpoint = 0")
            source.backup(copy)
        unfinished.replace(to)
    finally:
        unfinished.unlink(missing_ok=True)


def _url(path_or_url: str | Path) -> URL:
    if isinstance(path_or_url, Path) or "://" not in path_or_url:
        return URL.create("sqlite", database=str(Path(path_or_url).expanduser().absolute()))
    try:
        url = make_url(path_or_url)
    except ArgumentError:
        raise Refusal(message("records.address", address=path_or_url)) from None
    if url.get_backend_name() == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    if url.get_backend_name() == "sqlite" and url.database not in (None, "", ":memory:"):
        return url.set(drivername="sqlite", database=str(Path(str(url.database)).absolute()))
    raise Refusal(message("records.address", address=url.render_as_string(hide_password=True)))


def _shown(url: URL) -> str:
    return url.set(drivername=url.get_backend_name()).render_as_string(hide_password=True)


def _prepare_file(path: Path, *, create: bool) -> None:
    if path.is_dir():
        raise Refusal(message("records.is_a_folder", book=str(path)))
    if path.exists():
        return
    if not create:
        raise NotFound(message("records.no_book", book=str(path)))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch(mode=0o600)  # owners' names and addresses are nobody else's business


def _engine(url: URL, *, reads_only: bool) -> Engine:
    try:
        if url.get_backend_name() == "sqlite":
            return _sqlite_engine(url, reads_only=reads_only)
        engine = create_engine(url, pool_pre_ping=True, pool_size=_READERS if reads_only else 1)
    except (NoSuchModuleError, ModuleNotFoundError):
        raise Refusal(message("records.no_driver", address=_shown(url))) from None
    begin = "SET TRANSACTION READ ONLY" if reads_only else f"SELECT pg_advisory_xact_lock({_WRITERS_LOCK})"
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql(begin))
    if reads_only:
        return engine.execution_options(isolation_level="REPEATABLE READ")
    return engine


def _sqlite_engine(url: URL, *, reads_only: bool) -> Engine:
    engine = create_engine(
        url,
        connect_args={"check_same_thread": False, "timeout": _BUSY_MS / 1000},
        pool_size=_READERS if reads_only else 1,
        max_overflow=4 * _READERS if reads_only else 0,
    )
    pragmas = (
        ("query_only = ON", "wal_autocheckpoint = 0")
        if reads_only
        else ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON")
    )

    def prepare(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # the driver begins nothing by itself; `begin` below does
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}").close()

    def begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN" if reads_only else "BEGIN IMMEDIATE")

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", begin)
    return engine


def _bring_up_to_date(opened: Opened) -> None:
    with opened.reader.connect() as connection:
        version = _version(connection, opened.name)
    if version == LATEST:
        with opened.writer.connect():  # a file that cannot be written is told now, not at the first entry
            return
    if version is not None:
        _refuse_newer(version, opened.name)
        if opened.path:
            _copy_before_migration(opened, version)
    with opened.turns.turn(), opened.writer.begin() as connection:
        if _version(connection, opened.name) != LATEST:  # another process may have been quicker
            migrate(connection)


def _version(connection: Connection, name: str) -> str | None:
    """The book's version, None for an empty database."""
    tables = sqlalchemy.inspect(connection).get_table_names()
    if "alembic_version" in tables:
        version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        if version is not None:
            return str(version)
    if tables:
        raise Refusal(message("records.not_a_book", book=name))
    return None


def migrate(connection: Connection, *, migrations: Path | None = None) -> None:
    """Bring the tables to the newest version, inside the connection's transaction."""
    from alembic import command  # a quarter of a second that a current book need not wait for

    command.upgrade(_configuration(migrations or MIGRATIONS, connection), "head")
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {_APPLICATION_ID}")


def _configuration(migrations: Path, connection: Connection | None = None) -> Any:
    from alembic.config import Config

    configuration = Config(attributes={"connection": connection})
    configuration.set_main_option("script_location", str(migrations).replace("%", "%%"))
    return configuration


def _refuse_newer(version: str, name: str) -> None:
    from alembic.script import ScriptDirectory

    known = {
        each.revision for each in ScriptDirectory.from_config(_configuration(MIGRATIONS)).walk_revisions()
    }
    if version not in known:
        raise Refusal(message("records.newer", book=name, version=version, newest=LATEST))


def _copy_before_migration(opened: Opened, version: str) -> None:
    path = opened.path
    if path is None:
        return
    copy = path.with_name(f"{path.name}.version-{version}.copy")
    if not copy.exists():
        copy_file(opened, copy)

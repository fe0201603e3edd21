"""A shop's folder, opened: the book and the shelf that every job works with."""

from __future__ import annotations

from dataclasses import field
from pathlib import Path
from types import TracebackType
from typing import Self

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records import Book, Derived
from lightoff.shelf import Shelf, open_shelf
from lightoff.work.judged import Judged

BOOK = "book.sqlite3"
DERIVED = "derived.sqlite3"
SHELF = "shelf"
INVENTED = "invented.txt"  # stands in the folder of an invented shop


@dataclass(slots=True, kw_only=True)
class Workshop:
    """The open book and the shelf of one shop, and what was worked out. Close it, or use it in a `with`.

    Shelves are frozen; when the shop's files have changed the next one is put in the place of the last, so
    that a running server has it at once, and a job that holds the last one ends with what it began with.
    """

    book: Book
    shelf: Shelf
    folder: Path
    derived: Derived = field(default_factory=lambda: Derived(None))
    judged: Judged = field(default_factory=Judged)

    def reread_shelf(self) -> None:
        """Read the shop's files again, and take the new shelf from now on."""
        self.shelf = open_shelf(self.folder / SHELF)

    def close(self) -> None:
        """Close the book, and the file of what was worked out."""
        self.derived.close()
        self.book.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_shop(folder: Path, *, create: bool = True) -> Workshop:
    """The shop in a folder: its book, and the shelf with the shop's own edits.

    Raises Refusal for a path that cannot be a folder; NotFound for a missing book where `create` is
    false; BookTrouble for what disk and database refuse. A bad edit on the shelf raises nothing: it
    stands in `shelf.problems`, and the shipped row counts.
    """
    if folder.exists() and not folder.is_dir():
        raise Refusal(message("shop.not_a_folder", path=str(folder)), field="shop")
    if create:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as trouble:
            reason = trouble.strerror or str(trouble)
            said = message("shop.cannot_make_folder", path=str(folder), reason=reason)
            raise Refusal(said, field="shop") from trouble
    book = Book.open(folder / BOOK, create=create)
    derived = Derived(folder / DERIVED)
    return Workshop(
        book=book,
        shelf=open_shelf(folder / SHELF),
        folder=folder,
        derived=derived,
        judged=Judged(derived),
    )

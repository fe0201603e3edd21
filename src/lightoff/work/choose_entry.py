"""A person chooses which of several contradicting entries stands."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace
from datetime import datetime

from lightoff.records import Acceptance, Book, body_of, in_place_of
from lightoff.terms.conflict import Candidate, Conflict
from lightoff.terms.entry import Entry
from lightoff.terms.part import StepDone
from lightoff.work.workshop import Workshop


def choose_entry(
    workshop: Workshop,
    chosen: str,
    over: Collection[str],
    now: datetime,
    *,
    author: str,
    new_id: Callable[[], str],
) -> None:
    """Let the entry `chosen` stand over the entries `over`, which the person saw beside it.

    What is settled already stays as it is, so that a second tap does no harm; an entry that arrived since
    is not chosen over unseen, and stays in conflict. `new_id` gives a fresh time-ordered id at each call.
    Raises NotFound.
    """
    book = workshop.book
    said = book.entry(chosen)
    conflict = _conflict_of(book, said)
    if conflict is None:
        return
    others = [each for each in conflict.candidates if each.entry in over and each.entry != chosen]
    if not others:
        return
    entry = Entry(
        id=new_id(), subject=said.subject, field=said.field, value=said.value, author=author, at=now
    )
    standing = [each.entry for each in _saying(others)]
    if said.value is not None:
        standing.insert(0, chosen)
    entries = list(in_place_of(standing, entry, new_id=new_id))
    if said.field == "reading" and said.value is not None and book.visit(said.subject).closed_at is not None:
        # A choice after the close is late, and the person who makes it lets it stand.
        accepted = Acceptance(id=new_id(), reading=entry.id)
        entries.append(
            Entry(
                id=accepted.id,
                subject=said.subject,
                field="accept",
                value=body_of(accepted),
                author=author,
                at=now,
            )
        )
    entries += _taken_back(conflict, chosen, others, entry, new_id)
    book.keep(entries)


def _taken_back(
    conflict: Conflict, chosen: str, others: Collection[Candidate], said: Entry, new_id: Callable[[], str]
) -> Iterator[Entry]:
    """What the answers that do not stand wrote of a part goes with them: one piece went in, not two."""
    answers = {each.entry: each.says for each in conflict.candidates if isinstance(each.says, StepDone)}
    stays = answers[chosen].exchange if chosen in answers else ()
    for each in others:
        exchange = answers[each.entry].exchange if each.entry in answers else ()
        for index, gone in enumerate(exchange if exchange != stays else ()):
            part = index == 0  # the new piece's own entry stands first, its moves follow
            yield replace(
                said,
                id=new_id(),
                subject=gone if part else said.subject,
                field="part" if part else "move",
                value=None,
                corrects=gone,
            )


def _conflict_of(book: Book, said: Entry) -> Conflict | None:
    found = book.conflicts([said.subject])
    return next((one for one in found if said.id in {each.entry for each in one.candidates}), None)


def _saying(candidates: Collection[Candidate]) -> list[Candidate]:
    """Those that say something; a withdrawal has nothing that could be withdrawn."""
    return [each for each in candidates if each.says is not None]

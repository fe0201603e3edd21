"""An entry on its way into the book: checked, and hashed over all that it says."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.values import dataclass
from lightoff.records.codec import NOUNS, PLANNING, SHOP, noun_of
from lightoff.records.columns import canonical
from lightoff.records.shapes import read_text, refused, shown, written_time
from lightoff.records.tables import NOUN_TABLES
from lightoff.terms.entry import Entry, Json

WITHDRAWN = "null"
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.ASCII)
_SUBJECT = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.:-]{0,99}", re.ASCII)
_LONGEST_AUTHOR = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """An entry that may enter, with its value as canonical text and its hash."""

    entry: Entry
    value: str
    sha256: str

    def row(self) -> dict[str, Any]:
        """The row of the entry table."""
        said = self.entry
        return {
            "id": said.id,
            "subject": said.subject,
            "field": said.field,
            "value": self.value,
            "author": said.author,
            "at": said.at,
            "corrects": said.corrects,
            "sha256": self.sha256,
        }


def check_entry(said: Entry) -> Checked:
    """The entry, ready to be kept.

    Raises Refusal, or Refusals for several faults, each naming the part, what it holds and the cure.
    """
    faults = _faults(said)
    if said.value is not None and said.field in NOUNS:
        try:
            noun_of(said.field, said.subject, said.value)
        except Refusals as several:
            faults.extend(several.refusals)
        except Refusal as fault:
            faults.append(fault)
    if faults:
        raise faults[0] if len(faults) == 1 else Refusals(tuple(faults))
    value = canonical(said.value)
    return Checked(entry=said, value=value, sha256=sha256_of(said, value))


def sha256_of(said: Entry, value: str) -> str:
    """The hash over all that an entry says besides its own id."""
    told: list[Json] = [said.subject, said.field, said.author, written_time(said.at), said.corrects]
    return hashlib.sha256(canonical([*told, value]).encode()).hexdigest()


def entry_of(row: Any) -> Entry:
    """The entry that a row of the entry table holds."""
    return Entry(
        id=row.id,
        subject=row.subject,
        field=row.field,
        value=None if row.value == WITHDRAWN else json.loads(row.value),
        author=row.author,
        at=row.at,
        corrects=row.corrects,
    )


def _faults(said: Entry) -> list[Refusal]:
    faults = []
    if not isinstance(said.id, str) or not _UUID.fullmatch(said.id):
        faults.append(refused("records.entry_id", "id", got=shown(said.id)))
    if said.field not in NOUNS:
        faults.append(
            refused("records.field_unknown", "field", field=shown(said.field), possible=", ".join(NOUNS))
        )
    if not isinstance(said.subject, str) or not _SUBJECT.fullmatch(said.subject):
        faults.append(refused("records.subject", "subject", got=shown(said.subject)))
    elif (said.field in (SHOP, PLANNING)) != (said.subject == SHOP):
        faults.append(refused("records.shop_subject", "subject", got=shown(said.subject)))
    try:
        if len(read_text(said.author, "author")) > _LONGEST_AUTHOR:
            said_length = len(said.author)
            faults.append(
                refused("records.text_too_long", "author", length=said_length, longest=_LONGEST_AUTHOR)
            )
    except Refusal as fault:
        faults.append(fault)
    if said.at.tzinfo is None:
        faults.append(refused("records.not_a_time", "at", got=said.at.isoformat()))
    elif not 1900 <= said.at.year < 3000:
        faults.append(refused("records.year", "at", got=said.at.isoformat(), low=1900, high=2999))
    if said.corrects is not None and (not _UUID.fullmatch(str(said.corrects)) or said.corrects == said.id):
        faults.append(refused("records.corrects", "corrects", got=shown(said.corrects)))
    return faults


def is_part(field: str) -> bool:
    """Whether entries of this field are parts of a visit, each standing for itself."""
    return field not in NOUN_TABLES

"""Keep a heater type from its plate: a file on the shop's shelf, and the shelf read again."""

from __future__ import annotations

import dataclasses
import json
import os
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from lightoff.ground import units
from lightoff.ground.errors import Refusal, Refusals
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.shelf import SHEET_NUMBERS, SHEET_SAID, SHEET_SERVICE, Table, sheet_of
from lightoff.terms.shelf import PartType, Sheet
from lightoff.work.typed_numbers import number_and_unit
from lightoff.work.workshop import SHELF, Workshop

FIELDS: Mapping[str, str] = {field: unit for field, _, unit in (*SHEET_NUMBERS, *SHEET_SAID, *SHEET_SERVICE)}
"""Every number of a sheet's file by its field, with the file's unit."""
NEEDED = ("heat_output_kw", "supply_v")
_RESERVED = frozenset({"new"})  # the address of the blank page
_FEW_FIGURES = 6
_STAND_INS = {"heat_output_kw": "10", "supply_v": "12", "key": "x", "name": "x", "source": "plate and manual"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateText:
    """What was read off a plate, as typed, by the field of the sheet's file.

    `units` are those of numbers that are typed without one. `renewals` says after how much of its own clock
    the maker asks for a new part, by its type.
    """

    name: str
    source: str
    feed: str
    trials: str
    numbers: Mapping[str, str]
    units: Mapping[str, str]
    words: Mapping[str, str]
    renewals: Mapping[str, str] = dataclasses.field(default_factory=dict)


def keep_sheet(workshop: Workshop, plate: PlateText) -> Sheet:
    """The sheet, written into the shop's folder and on the shelf from now on.

    What the plate does not say is estimated. Raises Refusals, one for each box that is wrong, with nothing
    written then; Refusal for what the disk refuses.
    """
    values, problems = _values(plate)
    renewals, wrong = _renewals(plate, workshop.shelf.part_types)
    key = str(values.get("key", ""))
    if key in {*workshop.shelf.sheets, *_RESERVED}:
        problems["name"] = Refusal(message("shop.sheet_stands", name=plate.name), field="name")
    problems = _refused(values) | problems | wrong
    if problems:
        raise Refusals(tuple(problems.values()))
    folder = workshop.folder / SHELF / "sheets"
    path = folder / f"{key}.toml"
    _write(path, _toml(values) + renewals)
    workshop.reread_shelf()
    sheet: Sheet | None = workshop.shelf.sheets.get(key)
    if sheet is None:
        # Another file of the shop stands in its way: nothing of this one is left behind.
        path.unlink(missing_ok=True)
        workshop.reread_shelf()
        raise Refusal(message("shop.sheet_stands", name=plate.name), field="name")
    return sheet


def _values(plate: PlateText) -> tuple[dict[str, object], dict[str, Refusal]]:
    """The file's values as far as they can be read, and a sentence for each box that cannot."""
    problems: dict[str, Refusal] = {}
    values: dict[str, object] = {"key": _key_of(plate.name), "name": _clean(plate.name), "feed": plate.feed}
    for field, words in (("name", plate.name), ("source", plate.source)):
        if not words.strip():
            problems[field] = Refusal(message("shop.sheet_missing"), field=field)
    values["source"] = _clean(plate.source)
    for field, unit in FIELDS.items():
        text = plate.numbers.get(field, "").strip()
        if text:
            try:
                values[field] = str(_in_unit(text, plate.units.get(field, unit), unit, field=field))
            except Refusal as refusal:
                problems[field] = refusal
        elif field in NEEDED:
            problems[field] = Refusal(message("shop.sheet_missing"), field=field)
    if plate.trials.strip():
        try:
            values["trials"] = str(_in_unit(plate.trials, "count", "count", field="trials"))
        except Refusal as refusal:
            problems["trials"] = refusal
    values |= {field: _clean(words) for field, words in plate.words.items() if words.strip()}
    return values, problems


def _renewals(plate: PlateText, kinds: Mapping[str, PartType]) -> tuple[str, dict[str, Refusal]]:
    """The file's tables of renewals, and a sentence for each box that cannot be read."""
    tables, problems = list[str](), dict[str, Refusal]()
    for key, text in plate.renewals.items():
        if not text.strip() or key not in kinds:
            continue
        box, clock = f"renew_{key}", kinds[key].clock
        unit = "h" if clock == "run_hours" else "count"
        try:
            value = str(_in_unit(text, unit, unit, field=box))
            sheet_of(Table(file="", place="", values={**_STAND_INS, "renewals": {key: {clock: value}}}))
        except Refusal as refusal:
            problems[box] = Refusal(refusal.message, field=box)
            continue
        tables.append(f"\n[renewals.{key}]\n{clock} = {json.dumps(value)}\n")
    return "".join(tables), problems


def _in_unit(text: str, typed_in: str, unit: str, *, field: str) -> Decimal:
    """A typed number in the file's unit; as typed where it was typed in that unit."""
    written = number_and_unit(text, unit=typed_in, field=field)
    if units.UNITS[written.unit].dimension != units.UNITS[unit].dimension:
        raise Refusal(message("shop.sheet_unit", unit=written.unit, possible=unit), field=field)
    if written.unit == unit:
        return written.value
    return Decimal(f"{units.from_si(units.to_si(written.value, written.unit), unit):.{_FEW_FIGURES}g}")


def _refused(values: Mapping[str, object]) -> dict[str, Refusal]:
    """What the shelf's own reading refuses, box by box: each is left out, and the rest is read again."""
    typed = {field: value for field, value in values.items() if value}
    found: dict[str, Refusal] = {}
    while True:
        try:
            sheet_of(Table(file="", place="", values=_STAND_INS | typed))
        except Refusal as refusal:
            field = (refusal.field or "").rpartition(".")[2]
            # Of two that do not fit each other one may be an estimate: the typed one is told.
            other = str(refusal.message.values.get("high", ""))
            at = next((each for each in (field, other) if each in typed), "")
            if at or not found:
                found[at] = Refusal(refusal.message, field=at)
            if not at:
                return found
            del typed[at]
            continue
        return found


def _key_of(name: str) -> str:
    """A key for a name: small letters, digits and underscores."""
    plain = "".join(each if each.isascii() and each.isalnum() else " " for each in name.lower())
    return "_".join(plain.split())[:60] or "sheet"


def _clean(text: str) -> str:
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())


def _toml(values: Mapping[str, object]) -> str:
    """The file: every value as a text in quotes, as it was typed."""
    lines = [f"{field} = {json.dumps(str(value), ensure_ascii=False)}" for field, value in values.items()]
    return "\n".join(["# A heater type from its plate.", *lines, ""])


def _write(path: Path, text: str) -> None:
    """The whole file or none of it, and never over another."""
    made = path.with_suffix(f".{os.getpid()}.new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with made.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            raise FileExistsError(path.name)
        made.rename(path)
    except FileExistsError as there:
        raise Refusal(message("shop.sheet_file_stands", file=path.name), field="name") from there
    except OSError as trouble:
        reason = trouble.strerror or str(trouble)
        raise Refusal(message("shop.cannot_keep_sheet", path=str(path), reason=reason)) from trouble
    finally:
        if made.exists():
            made.unlink()

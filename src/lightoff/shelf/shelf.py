"""The whole shelf: what ships, and what a shop has added or tightened."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from lightoff.ground.errors import Refusal
from lightoff.physics.fuel import Fuel, blend
from lightoff.shelf.files import Table, hash_of, read_table
from lightoff.shelf.nouns import class_of, entry_of, fuel_of, limit_of, sheet_of
from lightoff.terms.shelf import Catalogue, CatalogueEntry, InstrumentClass, Limit, Limits, Sheet

Noun = TypeVar("Noun")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Limits, catalogue, fuels and sheets; `problems` are edits of the shop that were refused."""

    limits: Limits
    catalogue: Catalogue
    fuels: Mapping[str, Fuel]
    sheets: Mapping[str, Sheet]
    sha256: str
    problems: tuple[Refusal, ...]


def open_shelf(shop_folder: Path | None = None) -> Shelf:
    """Read the shipped shelf and a shop's own folder on top of it.

    A faulty file of the shop is named in `problems`; what ships stands, and so do the shop's other files.
    Raises Refusal only if the shipped files themselves are broken.
    """
    shipped = files("lightoff.shelf") / "data"
    builder = _Builder()
    builder.limits_file(read_table(shipped / "limits.toml"))
    builder.catalogue_file(read_table(shipped / "catalogue.toml"))
    builder.instruments_file(read_table(shipped / "instruments.toml"))
    builder.fuels_file(read_table(shipped / "fuels.toml"))
    for path in sorted((shipped / "sheets").iterdir(), key=lambda each: each.name):
        builder.sheet_file(read_table(path))
    if builder.problems:
        raise builder.problems[0]
    if shop_folder is not None and shop_folder.is_dir():
        builder.shop(shop_folder)
    return builder.shelf()


class _Builder:
    """Gathers nouns file by file; a fault in one row leaves the others standing."""

    def __init__(self) -> None:
        self.version = "0"
        self.limits: dict[str, Limit] = {}
        self.entries: dict[str, CatalogueEntry] = {}
        self.classes: dict[str, InstrumentClass] = {}
        self.fuels: dict[str, Fuel] = {}
        self.sheets: dict[str, Sheet] = {}
        self.problems: list[Refusal] = []

    def limits_file(self, table: Table) -> None:
        """The shipped limits."""
        self.version = table.text("version")
        for row in table.tables("limit"):
            self._add(row, limit_of, self.limits, lambda each: each.key)

    def catalogue_file(self, table: Table) -> None:
        """Readings; keys are only ever added."""
        for row in table.tables("reading"):
            self._add(row, entry_of, self.entries, lambda each: each.key)

    def instruments_file(self, table: Table) -> None:
        """Instrument classes."""
        for row in table.tables("class"):
            self._add(row, class_of, self.classes, lambda each: each.key)

    def fuels_file(self, table: Table) -> None:
        """Fuels, then blends of them."""
        for key, row in table.named_tables("fuel"):
            self._add(row, partial(fuel_of, key), self.fuels, _key_of_fuel)
        for key, row in table.named_tables("blend"):
            self._add(row, partial(self._blend, key), self.fuels, _key_of_fuel)

    def sheet_file(self, table: Table) -> None:
        """One heater type."""
        self._add(table, self._sheet, self.sheets, lambda each: each.key)

    def shop(self, folder: Path) -> None:
        """A shop's own files on top of what ships."""
        readers: list[tuple[Path | Traversable, Callable[[Table], None]]] = [
            (folder / "limits.toml", self._tighten),
            (folder / "catalogue.toml", self.catalogue_file),
            (folder / "fuels.toml", self.fuels_file),
        ]
        if (folder / "sheets").is_dir():
            readers += [(path, self.sheet_file) for path in sorted((folder / "sheets").glob("*.toml"))]
        for path, read in readers:
            if not path.is_file():
                continue
            try:
                read(read_table(path))
            except Refusal as refusal:
                self.problems.append(refusal)

    def shelf(self) -> Shelf:
        """Everything, hashed."""
        limits = Limits(
            version=self.version,
            sha256=hash_of(self.version, [repr(row) for row in self.limits.values()]),
            rows=MappingProxyType(dict(self.limits)),
        )
        catalogue = Catalogue(
            sha256=hash_of(
                [repr(each) for each in self.entries.values()], [repr(each) for each in self.classes.values()]
            ),
            entries=MappingProxyType(dict(self.entries)),
            classes=MappingProxyType(dict(self.classes)),
        )
        sheets = [each.sha256 for each in self.sheets.values()]
        return Shelf(
            limits=limits,
            catalogue=catalogue,
            fuels=MappingProxyType(dict(self.fuels)),
            sheets=MappingProxyType(dict(self.sheets)),
            sha256=hash_of(limits.sha256, catalogue.sha256, sheets, [repr(f) for f in self.fuels.values()]),
            problems=tuple(self.problems),
        )

    def _add(
        self, row: Table, make: Callable[[Table], Noun], to: dict[str, Noun], key_of: Callable[[Noun], str]
    ) -> None:
        try:
            noun = make(row)
            key = key_of(noun)
            if key in to:
                raise row.refuse("stands_already", "key", value=key)
            to[key] = noun
        except Refusal as refusal:
            named = refusal.message.key.startswith("shelf.")
            self.problems.append(refusal if named else row.refuse("refused", "", why=refusal.message))

    def _tighten(self, table: Table) -> None:
        """`[[tighten]] key = ..., value = ...` in the row's own unit: stricter, or refused."""
        table.known(("tighten",))
        for row in table.tables("tighten"):
            try:
                row.known(("key", "value", "source"))
                key = row.chosen("key", self.limits)
                source = row.text("source", "the shop's own limit")
                self.limits[key] = self.limits[key].tightened(
                    row.number("value"), source=source, basis="practice"
                )
            except Refusal as refusal:
                named = refusal.message.key.startswith("shelf.")
                self.problems.append(
                    refusal if named else row.refuse("refused", "value", why=refusal.message)
                )

    def _blend(self, key: str, table: Table) -> Fuel:
        table.known(("name", "of", "caution"))
        shares = table.named_numbers("of")
        for part, _ in shares:
            if part not in self.fuels:
                raise table.refuse("not_chosen", "of", value=part, possible=", ".join(self.fuels))
        return blend(
            [self.fuels[part] for part, _ in shares],
            [float(share) for _, share in shares],
            key=key,
            name=table.text("name"),
            caution=table.text("caution", "fuel_caution.blend"),
        )

    def _sheet(self, table: Table) -> Sheet:
        sheet = sheet_of(table)
        for key, value in sheet.tightens.items():
            if key not in self.limits:
                raise table.refuse("not_chosen", "tightens", value=key, possible=", ".join(self.limits))
            self.limits[key].tightened(value, source=sheet.source)
        return sheet


def _key_of_fuel(fuel: Fuel) -> str:
    return fuel.key

"""Opens the shelf: reads what ships and a shop's own folder on top of it, file by file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from lightoff.ground.errors import Refusal, Refusals
from lightoff.physics.fuel import Fuel, blend
from lightoff.shelf.faults import fault_of, leaks_of, trial_of, weight_of
from lightoff.shelf.files import Table, hash_of, read_table
from lightoff.shelf.nouns import class_of, entry_of, fuel_of, limit_of, sheet_of
from lightoff.shelf.part_types import edited, part_type_of
from lightoff.shelf.procedures import cautions_of, check_steps, extended, procedure_of, step_of, stops_of
from lightoff.shelf.shelf import ATTEMPT_STATES, LIMITS_FILE, REPAIR, Shelf
from lightoff.terms.procedure import Procedure, ProcedureStep
from lightoff.terms.shelf import (
    Catalogue,
    CatalogueEntry,
    Comparison,
    Fault,
    InstrumentClass,
    Limit,
    Limits,
    PartType,
    Sheet,
    Trial,
)

Noun = TypeVar("Noun")


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
    builder.faults_file(read_table(shipped / "faults.toml"))
    builder.part_types_file(read_table(shipped / "part_types.toml"))
    builder.steps_file(read_table(shipped / "steps.toml"))
    for path in sorted((shipped / "procedures").iterdir(), key=lambda each: each.name):
        builder.procedure_file(read_table(path))
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
        self.shipped_limits: dict[str, Limit] = self.limits
        self.entries: dict[str, CatalogueEntry] = {}
        self.classes: dict[str, InstrumentClass] = {}
        self.fuels: dict[str, Fuel] = {}
        self.sheets: dict[str, Sheet] = {}
        self.faults: dict[str, Fault] = {}
        self.trials: dict[str, Trial] = {}
        self.part_types: dict[str, PartType] = {}
        self.steps: dict[str, ProcedureStep] = {}
        self.procedures: dict[str, Procedure] = {}
        self.leaks_table = Table(file="faults.toml", place="file", values={"leak": 0})
        self.problems: list[Refusal] = []

    def limits_file(self, table: Table) -> None:
        """The shipped limits."""
        table.known(("version", "limit"))
        self.version = table.text("version")
        for row in table.tables("limit"):
            self._add(row, limit_of, self.limits, lambda each: each.key)

    def catalogue_file(self, table: Table) -> None:
        """Readings; keys are only ever added."""
        table.known(("reading",))
        for row in table.tables("reading"):
            self._add(row, entry_of, self.entries, lambda each: each.key)

    def instruments_file(self, table: Table) -> None:
        """Instrument classes."""
        table.known(("class",))
        for row in table.tables("class"):
            self._add(row, class_of, self.classes, lambda each: each.key)

    def fuels_file(self, table: Table) -> None:
        """Fuels, then blends of them."""
        table.known(("fuel", "blend"))
        for key, row in table.named_tables("fuel"):
            self._add(row, partial(fuel_of, key), self.fuels, _key_of_fuel)
        for key, row in table.named_tables("blend"):
            self._add(row, partial(self._blend, key), self.fuels, _key_of_fuel)

    def sheet_file(self, table: Table) -> None:
        """One heater type."""
        self._add(table, self._sheet, self.sheets, lambda each: each.key)

    def faults_file(self, table: Table) -> None:
        """The shipped faults and trials."""
        table.known(("leak", "leaks", "fault", "trial"))
        self.leaks_table = table
        self._faults(table)
        for row in table.tables("trial"):
            self._add(row, trial_of, self.trials, lambda each: each.key)

    def part_types_file(self, table: Table) -> None:
        """Part types; what ships may be edited, never replaced."""
        table.known(("part",))
        self._part_types(table)

    def steps_file(self, table: Table) -> None:
        """The steps of which procedures are made."""
        table.known(("source", "step"))
        self._steps(table, source=table.text("source"), own=False)

    def procedure_file(self, table: Table) -> None:
        """One shipped procedure."""
        make = partial(procedure_of, steps=self.steps, stops=stops_of(self.limits.values()))
        self._add(table, make, self.procedures, lambda each: each.key)

    def shop(self, folder: Path) -> None:
        """A shop's own files on top of what ships."""
        self.shipped_limits = dict(self.limits)
        readers: list[tuple[Path | Traversable, Callable[[Table], None]]] = [
            (folder / name, read)
            for name, read in zip(
                _SHOP_FILES,
                (
                    self._tighten,
                    self.catalogue_file,
                    self.fuels_file,
                    self._shop_faults,
                    self._shop_part_types,
                    self._shop_steps,
                ),
                strict=True,
            )
        ]
        if (folder / "sheets").is_dir():
            readers += [(path, self.sheet_file) for path in sorted((folder / "sheets").glob("*.toml"))]
        if (folder / "procedures").is_dir():
            own = sorted((folder / "procedures").glob("*.toml"))
            readers += [(path, self._shop_procedure) for path in own]
        for path, read in readers:
            if not path.is_file():
                continue
            try:
                read(read_table(path))
            except Refusal as refusal:
                self.problems.append(refusal)
        if self.limits != self.shipped_limits:
            self.version += "+shop"
        known = {path.name for path, _ in readers}
        for path in sorted(folder.glob("*.toml")):
            if path.name not in known:
                stray = Table(file=path.name, place="file", values={})
                self.problems.append(stray.refuse("not_read", "", possible=", ".join(_SHOP_FILES)))

    def shelf(self) -> Shelf:
        """Everything, hashed."""
        limits = Limits(
            version=self.version,
            sha256=hash_of(self.version, [repr(row) for row in self.limits.values()]),
            rows=MappingProxyType(dict(self.limits)),
        )
        entries = self.entries | {each.key: each for each in self._attempts()}
        catalogue = Catalogue(
            sha256=hash_of(
                [repr(each) for each in entries.values()], [repr(each) for each in self.classes.values()]
            ),
            entries=MappingProxyType(entries),
            classes=MappingProxyType(dict(self.classes)),
        )
        by_size = sorted(self.sheets.values(), key=lambda each: (each.heat_output_w, each.key))
        sheets = [each.sha256 for each in by_size]
        leaks = leaks_of(self.leaks_table, entries=self.entries)
        return Shelf(
            limits=limits,
            catalogue=catalogue,
            fuels=MappingProxyType(dict(self.fuels)),
            sheets=MappingProxyType({each.key: each for each in by_size}),
            faults=MappingProxyType(dict(self.faults)),
            trials=MappingProxyType(dict(self.trials)),
            leaks=leaks,
            part_types=MappingProxyType(dict(self.part_types)),
            procedures=MappingProxyType(dict(self.procedures)),
            sha256=hash_of(
                limits.sha256,
                catalogue.sha256,
                sheets,
                [repr(f) for f in self.fuels.values()],
                [repr(each) for each in (*self.faults.values(), *self.trials.values())],
                sorted(leaks.items()),
                [repr(each) for each in self.part_types.values()],
                [each.sha256 for each in self.procedures.values()],
            ),
            problems=tuple(self.problems),
        )

    def _attempts(self) -> Iterator[CatalogueEntry]:
        """What may be tried, as readings: each trial and each repair, and how it ended."""
        tried = [
            (each.key, "trial", each.minutes, each.opens, each.cautions) for each in self.trials.values()
        ]
        mended = [
            (REPAIR + each.key, "repair", each.minutes, each.opens, each.cautions)
            for each in self.faults.values()
        ]
        for key, area, minutes, opens, cautions in (*tried, *mended):
            yield CatalogueEntry(
                key=key, area=area, dimension="count", unit="", states=ATTEMPT_STATES, bases=(),
                classes=("eyes",), place="", minutes=minutes, opens=opens,
                caution=cautions[0] if cautions else "", kit=1, twice=False,
            )  # fmt: skip

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
            self._note(row, refusal)

    def _note(self, row: Table, refusal: Refusal) -> None:
        """Every fault apart, each with its file and place."""
        for each in refusal.refusals if isinstance(refusal, Refusals) else (refusal,):
            named = each.message.key.startswith("shelf.")
            self.problems.append(each if named else row.refuse("refused", each.field or "", why=each.message))

    def _tighten(self, table: Table) -> None:
        """`[[tighten]] key = ..., value = ...` in the row's own unit: stricter, or refused."""
        table.known(("tighten",))
        for row in table.tables("tighten"):
            try:
                row.known(("key", "value", "unit", "states", "source"))
                limit = self.limits[row.chosen("key", self.limits)]
                self.limits[limit.key] = self._tightened(row, limit)
            except Refusal as refusal:
                self._note(row, refusal)

    def _tightened(self, row: Table, limit: Limit) -> Limit:
        source = row.text("source", "the shop's own limit")
        if not limit.states:
            unit = row.text("unit", limit.unit)
            if unit != limit.unit:
                raise row.refuse("not_chosen", "unit", value=unit, possible=limit.unit or "“”")
            return limit.tightened(row.number("value"), source=source, basis="practice")
        states, known = row.texts("states"), self.entries[limit.quantity].states
        for state in states:
            if state not in known:
                raise row.refuse("not_chosen", "states", value=state, possible=", ".join(known))
        fewer = limit.comparison is Comparison.ONE_OF
        new, old = set(states), set(limit.states)
        if not states or not (new <= old if fewer else new >= old):
            comparison = limit.comparison.value
            raise row.refuse(
                "states_loosened", "states", comparison=comparison, states=", ".join(limit.states)
            )
        return replace(limit, states=states, source=source, basis="practice")

    def _shop_faults(self, table: Table) -> None:
        """`[[fault]]` adds one, `[[weight]] key = ..., weight = ...` says how often the shop meets one."""
        table.known(("fault", "weight"))
        self._faults(table)
        for row in table.tables("weight"):
            try:
                row.known(("key", "weight", "ground"))
                fault = self.faults[row.chosen("key", self.faults)]
                ground = row.text("ground", "the shop's own count")
                self.faults[fault.key] = replace(fault, weight=weight_of(row), ground=ground)
            except Refusal as refusal:
                self._note(row, refusal)

    def _part_types(self, table: Table) -> None:
        for row in table.tables("part"):
            make = partial(part_type_of, entries=self.entries, faults=self.faults, known=self.part_types)
            self._add(row, make, self.part_types, lambda each: each.key)

    def _shop_part_types(self, table: Table) -> None:
        """`[[part]]` adds one, `[[edit]] key = ..., price = ...` says what the shop knows of one."""
        table.known(("part", "edit"))
        self._part_types(table)
        for row in table.tables("edit"):
            try:
                part = self.part_types[row.chosen("key", self.part_types)]
                self.part_types[part.key] = edited(row, part)
            except Refusal as refusal:
                self._note(row, refusal)

    def _steps(self, table: Table, *, source: str, own: bool) -> None:
        known, faulty = dict(self.steps), len(self.problems)
        make = partial(
            step_of,
            entries=self.entries,
            cautions=cautions_of(self.entries),
            part_types=self.part_types,
            own=own,
            source=source,
        )
        for row in table.tables("step"):
            self._add(row, make, self.steps, lambda each: each.key)
        try:
            check_steps(table, self.steps, self.entries)
        except Refusal:
            self.steps = known
            if len(self.problems) == faulty:
                raise

    def _shop_steps(self, table: Table) -> None:
        """`[[step]]` adds one with its words."""
        table.known(("step",))
        self._steps(table, source="the shop's own", own=True)

    def _shop_procedure(self, table: Table) -> None:
        """One procedure made from a shipped one, or that one with the shop's steps."""
        try:
            procedure = extended(table, procedures=self.procedures, steps=self.steps)
            self.procedures[procedure.key] = procedure
        except Refusal as refusal:
            self._note(table, refusal)

    def _faults(self, table: Table) -> None:
        for row in table.tables("fault"):
            self._add(row, partial(fault_of, entries=self.entries), self.faults, lambda each: each.key)

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
        """A sheet without what it would loosen; what ships is the measure, not the shop's stricter row."""
        sheet = sheet_of(table)
        kept = dict(sheet.tightens)
        for key, value in sheet.tightens.items():
            try:
                if key not in self.shipped_limits:
                    possible = ", ".join(self.shipped_limits)
                    raise table.refuse("not_chosen", "tightens", value=key, possible=possible)
                self.shipped_limits[key].tightened(value, source=sheet.source)
            except Refusal as refusal:
                self._note(table, refusal)
                del kept[key]
        renewals = dict(sheet.renewals)
        for part in sheet.renewals:
            if part not in self.part_types:
                possible = ", ".join(self.part_types)
                self._note(table, table.refuse("not_chosen", "renewals", value=part, possible=possible))
                del renewals[part]
        return replace(sheet, tightens=MappingProxyType(kept), renewals=MappingProxyType(renewals))


_SHOP_FILES = (LIMITS_FILE, "catalogue.toml", "fuels.toml", "faults.toml", "part_types.toml", "steps.toml")


def _key_of_fuel(fuel: Fuel) -> str:
    return fuel.key

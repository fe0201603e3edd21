"""Limit gates: has a limit been crossed? More CO, smoke or leak never improves one."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import product

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import GateResult, Judgement
from lightoff.judging.believed import Believed, Judged
from lightoff.judging.compare import Doubted, against, crosses, threshold, worst
from lightoff.judging.unbelieved import why_open, why_partner_open
from lightoff.judging.weighing import (
    Number,
    Weighed,
    allows,
    gate_result,
    later,
    pools,
    tell_number,
    tell_state,
)
from lightoff.terms.shelf import Limit, Limits, Sheet
from lightoff.terms.visit import Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """The limits table as it applies to this heater: the sheet and the kind of vehicle only tighten."""

    limits: Limits
    sheet: Sheet
    kind: str

    def strictest(self, quantity: str, effect: str) -> Limit:
        """The strictest row. Raises KeyError where the table lacks one, so that no gate passes without."""
        row = self.limits.strictest(quantity, effect, kind=self.kind, sheet=self.sheet)
        if row is None:
            raise KeyError(f"the limits table has no {effect} row for {quantity}")
        return row

    def row(self, key: str) -> Limit:
        """A row by its key, tightened by the sheet where the sheet is stricter."""
        row, value = self.limits.rows[key], self.sheet.tightens.get(key)
        if value is None:
            return row
        try:
            return row.tightened(value, source=f"sheet {self.sheet.name}")
        except Refusal:
            return row

    def number(self, key: str) -> Fraction:
        """A value of the table by its row's key, exact SI."""
        return threshold(self.row(key))

    def states(self, quantity: str) -> tuple[Limit, ...]:
        """The rows that speak of a state; a gate never runs on none."""
        rows = tuple(row for row in self.limits.of(quantity) if row.states)
        if not rows:
            raise KeyError(f"the limits table has no row for {quantity}")
        return rows


def gate_flue_o2(believed: Believed, rows: Rows) -> GateResult:
    """Oxygen left over: below its floor never fit, above its ceiling not believable."""
    floor, ceiling = rows.strictest("flue_o2", "not fit"), rows.row("flue_o2_ceiling")

    def weigh(one: Judged) -> Weighed:
        doubted = Doubted(one.number, one.u**2)
        number = Number("flue_o2", doubted, (one.reading.id,))
        # A wet reading is lower than the dry one, and "----" is none: they prove nothing of the floor.
        if one.reading.basis != "dry" or one.at_top:
            wet = message("judging.o2_wet", what="@reading.flue_o2", read=doubted.amount("gas_fraction"))
            return Weighed(Judgement.NOT_PROVEN, (floor,), number, at_top=one.at_top, why=wet)
        low, high = against(floor, doubted), against(ceiling, doubted)
        believable = high is Judgement.WITHIN
        bit = ceiling if low is Judgement.WITHIN and not believable else floor
        judgement = low if believable else worst((low, Judgement.NOT_PROVEN))
        why = None if believable else _too_much_air(one)
        return Weighed(judgement, (bit,), number, complete=one.clean, why=why)

    weighed, used = pools("flue_o2", believed, lambda group: [weigh(one) for one in group])
    return tell_number("flue O2", weighed, used, believed, missing="flue_o2", dimension="gas_fraction")


def gate_flue_co(believed: Believed, rows: Rows) -> GateResult:
    """Carbon monoxide, judged air-free so that dilution hides nothing."""
    oxygen: dict[object, list[Judged]] = defaultdict(list)
    for one in believed.judged:
        if one.reading.key == "flue_o2" and one.reading.basis == "dry" and not one.at_top:
            oxygen[_set(one)].append(one)

    def weigh_all(group: list[Judged]) -> list[Weighed]:
        partners = oxygen[_set(group[0])]
        if partners:
            return [_weigh_co(co, o2, rows) for co, o2 in product(group, partners)]
        own, why = group[0], None
        if own in believed.in_test():
            why = why_partner_open(believed, "flue_o2", own.reading.set_number)
        return [replace(_weigh_co(co, None, rows), why=why) for co in group]

    conflicts = {_set(one) for one in believed.judged if one.reading.slot in believed.conflicts}
    weighed, used = pools("flue_co", believed, weigh_all, also_conflict=lambda one: _set(one) in conflicts)
    missing = "flue_o2" if believed.clean("flue_co") else "flue_co"
    return tell_number("flue CO", weighed, used, believed, missing=missing, dimension="trace_gas_fraction")


def _weigh_co(co: Judged, o2: Judged | None, rows: Rows) -> Weighed:
    fit, stop = rows.strictest("co_air_free", "not fit"), rows.strictest("co_air_free", "stop")
    bare, air_o2 = Doubted(co.number, co.u**2), rows.number("air_o2")
    as_read = Number("flue_co", bare, (co.reading.id,))
    referred = None
    if o2 is not None and o2.number < air_o2:
        free = air_free(co.number, co.u, o2.number, o2.u, air_o2)
        referred = Number("co_air_free", free, (co.reading.id, o2.reading.id))
    # Far diluted, the correction blows up: then the bare number decides a stop, and nothing is proven.
    diluted = o2 is None or crosses(rows.limits.rows["air_free_o2"], o2.number)
    number = as_read if diluted or referred is None else referred
    complete = not diluted and co.clean and o2 is not None and o2.clean
    if crosses(stop, number.doubted.x):
        return Weighed(Judgement.STOP, (stop,), number, complete=complete)
    if co.at_top:
        return Weighed(Judgement.OUTSIDE, (fit,), as_read, at_top=True)
    # Equally bad, the air-free one is told.
    told = [referred or number, number]
    judgement = worst(against(fit, each.doubted) for each in told)
    number = next(each for each in told if against(fit, each.doubted) is judgement)
    why = _too_much_air(o2) if o2 is not None and diluted else None
    return Weighed(judgement, (fit,), number, complete=complete, why=why)


def _too_much_air(o2: Judged) -> Message:
    amount = Doubted(o2.number, o2.u**2).amount("gas_fraction")
    return message("judging.too_much_air", o2=amount)


def air_free(co: Fraction, u_co: Fraction, o2: Fraction, u_o2: Fraction, air_o2: Fraction) -> Doubted:
    """CO x air O2 / (air O2 - O2), with both instruments' parts by root sum of squares."""
    room = air_o2 - o2
    by_co, by_o2 = air_o2 / room, co * air_o2 / room**2
    return Doubted(co * by_co, (by_co * u_co) ** 2 + (by_o2 * u_o2) ** 2)


def gate_smoke(believed: Believed, rows: Rows) -> GateResult:
    """Smoke number by pump and paper."""
    row = rows.strictest("smoke_number", "not fit")

    def weigh(one: Judged) -> Weighed:
        doubted = Doubted(one.number, one.u**2)
        judgement = Judgement.OUTSIDE if one.at_top else against(row, doubted)
        number = Number("smoke_number", doubted, (one.reading.id,))
        return Weighed(judgement, (row,), number, complete=one.clean, at_top=one.at_top)

    weighed, used = pools("smoke_number", believed, lambda group: [weigh(one) for one in group])
    return tell_number("smoke", weighed, used, believed, missing="smoke_number", dimension="smoke_number")


def gate_living_space(believed: Believed, rows: Rows) -> GateResult:
    """Carbon monoxide where people are, above outdoors, burner running and off: the worse counts."""
    weighed: list[Weighed] = []
    used: list[Judged] = []
    missing: list[str] = []
    for key in ("living_space_co_running", "living_space_co_off"):
        found, read = _rises(key, believed, rows)
        weighed.extend(found)
        used.extend(read)
        if not believed.clean(key):
            missing.append(key)
            weighed.append(Weighed(Judgement.NOT_PROVEN, ()))
    outdoors = [one for one in believed.in_test() if one.reading.key == "outdoor_co"]
    if not outdoors or not all(one.clean for one in outdoors):
        missing.append("outdoor_co")
    return tell_number(
        "living-space CO",
        weighed,
        used,
        believed,
        missing=missing[0] if missing else "",
        dimension="trace_gas_fraction",
    )


def _rises(key: str, believed: Believed, rows: Rows) -> tuple[list[Weighed], list[Judged]]:
    fit, stop = (
        rows.strictest("living_space_co_rise", "not fit"),
        rows.strictest("living_space_co_rise", "stop"),
    )
    outdoors: dict[object, list[Judged]] = defaultdict(list)
    doubted = set()
    for one in believed.judged:
        if one.reading.key == "outdoor_co" and one.clean:
            outdoors[_test_of(one)].append(one)
        elif one.reading.key == "outdoor_co":
            doubted.add(_test_of(one))

    def weigh(one: Judged, outside: Judged | None) -> Weighed:
        # Without outdoors its CO is taken as none, which can only count against.
        base, u_base = (outside.number, outside.u) if outside else (Fraction(0), Fraction(0))
        rise = Doubted(one.number - base, one.u**2 + u_base**2)
        ids = tuple(each.reading.id for each in (one, outside) if each is not None)
        number = Number("living_space_co_rise", rise, ids)
        complete = one.clean and outside is not None and _test_of(one) not in doubted
        if crosses(stop, rise.x):
            return Weighed(Judgement.STOP, (stop,), number, complete=complete)
        judgement = Judgement.OUTSIDE if one.at_top else against(fit, rise)
        return Weighed(judgement, (fit,), number, complete=complete, at_top=one.at_top)

    def weigh_all(group: list[Judged]) -> list[Weighed]:
        found: list[Judged | None] = [*outdoors[_test_of(group[0])]] or [None]
        return [weigh(one, outside) for one, outside in product(group, found)]

    return pools(
        key,
        believed,
        weigh_all,
        also_conflict=lambda one: len({each.x for each in outdoors[_test_of(one)]}) > 1,
    )


def gate_state(gate: str, quantities: tuple[str, ...], believed: Believed, rows: Rows) -> GateResult:
    """What was seen, against the states that the table allows."""
    weighed: list[Weighed] = []
    used: list[Judged] = []
    missing: list[str] = []
    for quantity in quantities:
        found, read = pools(quantity, believed, partial(_weigh_states, table=rows.states(quantity)))
        weighed.extend(found)
        used.extend(read)
        if not believed.clean(quantity):
            missing.append(quantity)
            weighed.append(Weighed(Judgement.NOT_PROVEN, ()))
    return tell_state(gate, weighed, used, believed, missing=tuple(missing))


def _weigh_states(group: list[Judged], *, table: tuple[Limit, ...]) -> list[Weighed]:
    weighed = []
    for one in group:
        bitten = [(row, _effect(row)) for row in table if not allows(row, one.reading.state)]
        judgement = worst(effect for _, effect in bitten) if bitten else Judgement.WITHIN
        limits = tuple(row for row, effect in bitten if effect is judgement) or table[:1]
        weighed.append(Weighed(judgement, limits, complete=one.clean))
    return weighed


def gate_trials(believed: Believed, rows: Rows) -> GateResult:
    """Starts without flame: after two somebody must look, and a wet chamber is not fired."""
    table, before = rows.states("chamber_look"), rows.row("trials_before_looking")
    looks = [one for one in believed.judged if one.reading.key == "chamber_look"]
    trials = [one for one in believed.judged if one.reading.key == "trials_without_flame"]
    used = (*looks, *trials)
    wet = [one for one in looks if not all(allows(row, one.reading.state) for row in table)]
    dry = [one for one in looks if one not in wet and one.clean]
    standing = [one for one in wet if not any(later(each, one) for each in dry)]
    if any(one.reading.slot not in believed.conflicts for one in standing):
        return gate_result("trials", Judgement.STOP, message("judging.trials_wet"), table, used)
    if standing:
        said = message("judging.conflict", what="@reading.chamber_look")
        return gate_result("trials", Judgement.NOT_PROVEN, said, table, used, ("chamber_look",))
    if any(crosses(before, one.number) for one in trials) and not dry:
        said = message("judging.trials_not_looked")
        return gate_result("trials", Judgement.NOT_PROVEN, said, (before,), used, ("chamber_look",))
    first_try = any(one.reading.state == "first try" for one in believed.clean("light_off"))
    left = [one for one in trials if one.reading.stage is Stage.AS_LEFT]
    if first_try and any(one.number > 0 for one in left):
        said = message("judging.trials_contradict")
        return gate_result("trials", Judgement.NOT_PROVEN, said, (), used, ("trials_without_flame",))
    if any(not one.clean for one in trials):
        said = why_open(believed, "trials_without_flame")
        return gate_result("trials", Judgement.NOT_PROVEN, said, (), used, ("trials_without_flame",))
    if not trials and not dry and not believed.clean("light_off"):
        said = message("judging.trials_not_noted")
        return gate_result("trials", Judgement.NOT_PROVEN, said, (), used, ("light_off",))
    return gate_result("trials", Judgement.WITHIN, message("judging.trials_within"), (before,), used)


def _effect(row: Limit) -> Judgement:
    return {"stop": Judgement.STOP, "not fit": Judgement.OUTSIDE}.get(row.effect, Judgement.NOT_PROVEN)


def _set(one: Judged) -> tuple[object, ...]:
    return (one.reading.stage, one.reading.test, one.reading.set_number)


def _test_of(one: Judged) -> tuple[object, ...]:
    return (one.reading.stage, one.reading.test)

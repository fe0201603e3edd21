"""From weighed readings to a gate: whose reading counts, the worst of them, and the sentence about it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction

from lightoff.ground.message import AsWritten, Message, message
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import WORST_FIRST, Counted, GateResult, Judgement
from lightoff.judging.believed import Believed, Judged, content
from lightoff.judging.compare import Doubted, settle, worst
from lightoff.judging.unbelieved import why_not, why_open
from lightoff.terms.shelf import Comparison, Limit
from lightoff.terms.visit import Stage


@dataclass(frozen=True, slots=True)
class Number:
    """A number that is held against a limit: which figure it is, and the readings it came from."""

    figure: str
    doubted: Doubted
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Weighed:
    """One candidate: its judgement, the rows that bit, the number that was compared.

    `complete` says that nothing it needs is missing or doubted, so that it may count for the heater and
    replace a danger as found. `at_top` says that the meter showed "at least this". `why` is what stands in
    the way of a proof, whatever the number; `conflict` and `lowered` say that it counts for less than it is.
    """

    judgement: Judgement
    limits: tuple[Limit, ...]
    number: Number | None = None
    complete: bool = False
    at_top: bool = False
    why: Message | None = None
    conflict: bool = False
    lowered: bool = False


def allows(row: Limit, state: str | None) -> bool:
    """Whether a row of states lets this one pass."""
    return (state in row.states) == (row.comparison is Comparison.ONE_OF)


def pools(
    key: str,
    believed: Believed,
    weigh_all: Callable[[list[Judged]], list[Weighed]],
    also_conflict: Callable[[Judged], bool] = lambda _: False,
) -> tuple[list[Weighed], list[Judged]]:
    """Weigh the test's readings; where none of them is complete, whatever was not yet replaced as well.

    Danger as found stands until a complete reading as left replaces it, and only one of the test can
    count for the heater. What was seen as left beside the test is past only where the test read it later.
    """
    mine = [one for one in believed.judged if one.reading.key == key]
    left = [one for one in mine if one.reading.stage is Stage.AS_LEFT]
    of_test = [one for one in left if believed.test is not None and one.reading.test == believed.test]
    for pool in (of_test, left, mine):
        weighed = _by_slot(pool, weigh_all, also_conflict)
        if any(each.complete for each in weighed):
            break
    told = [_for_the_worse(each, good=pool is of_test) for each in weighed]
    if pool is not of_test:
        return told, pool
    beside = [one for one in left if one.reading.test != believed.test]
    standing = {one.reading.slot for one in beside if not _past(one, of_test)}
    since = [one for one in beside if one.reading.slot in standing]
    bad = [each for each in _by_slot(since, weigh_all, also_conflict) if each.judgement in _BAD]
    return [*told, *bad], [*pool, *since] if bad else pool


def _past(one: Judged, of_test: list[Judged]) -> bool:
    return "no_time" not in one.doubts and any(each.clean and later(each, one) for each in of_test)


def later(one: Judged, than: Judged) -> bool:
    """Whether a reading came after another; one without a time never does."""
    at, other = one.reading.taken_at, than.reading.taken_at
    return at is not None and other is not None and at > other


def _for_the_worse(each: Weighed, *, good: bool) -> Weighed:
    """What is doubted, or of no test that counts, is at best not proven."""
    if good and each.complete:
        return each
    judgement = worst((each.judgement, Judgement.NOT_PROVEN))
    return replace(each, judgement=judgement, lowered=each.judgement is not judgement)


def _by_slot(
    readings: Iterable[Judged],
    weigh_all: Callable[[list[Judged]], list[Weighed]],
    also_conflict: Callable[[Judged], bool],
) -> list[Weighed]:
    """Weigh each slot's candidates together; a conflict counts as its mildest candidate."""
    groups: dict[object, list[Judged]] = defaultdict(list)
    for one in readings:
        groups[one.reading.slot].append(one)
    settled: list[Weighed] = []
    for group in groups.values():
        candidates = weigh_all(group)
        conflict = len({content(one) for one in group}) > 1 or also_conflict(group[0])
        judgement = settle([each.judgement for each in candidates], conflict=conflict)
        alike = [each for each in candidates if each.judgement is judgement]
        pick = min(alike or candidates, key=_worst_first)
        complete = not conflict and all(each.complete for each in candidates)
        settled.append(replace(pick, judgement=judgement, complete=complete, conflict=conflict))
    return settled


def _worst_first(each: Weighed) -> tuple[int, bool, bool, Fraction]:
    """The worse number first, among candidates judged alike: over the top, below a floor, then by size."""
    severity = WORST_FIRST.index(each.judgement)
    if each.number is None:
        return severity, True, True, Fraction(0)
    is_floor = each.limits[0].comparison is Comparison.AT_LEAST
    x = each.number.doubted.x
    return severity, not each.at_top, not is_floor, x if is_floor else -x


_BAD = (Judgement.STOP, Judgement.OUTSIDE)
_NAME = {
    Judgement.STOP: "crossed_stop",
    Judgement.OUTSIDE: "crossed",
    Judgement.NOT_PROVEN: "too_close",
    Judgement.WITHIN: "within",
}


def tell_number(
    gate: str,
    weighed: list[Weighed],
    used: Iterable[Judged],
    believed: Believed,
    *,
    missing: str,
    dimension: str,
) -> GateResult:
    """The gate of a number: the worst counts, and sentence and figure show that very one.

    `missing` is the reading that would close it, "" where none is open.
    """
    used = tuple(used)
    if not used:
        said = why_open(believed, missing)
        return GateResult(gate=gate, judgement=Judgement.NOT_PROVEN, said=said, missing=(missing,))
    judgement = worst(each.judgement for each in weighed)
    pick = min(weighed, key=_worst_first)
    lacks = (missing,) if judgement is Judgement.NOT_PROVEN and missing else ()
    limits = _limits(weighed, judgement)
    if pick.number is None:
        return gate_result(gate, judgement, why_open(believed, missing), limits, used, lacks)
    said = _said_number(pick, believed, used, missing=missing, dimension=dimension)
    result = gate_result(gate, judgement, said, limits, used, lacks)
    number = pick.number
    counted = Counted(
        figure=number.figure,
        estimate=number.doubted.estimate(),
        readings=number.readings,
        at_top=pick.at_top,
    )
    return replace(result, counted=counted)


def _said_number(
    pick: Weighed, believed: Believed, used: tuple[Judged, ...], *, missing: str, dimension: str
) -> Message:
    row, number = pick.limits[0], pick.number
    assert number is not None
    assert row.value is not None
    if pick.judgement is Judgement.NOT_PROVEN and (pick.why or pick.conflict or pick.lowered):
        return _why_lowered(pick, believed, used, missing)
    return message(
        f"judging.{'crossed_at_top' if pick.at_top else _NAME[pick.judgement]}",
        what=f"@figure.{number.figure}",
        amount=number.doubted.amount(dimension),
        limit=AsWritten(value=row.value, unit=row.unit),
        comparison=f"@comparison.{row.comparison}",
    )


def _why_lowered(pick: Weighed, believed: Believed, used: tuple[Judged, ...], missing: str) -> Message:
    """Why a number within its limit proves nothing: conflict, doubt, or another reading that it needs."""
    if pick.conflict:
        return _conflict(believed, used)
    assert pick.number is not None
    readings = [one.reading for one in believed.judged if one.reading.id in pick.number.readings]
    doubts = (why_not(believed, each) for each in readings)
    found = next((each for each in doubts if each is not None), pick.why)
    if found is not None:
        return found
    return why_open(believed, missing or used[0].reading.key)


def _conflict(believed: Believed, used: Iterable[Judged]) -> Message:
    """Which reading is in conflict; what no slot of the gate's own readings tells is a partner's."""
    own = [one.reading.key for one in used if one.reading.slot in believed.conflicts]
    others = sorted(place[0] for place in believed.conflicts)
    return message("judging.conflict", what=f"@reading.{(*own, *others)[0]}")


def tell_state(
    gate: str, weighed: list[Weighed], used: list[Judged], believed: Believed, *, missing: tuple[str, ...]
) -> GateResult:
    """The gate of what was seen: the worst counts."""
    judgement = worst(each.judgement for each in weighed)
    said = _said_state(gate, weighed, used, believed, missing)
    return gate_result(gate, judgement, said, _limits(weighed, judgement), used, missing)


def _said_state(
    gate: str, weighed: list[Weighed], used: list[Judged], believed: Believed, missing: tuple[str, ...]
) -> Message:
    judgement = worst(each.judgement for each in weighed)
    if judgement in _BAD:
        bit = next(each.limits for each in weighed if each.judgement is judgement)
        bad = next(
            one
            for one in used
            if one.reading.key == bit[0].quantity and not allows(bit[0], one.reading.state)
        )
        return message(
            f"judging.seen_{_NAME[judgement]}",
            what=f"@reading.{bad.reading.key}",
            state=f"@state.{str(bad.reading.state).replace(' ', '_')}",
        )
    if missing:
        return why_open(believed, missing[0])
    if judgement is Judgement.NOT_PROVEN:
        return _conflict(believed, used)
    return message("judging.seen_within", what=f"@gate.{gate.replace(' ', '_')}")


def _limits(weighed: list[Weighed], judgement: Judgement) -> tuple[Limit, ...]:
    """The rows that bit, those of the worst number first."""
    bit = (each for each in sorted(weighed, key=_worst_first) if each.judgement is judgement)
    return tuple(dict.fromkeys(row for each in bit for row in each.limits))


def gate_result(
    gate: str,
    judgement: Judgement,
    said: Message,
    limits: tuple[Limit, ...],
    used: Iterable[Judged],
    missing: tuple[str, ...] = (),
) -> GateResult:
    """A gate that used these readings; a stop names all that its rows stop."""
    named = dict.fromkeys(row.stops for row in limits if row.stops)
    return GateResult(
        gate=gate,
        judgement=judgement,
        said=said,
        limits=limits,
        stops=tuple(named) if judgement is Judgement.STOP else (),
        missing=missing,
        readings=tuple(one.reading.id for one in used),
    )

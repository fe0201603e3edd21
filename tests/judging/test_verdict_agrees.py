"""Two implementations, written apart from the same page, must judge alike."""

from random import Random

import pytest
from cases import Draft, good
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from looks import looked_at
from mutators import grouped, photographed, spoiled
from second_opinion import GATES, second_verdict

from lightoff.judging.verdict import judge

# Where a reading is disputed, late or misplaced, both say so by these gates; which other gate says "not
# proven" for it as well is bookkeeping, not judgement.
TELLS = ("conflict", "belongs here")
MILD = {"within limits", "not proven"}

Said = tuple[str, dict[str, str], tuple[str, ...]]


def first(draft: Draft) -> Said:
    result = judge(draft.case(), **draft.facts())
    gates = {gate.gate: str(gate.judgement) for gate in result.gates}
    assert len(gates) == len(result.gates), "a gate is named twice"
    return str(result.verdict), gates, tuple(result.stops)


def second(draft: Draft) -> Said:
    return second_verdict(draft.case(), **draft.facts())


def differences(one: Said, other: Said) -> list[tuple[str, object, object]]:
    """Verdict, stops and gates on which the two do not say the same."""
    apart: list[tuple[str, object, object]] = []
    if one[0] != other[0]:
        apart.append(("verdict", one[0], other[0]))
    if one[2] != other[2]:
        apart.append(("stops", one[2], other[2]))
    told = any(one[1][gate] == other[1][gate] == "not proven" for gate in TELLS)
    for gate in GATES:
        said = one[1][gate], other[1][gate]
        if said[0] != said[1] and not (told and set(said) == MILD):
            apart.append((gate, *said))
    return apart


def check(seeds: range, edits: int | None) -> None:
    apart = []
    for seed in seeds:
        draft, names = spoiled(Random(seed), edits)
        one, other = first(draft), second(draft)
        apart += [(seed, edits, names, said) for said in differences(one, other)]
    assert not apart, f"{len(apart)} disagreements, such as {apart[:5]}"


def test_both_name_the_same_gates() -> None:
    assert set(first(good())[1]) == set(second(good())[1]) == set(GATES)


def test_both_call_the_good_case_fit() -> None:
    assert first(good())[0] == second(good())[0] == "fit as tested"
    assert set(first(good())[1].values()) == {"within limits"}


def test_both_judge_grouped_answers_alike() -> None:
    changed = 0
    for seed in range(600):
        draft, names = spoiled(Random(seed), seed % 3)
        before = first(draft)[0]
        grouped(draft, Random(seed))
        assert not differences(first(draft), second(draft)), (seed, names)
        changed += first(draft)[0] != before
    assert changed > 100


def test_both_judge_readings_off_a_photograph_alike() -> None:
    changed = 0
    for seed in range(300):
        draft, names = spoiled(Random(seed), seed % 3)
        before = first(draft)[0]
        photographed(draft, Random(seed))
        assert not differences(first(draft), second(draft)), (seed, names)
        changed += first(draft)[0] != before
    assert changed > 20


def test_both_judge_looks_at_the_fuel_joints_alike() -> None:
    joints = set()
    for seed in range(700):
        draft, names = looked_at(Random(seed))
        one, other = first(draft), second(draft)
        assert not differences(one, other), (seed, names)
        joints.add(one[1]["fuel joints"])
    assert joints == {"within limits", "not proven", "outside limits", "stop"}


BATCH = 100


@pytest.mark.parametrize(
    ("edits", "begin"),
    [(edits, n) for edits, last in ((1, 1500), (2, 1000), (3, 600), (6, 400)) for n in range(0, last, BATCH)],
)
def test_both_judge_spoiled_cases_alike(edits: int, begin: int) -> None:
    check(range(begin, begin + BATCH), edits)


@pytest.mark.parametrize("edits", [1, 2, 3, 6])
def test_spoiled_cases_end_in_every_way(edits: int) -> None:
    # Nothing is proven by a comparison of cases that all end alike.
    verdicts = {first(spoiled(Random(seed), edits)[0])[0] for seed in range(2 * BATCH)}
    assert verdicts == {"fit as tested", "not proven", "not fit", "stop"}


@pytest.mark.slow
@pytest.mark.parametrize("edits", [1, 2, 3, 4, 5, 6, 8])
def test_both_judge_many_spoiled_cases_alike(edits: int) -> None:
    check(range(10_000, 13_000), edits)


@given(rnd=st.randoms(use_true_random=False), edits=st.integers(0, 6))
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
def test_both_judge_cases_searched_by_hypothesis_alike(rnd: Random, edits: int) -> None:
    draft, names = spoiled(rnd, edits)
    assert not differences(first(draft), second(draft)), names

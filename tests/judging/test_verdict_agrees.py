"""Two implementations of the verdict, written by different eyes, agree on thousands of spoiled visits."""

from random import Random

import cases
import mutators
import pytest
import second_opinion

from lightoff.judging.assessment import Judgement, Verdict
from lightoff.judging.verdict import GATES, judge

SEEDS = 3000
BATCH = 300


@pytest.mark.parametrize("first", range(0, SEEDS, BATCH))
def test_verdict_and_stops_agree(first: int) -> None:
    for seed in range(first, first + BATCH):
        draft, edits = mutators.spoiled(Random(seed))
        case, facts = draft.case(), draft.facts()
        found = judge(case, **facts)
        verdict, gates, stops = second_opinion.second_verdict(case, **facts)
        assert (seed, edits, str(found.verdict), found.stops) == (seed, edits, verdict, tuple(stops))
        # A gate that stops or fails does so in both; which gate names a missing thing may differ.
        hard = {Judgement.STOP, Judgement.OUTSIDE}
        mine = {gate.gate: str(gate.judgement) for gate in found.gates if gate.judgement in hard}
        theirs = {gate: each for gate, each in gates.items() if each in {str(one) for one in hard}}
        assert (seed, edits, mine) == (seed, edits, theirs)


def test_spoiled_visits_reach_every_verdict() -> None:
    found = set()
    for seed in range(400):
        draft, _ = mutators.spoiled(Random(seed))
        found.add(judge(draft.case(), **draft.facts()).verdict)
    assert found == set(Verdict)


def test_every_gate_is_judged_once() -> None:
    found = judge(cases.good().case(), **cases.good().facts())
    assert sorted(gate.gate for gate in found.gates) == sorted(GATES)

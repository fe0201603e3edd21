"""What a visit ended with when it was closed: whatever changes on the shelf later does not improve it."""

from __future__ import annotations

from lightoff.ground.message import message
from lightoff.judging.assess import with_gate
from lightoff.judging.assessment import STOP_ORDER, VERDICT_OF, WORST_FIRST, Assessment, GateResult, Judgement
from lightoff.judging.content import sealed_content
from lightoff.terms.case import Case

GATE = "as closed"
_JUDGEMENT_OF = {str(verdict): judgement for judgement, verdict in VERDICT_OF.items()}


def as_sealed(found: Assessment, case: Case) -> Assessment:
    """The judgement, no better than the one it was closed with while it rests on the same readings."""
    sealed = _JUDGEMENT_OF.get(case.visit.sealed_verdict)
    if sealed is None or case.visit.sealed_content != sealed_content(case):
        return found
    # Of a seal that names nothing, what it stopped is not known: the heater stays off.
    then = (case.visit.sealed_stops or ("do not fire",)) if sealed is Judgement.STOP else ()
    stops = tuple(stop for stop in then if stop in STOP_ORDER and stop not in found.verdict.stops)
    now = _JUDGEMENT_OF[str(found.verdict.verdict)]
    if WORST_FIRST.index(now) <= WORST_FIRST.index(sealed) and not stops:
        return found
    said = message("judging.as_closed", state=f"@verdict_word.{case.visit.sealed_verdict}")
    return with_gate(found, GateResult(gate=GATE, judgement=sealed, said=said, stops=stops))

"""The search for a fault, told to the owner: what he said, what is suspected, what was tried."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lightoff.faultfinding import Evidence, Outcome, Suspect, telling
from lightoff.faultfinding.asking import LAST_GOOD_RUN, LAST_WORK, ONCE_MORE, OWNER_SAYS
from lightoff.ground.message import Message, message
from lightoff.texts import Speaker
from lightoff.work.find_fault import LookedFor

MOST_SUSPECTS, MOST_TRIED = 2, 6
_SAID = (
    (OWNER_SAYS, "report.owner_said"),
    (LAST_WORK, "report.touched_last"),
    (LAST_GOOD_RUN, "report.last_good_run"),
)
_NAMED_FROM = 0.15
"""A suspect below this chance is not named to an owner. Judgement, no source."""


def trouble(found: LookedFor | None, speaker: Speaker) -> dict[str, Any] | None:
    """The part of the report, or None where nobody looked for a fault."""
    if found is None:
        return None
    tried = list(_tried(found.evidence))
    return {
        "heading": speaker.text("report.trouble"),
        "said": [speaker.say(each) for each in _said(found)],
        "tried": [speaker.say(each) for each in tried[:MOST_TRIED]],
        "more": speaker.text("report.tried_more", count=len(tried) - MOST_TRIED)
        if tried[MOST_TRIED:]
        else "",
        "note": speaker.text("report.trouble_note"),
    }


def _said(found: LookedFor) -> Iterator[Message]:
    for key, text in _SAID:
        said = [state for state, weight in found.evidence.states.get(key, {}).items() if weight > 0.0]
        if len(said) == 1:  # else nobody said which
            yield message(text, said=_state(said[0]))
    mended = [key for key, outcome in found.evidence.repairs.items() if outcome is Outcome.CURED]
    if mended:
        yield message("report.mended", fault=f"@fault.{mended[-1]}")
        return
    named = [each for each in found.suspects if each.chance >= _NAMED_FROM][:MOST_SUSPECTS]
    if found.nothing_fits:
        yield message("report.nothing_fits")
    elif named and named[0].chance > found.sound:
        for each in named:
            yield _suspected(each)
    else:
        yield message("report.nothing_suspected")


def _suspected(suspect: Suspect) -> Message:
    return message(
        "report.suspected",
        fault=f"@fault.{suspect.fault}",
        chance=f"@{telling.chance_word(suspect.chance)}",
        share=telling.share(suspect.chance, suspect.low, suspect.high),
    )


def _tried(evidence: Evidence) -> Iterator[Message]:
    """Trials and repairs with how they ended; what could not be done is no news to an owner."""
    outcomes = [(f"@reading.{key}", outcome) for key, outcome in evidence.trials.items()]
    outcomes += [
        (f"@reading.{ONCE_MORE}", Outcome(state))
        for state, weight in evidence.states.get(ONCE_MORE, {}).items()
        if weight > 0.0
    ]
    outcomes += [(f"@fault.{key}", outcome) for key, outcome in evidence.repairs.items()]
    for what, outcome in outcomes:
        if outcome is not Outcome.NOT_DONE:
            key = "report.tried_helped" if outcome is Outcome.CURED else "report.tried_in_vain"
            yield message(key, what=what)


def _state(state: str) -> str:
    return f"@state.{state.replace(' ', '_')}"  # every state of these has its word

"""From whatever was read or seen to likely causes and the next best step."""

from lightoff.faultfinding.bank import Bank, bank
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.explaining import Clue
from lightoff.faultfinding.finding import Finding, Suspect, find
from lightoff.faultfinding.posterior import Posterior, posterior
from lightoff.faultfinding.ranking import Kind, Step, StepOutcome

__all__ = [
    "Bank",
    "Clue",
    "Evidence",
    "Finding",
    "Kind",
    "Outcome",
    "Posterior",
    "Step",
    "StepOutcome",
    "Suspect",
    "bank",
    "find",
    "posterior",
]

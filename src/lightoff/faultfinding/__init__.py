"""From whatever was read or seen to likely causes and the next best step."""

from lightoff.faultfinding.bank import Bank, bank
from lightoff.faultfinding.evidence import Evidence, Number, Outcome, Side
from lightoff.faultfinding.posterior import Posterior, posterior

__all__ = ["Bank", "Evidence", "Number", "Outcome", "Posterior", "Side", "bank", "posterior"]

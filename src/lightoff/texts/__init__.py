"""Message -> sentence in a language and in the reader's units. Only faces and drawings import it."""

from lightoff.texts.limits import (
    band_words,
    begins_at_limit,
    effect_words,
    gate_name,
    how_to_prove,
    limit_words,
    sets_words,
)
from lightoff.texts.speaker import Part, Speaker

__all__ = [
    "Part",
    "Speaker",
    "band_words",
    "begins_at_limit",
    "effect_words",
    "gate_name",
    "how_to_prove",
    "limit_words",
    "sets_words",
]

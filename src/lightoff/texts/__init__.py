"""Message -> sentence in a language and in the reader's units. Only faces and drawings import it."""

from lightoff.texts.limits import gate_name, limit_words
from lightoff.texts.speaker import Part, Speaker

__all__ = ["Part", "Speaker", "gate_name", "limit_words"]

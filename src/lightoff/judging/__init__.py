"""From what was read to a judgement that explains itself. Pure."""

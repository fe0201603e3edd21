"""Wear: lives of parts, the chance to last, what to renew and what to carry. Pure."""

"""What people may edit, as TOML, read into frozen objects with a hash that judgements carry.

A shop's own folder may add fuels, sheets and readings, and may tighten a limit; it can never loosen one.
"""

from lightoff.shelf.shelf import REPAIR, Shelf, open_shelf

__all__ = ["REPAIR", "Shelf", "open_shelf"]

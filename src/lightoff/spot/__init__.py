"""A smoke spot read from a photograph: paper found, light evened out, reflectance against clean paper."""

from lightoff.spot.reader import read_spot
from lightoff.spot.reading import Anchor, Ellipse, Quad, SpotReading, Tint

__all__ = ["Anchor", "Ellipse", "Quad", "SpotReading", "Tint", "read_spot"]

"""Where in a photograph the paper, its spot and a comparison scale lie."""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.spot.even import paper_light, spread_of
from lightoff.spot.light import LUMINANCE, Floats, in_blocks, smoothed
from lightoff.spot.reading import Ellipse
from lightoff.spot.regions import (
    Labels,
    Mask,
    distance_in_radii,
    ellipse_of,
    filled,
    labelled,
    roundness,
    scaled,
)

# Judgement, tried on drawn photographs (benchmarks/smoke_spot.py); no source.
_COARSE_PX = 240  # the search runs on a picture made this small
_LEVELS = (0.75, 0.6, 0.45, 0.33, 0.22)  # paper is what is brighter than this share of the brightest
_SAME_COLOUR = 0.3  # logarithm of how far paper's red and blue may lie from the brightest's
_LEAST_PAPER_SHARE = 0.015
_LEAST_DEPTH = 0.02  # how much darker than paper counts as a spot
_LEAST_BLOB_PX = 9
_ROUND = (0.85, 1.12)
_LONGEST = 1.9  # a circle at a tilt of 58 degrees
_LEAST_OF_LARGEST = 0.25  # a smaller blob beside the spot is a mark, not a second spot
_CLEARLY_LARGER = 1.3
_RAGGED_SHARE = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class Blob:
    """A round thing darker than its paper; `darkness` is the light that it lacks, 0 to 1."""

    ellipse: Ellipse
    area: float
    darkness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A sheet among blocks of `size` pixels, and the blobs on it; `ragged` is its share in the dark."""

    size: int
    sheet: Mask
    spots: tuple[Blob, ...]
    ragged: float

    @property
    def spot(self) -> Ellipse:
        """The largest spot, in pixels of the photograph."""
        return scaled(self.spots[0].ellipse, self.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """The sheet that bears the spot, or one without; how dark the steps of the scale look."""

    paper: Found | None
    scale: tuple[float, ...]


def search(light: Floats) -> Search:
    """Looks for paper, spot and scale in linear light (h, w, 3)."""
    size = max(1, -(-max(light.shape[:2]) // _COARSE_PX))
    small = in_blocks(light, size)
    bright = small @ LUMINANCE
    alike = _of_the_brightest_colour(small, bright)
    best: Found | None = None
    scale: tuple[float, ...] = ()
    for level in _LEVELS:
        mask = (bright > level * np.percentile(bright, 99)) & alike
        names = labelled(mask)
        sizes = np.bincount(names.ravel())
        sizes[0] = 0
        for name in np.flatnonzero(sizes > _LEAST_PAPER_SHARE * names.size):
            found = _sheet(bright, names, int(name), size)
            row = _scale_of(found.spots)
            if row:
                scale = scale or row
                continue
            # Of two sights of one spot the brighter level holds less of the bench.
            if best is None or _largest(found) > _CLEARLY_LARGER * _largest(best):
                best = found
    return Search(paper=best, scale=scale)


def _largest(found: Found) -> float:
    return found.spots[0].area if found.spots else 0.0


def _of_the_brightest_colour(small: Floats, bright: Floats) -> Mask:
    """Paper has the colour of the lamp, whatever that is, and so has the brightest there is."""
    ratios = np.log(np.maximum(small[..., ::2], 1e-4) / np.maximum(small[..., 1:2], 1e-4))
    top = bright >= np.percentile(bright, 95)
    return np.asarray((np.abs(ratios - np.median(ratios[top], axis=0)) < _SAME_COLOUR).all(axis=-1))


def _sheet(bright: Floats, names: Labels, name: int, size: int) -> Found:
    patch = names == name
    sheet = filled(patch)
    inside = smoothed(sheet.astype(float), 1) > 0.99
    if not (patch & inside).any():
        return Found(size=size, sheet=sheet, spots=(), ragged=0.0)
    lack = smoothed(1.0 - bright / paper_light(bright, patch & inside), 1)
    least = max(_LEAST_DEPTH, 4.0 * spread_of(lack[patch & inside]))
    dark = labelled((lack > least) & inside)
    blobs, ragged = [], 0
    sizes = np.bincount(dark.ravel())
    sizes[0] = 0
    for each in np.flatnonzero(sizes >= _LEAST_BLOB_PX):
        part = dark == each
        blob = _blob(part, lack, inside)
        if blob is None:
            ragged += int(part.sum())
        else:
            blobs.append(blob)
    blobs.sort(key=lambda blob: -blob.area)
    kept = tuple(blob for blob in blobs if blob.area >= _LEAST_OF_LARGEST * blobs[0].area)
    return Found(size=size, sheet=sheet, spots=kept, ragged=ragged / max(1, int(inside.sum())))


def _blob(part: Mask, lack: Floats, inside: Mask) -> Blob | None:
    """The blob within a dark part, cut at half its depth; None for what is not round or leaves the sheet."""
    half = labelled(part & (lack > 0.5 * np.percentile(lack[part], 75)))
    sizes = np.bincount(half.ravel())
    sizes[0] = 0
    core = filled(half == int(np.argmax(sizes)))
    if core.sum() < _LEAST_BLOB_PX or (smoothed(core.astype(float), 1)[~inside] > 0.0).any():
        return None
    ellipse = ellipse_of(core)
    is_round = _ROUND[0] <= roundness(core, ellipse) <= _ROUND[1]
    if not is_round or ellipse.long_radius > _LONGEST * ellipse.short_radius:
        return None
    middle = distance_in_radii(ellipse, core.shape) < 0.6
    middle = middle if middle.any() else core
    return Blob(ellipse=ellipse, area=float(core.sum()), darkness=float(np.median(lack[middle])))


# A bought scale shows its steps in one row; the white of 0 cannot be seen on white.
_STEPS = (9, 10)
_STEP_OFF = 0.25  # of a step's own width aside of the row, or along it


def _scale_of(blobs: tuple[Blob, ...]) -> tuple[float, ...]:
    """How dark the steps 1 to 9 look, where the blobs are a comparison scale; empty where they are not."""
    if len(blobs) not in _STEPS:
        return ()
    places = np.array([(blob.ellipse.x, blob.ellipse.y) for blob in blobs])
    middle = places - places.mean(axis=0)
    axes = np.linalg.svd(middle, full_matrices=False)[2]
    along, across = middle @ axes[0], middle @ axes[1]
    order = np.argsort(along)
    gaps = np.diff(along[order])
    # Seen aslant, the gaps grow evenly along the row: they are held against their own straight line.
    line = np.polyval(np.polyfit(np.arange(len(gaps)), gaps, 1), np.arange(len(gaps)))
    if np.abs(across).max() > _STEP_OFF * gaps.mean() or np.abs(gaps - line).max() > _STEP_OFF * gaps.mean():
        return ()
    dark = np.array([blobs[int(at)].darkness for at in order])
    dark = dark if dark[-1] > dark[0] else dark[::-1]
    return tuple(float(each) for each in dark[-9:]) if (np.diff(dark) > 0.0).all() else ()


def is_ragged(found: Found) -> bool:
    """Whether much of the sheet lies in a dark that is no round spot."""
    return found.ragged > _RAGGED_SHARE

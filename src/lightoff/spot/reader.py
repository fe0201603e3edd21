"""The smoke number of a photographed spot: how much less light it gives back than clean paper."""

from __future__ import annotations

import numpy as np

from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.spot.even import paper_light, spread_of
from lightoff.spot.finding import Found, is_ragged, search
from lightoff.spot.light import (
    LUMINANCE,
    Bytes,
    Floats,
    in_blocks,
    lightness_and_colour,
    linear_light,
    smoothed,
)
from lightoff.spot.reading import Anchor, Ellipse, Quad, SpotReading, Tint
from lightoff.spot.regions import (
    Mask,
    distance_in_radii,
    ellipse_of,
    filled,
    labelled,
    quad_of,
    roundness,
    scaled,
)
from lightoff.terms.visit import SMOKE_BY_PHOTOGRAPH

# Ten spots from white to black in equal steps of reflected light, each a tenth of the white paper's.
# Basis: astm_d2156.
STEPS_OF_WHITE = 10.0
DARKEST = 9.0
LEAST_HALF_WIDTH = float(SMOKE_BY_PHOTOGRAPH)

# Judgement, tried on drawn photographs (benchmarks/smoke_spot.py); no source.
_LEAST_SIDE_PX = 200
_LEAST_RADIUS_PX = 14.0
_LEAST_RADIUS_SHARE = 1.0 / 60.0  # of the longer side
_WORKING_RADIUS_PX = 48
_AROUND = (1.4, 3.2)  # clean paper is looked for between these many radii
_INNER = 0.65
_LEAST_PAPER_IN_SPOTS = 1.5  # so much clean paper as spot
_CLIPPED_BYTE = 252
_MOST_CLIPPED_SHARE = 0.02
_DARKEST_PAPER = 0.06  # linear light
_MOST_CAST = 2.2  # strongest channel over the weakest, of light on white paper
_MOST_UNEVEN_PAPER = 0.12
_MOST_UNEVEN_SPOT = (0.04, 0.06)  # at any spot, and more by this share of its own light
_WIDEST_EDGE = 0.45  # of the radius
_BELOW_WHITE = -0.3
_BEYOND_BLACK = 0.35
_YELLOW_B = 6.0  # CIELAB b* beyond the paper's
_HALO_B = 1.5
_HALO_LACK = 0.02
_MOST_SCALE_OFF = 2.5


def read_spot(image: Bytes) -> SpotReading:
    """The smoke number of the spot in an upright sRGB photograph, or why it cannot be read.

    Light is evened out over the clean paper around the spot; a bought scale in the picture, where all its
    steps are seen, tells how this camera bends its greys. What nobody can see in a picture stays in it: a
    veil of stray light over paper and spot alike makes a dark spot read too light.

    Parameters: `image` (h, w, 3), bytes. Returns: SpotReading, refused or not. Raises ValueError for an
    array of another shape. Basis: astm_d2156.
    """
    if image.ndim != 3 or image.shape[2] != 3 or image.dtype != np.uint8:
        raise ValueError(f"a photograph is an array of (h, w, 3) bytes, not {image.shape} of {image.dtype}")
    if min(image.shape[:2]) < _LEAST_SIDE_PX:
        return _refused(message("spot.too_small"))
    light = linear_light(image)
    looked = search(light)
    paper = looked.paper
    if paper is None:
        return _refused(_why_no_paper(image, light))
    quad = quad_of(paper.sheet, paper.size)
    if not paper.spots:
        return _refused(_why_no_spot(image, light, paper), paper=quad)
    if len(paper.spots) > 1:
        return _refused(message("spot.several", count=len(paper.spots)), paper=quad, spot=paper.spot)
    spot = paper.spot
    least = max(_LEAST_RADIUS_PX, _LEAST_RADIUS_SHARE * max(image.shape[:2]))
    if spot.short_radius < least:
        return _refused(message("spot.too_small"), paper=quad, spot=spot)
    return _read(_near(image, light, paper), quad, looked.scale)


# ---- The neighbourhood of the spot -------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Near:
    """The spot and the paper around it, blocks of pixels made small: light, share clipped, where paper is."""

    light: Floats  # (h, w, 3)
    clipped: Floats  # (h, w)
    sheet: Mask
    spot: Ellipse  # in blocks
    size: int
    left: int
    top: int


def _near(image: Bytes, light: Floats, paper: Found) -> _Near:
    spot = paper.spot
    reach = (_AROUND[1] + 0.1) * spot.long_radius
    top, left = max(0, int(spot.y - reach)), max(0, int(spot.x - reach))
    bottom, right = int(spot.y + reach) + 1, int(spot.x + reach) + 1
    size = max(1, round(spot.long_radius / _WORKING_RADIUS_PX))
    near = in_blocks(light[top:bottom, left:right], size)
    clipped = (image[top:bottom, left:right] >= _CLIPPED_BYTE).any(axis=-1).astype(float)
    inside = smoothed(paper.sheet.astype(float), 1) > 0.99
    rows, columns = (
        np.minimum((start + (np.arange(count) + 0.5) * size).astype(int) // paper.size, most - 1)
        for start, count, most in (
            (top, near.shape[0], inside.shape[0]),
            (left, near.shape[1], inside.shape[1]),
        )
    )
    at = Ellipse(
        x=(spot.x - left) / size, y=(spot.y - top) / size, long_radius=spot.long_radius / size,
        short_radius=spot.short_radius / size, turn=spot.turn,
    )  # fmt: skip
    return _Near(
        light=near, clipped=in_blocks(clipped, size), sheet=inside[np.ix_(rows, columns)], spot=at,
        size=size, left=left, top=top,
    )  # fmt: skip


def _read(near: _Near, quad: Quad, scale: tuple[float, ...]) -> SpotReading:
    far = distance_in_radii(near.spot, near.sheet.shape)
    ring = near.sheet & (far > _AROUND[0]) & (far < _AROUND[1])
    whole = scaled(near.spot, near.size, left=near.left, top=near.top)
    if ring.sum() < _LEAST_PAPER_IN_SPOTS * (far < 1.0).sum():
        return _refused(message("spot.little_paper"), paper=quad, spot=whole)
    white = np.median(near.light[ring], axis=0)
    early = _early_refusals(near, ring, white)
    if early:
        return _refused(*early, paper=quad, spot=whole)
    ratio = np.stack(
        [near.light[..., each] / paper_light(near.light[..., each], ring) for each in range(3)], axis=-1
    )
    grey = ratio @ LUMINANCE
    spot = _sharper(grey, near.spot)
    if spot is None:
        return _refused(message("spot.shadow"), paper=quad, spot=whole)
    whole = scaled(spot, near.size, left=near.left, top=near.top)
    far = distance_in_radii(spot, grey.shape)
    inner = far < _INNER
    apparent = STEPS_OF_WHITE * (1.0 - float(np.median(grey[inner])))
    late = _late_refusals(grey, ring, far, spot)
    number, anchor = _on_the_scale(apparent, scale)
    if number < _BELOW_WHITE:
        late = (*late, message("spot.brighter"))
    elif number > DARKEST + _BEYOND_BLACK:
        late = (*late, message("spot.off_scale"))
    if late:
        return _refused(*late, paper=quad, spot=whole)
    return SpotReading(
        number=min(max(number, 0.0), DARKEST), half_width=_half_width(grey, ring, inner),
        tint=_tint(ratio, grey, far, near.sheet), anchor=anchor, paper=quad, spot=whole, refusals=(),
    )  # fmt: skip


def _sharper(grey: Floats, spot: Ellipse) -> Ellipse | None:
    """The ellipse along the half depth of the spot; None where that is not round."""
    lack = smoothed(1.0 - grey, 1)
    far = distance_in_radii(spot, grey.shape)
    depth = float(np.median(lack[far < _INNER]))
    names = labelled((lack > 0.5 * depth) & (far < _AROUND[0]))
    name = int(np.bincount(names[far < _INNER]).argmax())
    if not name:
        return None
    core = filled(names == name)
    ellipse = ellipse_of(core)
    return ellipse if roundness(core, ellipse) > 0.85 else None


def _on_the_scale(apparent: float, scale: tuple[float, ...]) -> tuple[float, Anchor]:
    """The number, by the bought scale in the same picture where it can be trusted, else by paper alone."""
    steps = np.arange(len(scale) + 1.0)
    seen = np.array([0.0, *(STEPS_OF_WHITE * each for each in scale)])
    if not scale or np.abs(seen - steps).max() > _MOST_SCALE_OFF or apparent > seen[-1]:
        return apparent, Anchor.PAPER
    return float(np.interp(apparent, seen, steps)), Anchor.SCALE


def _half_width(grey: Floats, ring: Mask, inner: Mask) -> float:
    """Twice what paper and spot scatter by, rounded up to what a photograph is worth at best."""
    patch = smoothed(grey, 3)
    scatter = float(np.hypot(spread_of(patch[ring]), spread_of(patch[inner])))
    return max(LEAST_HALF_WIDTH, 2.0 * STEPS_OF_WHITE * scatter)


def _tint(ratio: Floats, grey: Floats, far: Floats, sheet: Mask) -> Tint:
    """Yellow where the spot is yellower than its paper; oily where that has crept out beyond its edge."""
    _, _, yellow = lightness_and_colour(np.median(ratio[far < _INNER], axis=0))
    if yellow < _YELLOW_B:
        return Tint.NONE
    halo = sheet & (far > 1.12) & (far < 1.35)
    if not halo.any():
        return Tint.YELLOW
    _, _, crept = lightness_and_colour(np.median(ratio[halo], axis=0))
    has_crept = crept > _HALO_B and 1.0 - float(np.median(grey[halo])) > _HALO_LACK
    return Tint.OILY if has_crept else Tint.YELLOW


# ---- Why not -----------------------------------------------------------------------------------------


def _refused(*why: Message, paper: Quad | None = None, spot: Ellipse | None = None) -> SpotReading:
    return SpotReading(
        number=None, half_width=None, tint=Tint.NONE, anchor=None, paper=paper, spot=spot, refusals=why
    )


def _why_no_paper(image: Bytes, light: Floats) -> Message:
    if np.percentile(image.max(axis=-1), 97) >= _CLIPPED_BYTE:
        return message("spot.clipped")
    if np.percentile(light @ LUMINANCE, 99) < _DARKEST_PAPER:
        return message("spot.dark")
    return message("spot.no_paper")


def _why_no_spot(image: Bytes, light: Floats, paper: Found) -> Message:
    sheet = np.kron(paper.sheet, np.ones((paper.size, paper.size), dtype=bool))
    rows, columns = sheet.shape
    light = light[:rows, :columns]
    if (image[:rows, :columns][sheet] >= _CLIPPED_BYTE).any(axis=-1).mean() > 0.2:
        return message("spot.clipped")
    if np.median(light[sheet] @ LUMINANCE) < _DARKEST_PAPER:
        return message("spot.dark")
    return message("spot.shadow") if is_ragged(paper) else message("spot.no_spot")


def _early_refusals(near: _Near, ring: Mask, white: Floats) -> tuple[Message, ...]:
    """What makes light itself unreadable: too much, too little, too coloured."""
    around = distance_in_radii(near.spot, ring.shape) < 1.0
    if near.clipped[ring | around].mean() > _MOST_CLIPPED_SHARE:
        return (message("spot.clipped"),)
    if float(white @ LUMINANCE) < _DARKEST_PAPER:
        return (message("spot.dark"),)
    if float(white.max()) > _MOST_CAST * max(float(white.min()), 1e-4):
        return (message("spot.cast"),)
    return ()


def _late_refusals(grey: Floats, ring: Mask, far: Floats, spot: Ellipse) -> tuple[Message, ...]:
    """What the evened-out picture shows: a shadow or glare that is left, an edge that is not sharp."""
    if _edge_width(grey, far) > _WIDEST_EDGE:
        return (message("spot.blurred"),)
    even = smoothed(grey, max(1, round(spot.short_radius / 8.0)))
    why: list[Message] = []
    own = float(np.median(grey[far < _INNER]))
    uneven_spot = _MOST_UNEVEN_SPOT[0] + _MOST_UNEVEN_SPOT[1] * own
    for where, most in ((ring, _MOST_UNEVEN_PAPER), (far < 0.75, uneven_spot)):
        low, middle, high = np.percentile(even[where], (2.5, 50.0, 97.5))
        if high - low > most:
            why.append(message("spot.glare" if high - middle > middle - low else "spot.shadow"))
    return tuple({each.key: each for each in why}.values())


def _edge_width(grey: Floats, far: Floats) -> float:
    """How wide the edge of the spot is, in radii: its step over its steepest slope, averaged all around."""
    edges = np.arange(0.5, 1.6, 0.05)
    which = np.digitize(far, edges)
    bands = (grey[which == each] for each in range(1, len(edges)))
    means = np.array([band.mean() for band in bands if band.size])
    step = float(np.median(means[-4:]) - np.median(grey[far < _INNER]))
    slope = float((means[2:] - means[:-2]).max()) / 0.1
    return step / slope if slope > 0.0 else np.inf

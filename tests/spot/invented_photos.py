"""Invented photographs of smoke papers with a known number, sound or spoiled on purpose.

The picture is made forwards and knows nothing of the reader: reflectances on a plane, seen through a
perspective, lit unevenly, through a lens and a sensor, into a JPEG.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

SPOILED = (
    "blur", "clipped", "dark", "shadow", "half shadow", "glare", "no paper", "no spot", "too small",
    "off scale", "cast", "several",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What lies before the camera, and how it is taken. Lengths are in radii of the spot."""

    number: float
    width: int = 640
    height: int = 480
    radius_px: float = 50.0
    turn: float = 0.0
    tilt: tuple[float, float] = (0.0, 0.0)
    bench: tuple[float, float, float] = (0.30, 0.20, 0.11)
    paper: float = 0.85
    strip: tuple[float, float] = (7.0, 2.4)  # half lengths of the sheet
    texture: float = 0.01
    mottle: float = 0.01
    slope: tuple[float, float] = (0.0, 0.0)  # of the logarithm of light, from edge to edge
    vignette: float = 0.0
    cast: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.75  # linear light of white paper in the middle
    noise: float = 0.004
    blur_px: float = 0.7
    quality: int = 85
    yellow: float = 0.0  # light that the spot lacks in blue beyond its grey
    halo: float = 0.0  # and what crept out of it
    scale: bool = False
    gamma: float = 1.0  # a phone that bends its greys
    spoil: str = ""


def drawn_scene(rng: np.random.Generator, number: float | None = None) -> Scene:
    """A sound photograph as somebody in a hurry takes it."""
    angle, fall = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.5)
    warm = rng.uniform(-0.22, 0.3)
    wood = np.array([0.30, 0.20, 0.11]) * rng.uniform(0.15, 1.2)
    grey = np.array([0.12, 0.12, 0.13]) * rng.uniform(0.15, 1.8)
    bench = wood if rng.random() < 0.6 else grey
    return Scene(
        number=float(rng.uniform(0.6, 9.0)) if number is None else number,
        radius_px=float(rng.uniform(26, 78)),
        turn=float(rng.uniform(0, 2 * np.pi)),
        tilt=(float(rng.uniform(-0.5, 0.5)), float(rng.uniform(-0.5, 0.5))),
        bench=(float(bench[0]), float(bench[1]), float(bench[2])),
        paper=float(rng.uniform(0.78, 0.9)),
        strip=(float(rng.uniform(3.5, 9)), float(rng.uniform(2.0, 3.5))),
        texture=float(rng.uniform(0.003, 0.015)),
        mottle=float(rng.uniform(0.003, 0.02)),
        slope=(float(fall * np.cos(angle)), float(fall * np.sin(angle))),
        vignette=float(rng.uniform(0, 0.35)),
        cast=(float(np.exp(warm)), 1.0, float(np.exp(-warm))),
        exposure=float(rng.uniform(0.25, 0.62)),
        noise=float(rng.uniform(0.001, 0.012)),
        blur_px=float(rng.uniform(0.4, 2.2)),
        quality=int(rng.integers(60, 96)),
    )


def spoiled_scene(rng: np.random.Generator, how: str) -> Scene:
    """A photograph with one thing plainly wrong."""
    scene = replace(drawn_scene(rng), spoil=how)
    match how:
        case "blur":
            return replace(scene, blur_px=scene.radius_px * float(rng.uniform(0.3, 0.6)))
        case "clipped":
            return replace(scene, exposure=float(rng.uniform(1.3, 2.5)))
        case "dark":
            return replace(scene, exposure=float(rng.uniform(0.005, 0.03)))
        case "cast":
            return replace(scene, cast=(1.5, 1.0, 0.35), exposure=min(scene.exposure, 0.5))
        case "too small":
            return replace(scene, radius_px=float(rng.uniform(3, 9)), strip=(20.0, 9.0))
        case "off scale":
            return replace(scene, number=float(rng.uniform(9.6, 9.9)), noise=0.002)
        case "no spot":
            return replace(scene, number=0.0)
        case "several":  # both whole in the picture
            return replace(scene, radius_px=min(scene.radius_px, 44.0))
        case "shadow" | "half shadow":
            return replace(scene, number=float(rng.uniform(0.6, 8.0)))
        case _:
            return scene


def photograph(scene: Scene, rng: np.random.Generator) -> NDArray[np.uint8]:
    """The photograph as bytes (h, w, 3)."""
    y, x = np.mgrid[: scene.height, : scene.width].astype(float)
    across, along = x / scene.width - 0.5, y / scene.height - 0.5
    u, v, pixel = _on_the_bench(scene, x, y, rng)
    reflected = _reflected(scene, u, v, pixel, rng)
    light = np.exp(scene.slope[0] * across + scene.slope[1] * along)
    light = light * (1.0 - scene.vignette * (across**2 + along**2) / 0.5)
    light = light * _shade(scene, u, v, pixel, rng)
    seen = reflected * light[..., None] * np.array(scene.cast) * scene.exposure / scene.paper
    if scene.spoil in ("glare", "weak glare"):
        share = 1.0 if scene.spoil == "glare" else 0.3
        seen = seen + share * _glare(u, v, rng)[..., None] * scene.exposure
    seen = _blurred(seen, scene.blur_px)
    seen = seen + scene.noise * rng.normal(size=seen.shape) * np.sqrt(np.maximum(seen, 0.02))
    return _developed(np.maximum(seen, 0.0) ** scene.gamma, scene.quality)


def _on_the_bench(
    scene: Scene, x: NDArray[np.float64], y: NDArray[np.float64], rng: np.random.Generator
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Where each pixel looks at, in radii of the spot from its middle, and how large a pixel is there."""
    shift = rng.uniform(-0.06, 0.06, 2)
    a = (x - scene.width * (0.5 + shift[0])) / scene.radius_px
    b = (y - scene.height * (0.5 + shift[1])) / scene.radius_px
    depth = 1.0 + 0.04 * (scene.tilt[0] * a + scene.tilt[1] * b)
    stretch = 1.0 / np.cos(scene.tilt[0]), 1.0 / np.cos(scene.tilt[1])
    a, b = a * stretch[0] / depth, b * stretch[1] / depth
    u = a * np.cos(scene.turn) + b * np.sin(scene.turn)
    v = b * np.cos(scene.turn) - a * np.sin(scene.turn)
    return u, v, np.full_like(u, 1.0 / scene.radius_px)


def _soft(inside: NDArray[np.float64], pixel: NDArray[np.float64]) -> NDArray[np.float64]:
    """1 inside, 0 outside, even over one pixel; `inside` is the distance to the edge."""
    return np.clip(inside / pixel + 0.5, 0.0, 1.0)


def _grain(shape: tuple[int, int], rng: np.random.Generator, size: int) -> NDArray[np.float64]:
    """Noise with grains of about `size` pixels and a spread of one."""
    small = rng.normal(size=(shape[0] // size + 2, shape[1] // size + 2)).astype(np.float32)
    wide = Image.fromarray(small).resize((shape[1], shape[0]), Image.Resampling.BICUBIC)
    found = np.asarray(wide, dtype=float)
    return found / found.std()


def _reflected(
    scene: Scene, u: NDArray[np.float64], v: NDArray[np.float64], pixel: NDArray[np.float64],
    rng: np.random.Generator,
) -> NDArray[np.float64]:  # fmt: skip
    bench = np.array(scene.bench) * (1.0 + 0.12 * _grain(u.shape, rng, 7))[..., None]
    if scene.spoil == "no paper":
        return np.clip(bench, 0.01, 1.0)
    white = scene.paper * np.array([1.0, 0.995, 0.975])
    sheet = white * (1.0 + scene.texture * _grain(u.shape, rng, 2))[..., None]
    spots = [(0.0, 0.0)]
    if scene.spoil == "several":
        spots.append((2.9 * float(rng.choice([-1, 1])), 0.0))
    for at, up in spots:
        far = np.hypot(u - at, v - up)
        if scene.halo:
            crept = np.clip(1.7 - far, 0.0, 0.5) / 0.5
            sheet = sheet * (1.0 - scene.halo * crept[..., None] * np.array([0.35, 0.5, 1.0]))
        share = 1.0 - scene.number / 10.0
        mottled = share * (1.0 + scene.mottle * _grain(u.shape, rng, max(3, round(scene.radius_px / 4))))
        colour = mottled[..., None] * (1.0 - scene.yellow * np.array([0.05, 0.15, 1.0]))
        edge = _soft(1.0 - far, np.maximum(pixel, 0.04))[..., None]
        sheet = sheet * (1.0 - edge + edge * colour)
    long, wide = max(scene.strip[0], 5.0 if scene.spoil == "several" else 0.0), scene.strip[1]
    on = _soft(np.minimum(long - np.abs(u), wide - np.abs(v)), pixel)[..., None]
    seen = bench * (1.0 - on) + sheet * on
    return _with_scale(scene, seen, u, v, pixel) if scene.scale else seen


def _with_scale(
    scene: Scene, seen: NDArray[np.float64], u: NDArray[np.float64], v: NDArray[np.float64],
    pixel: NDArray[np.float64],
) -> NDArray[np.float64]:  # fmt: skip
    """A white card below the strip with the ten steps in a row."""
    below = scene.strip[1] + 1.9
    card = _soft(np.minimum(8.0 - np.abs(u), 1.2 - np.abs(v - below)), pixel)[..., None]
    face = np.full((*u.shape, 3), 0.85)
    for step in range(10):
        patch = _soft(0.55 - np.hypot(u - (step - 4.5) * 1.5, v - below), pixel)[..., None]
        face = face * (1.0 - patch * step / 10.0)
    return seen * (1.0 - card) + face * card


def _shade(
    scene: Scene, u: NDArray[np.float64], v: NDArray[np.float64], pixel: NDArray[np.float64],
    rng: np.random.Generator,
) -> NDArray[np.float64]:  # fmt: skip
    """A shadow whose edge lies over the spot, or one that ends upon it."""
    if scene.spoil not in ("shadow", "half shadow", "weak shadow"):
        return np.ones_like(u)
    if scene.spoil == "weak shadow":
        deep, angle = rng.uniform(0.05, 0.35), rng.uniform(0, 2 * np.pi)
        across = u * np.cos(angle) + v * np.sin(angle) - rng.uniform(-1.5, 1.5)
        return 1.0 - deep * _soft(across, np.maximum(pixel, rng.uniform(0.1, 1.5)))
    deep, angle = rng.uniform(0.35, 0.7), rng.uniform(0, 2 * np.pi)
    across = u * np.cos(angle) + v * np.sin(angle) - rng.uniform(-0.5, 0.5)
    inside = across
    if scene.spoil == "half shadow":  # a finger's
        beside = v * np.cos(angle) - u * np.sin(angle)
        inside = np.minimum(across, 1.0 - np.abs(beside))
    return 1.0 - deep * _soft(inside, np.maximum(pixel, rng.uniform(0.05, 0.4)))


def _glare(u: NDArray[np.float64], v: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    angle, off, wide = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 0.9), rng.uniform(0.4, 0.9)
    far = np.hypot(u - off * np.cos(angle), v - off * np.sin(angle))
    return rng.uniform(0.35, 1.0) * np.exp(-0.5 * (far / wide) ** 2)


def _blurred(seen: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    return np.stack([_gauss(seen[..., each], sigma) for each in range(3)], axis=-1)


def _gauss(plane: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    reach = max(1, int(3.0 * sigma + 1))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    weights /= weights.sum()
    for axis in (0, 1):
        wide = np.pad(plane, [(reach, reach) if each == axis else (0, 0) for each in (0, 1)], mode="edge")
        plane = sum(
            weight * np.take(wide, np.arange(plane.shape[axis]) + at, axis=axis)
            for at, weight in enumerate(weights)
        )  # type: ignore[assignment]
    return plane


def _developed(seen: NDArray[np.float64], quality: int) -> NDArray[np.uint8]:
    """Light into sRGB bytes, through a JPEG."""
    share = np.clip(seen, 0.0, 1.0)
    coded = np.where(share <= 0.0031308, 12.92 * share, 1.055 * share ** (1 / 2.4) - 0.055)
    file = io.BytesIO()
    Image.fromarray(np.round(coded * 255.0).astype(np.uint8), "RGB").save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file).convert("RGB"))

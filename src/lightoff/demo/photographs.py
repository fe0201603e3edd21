"""Invented photographs of the invented shop: drawn from a seed, each marked in the picture as invented.

They stand for what a technician's phone would take: the meter's number, the smoke paper, the nozzle before
and after. Nothing in them is copied from a real thing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from lightoff.demo.shop import DemoShop
from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.ground.values import dataclass
from lightoff.terms.visit import Reading, Stage, Visit

MARK = "invented picture"
WIDTH_PX, HEIGHT_PX = 640, 480
VISITS = 4
_FINE = 2  # drawn at twice the size and made smaller, so that edges are smooth
_STRIP_PX = 48
_INK, _PAPER, _BRASS, _STEEL = (20, 17, 13), (251, 248, 241), (176, 141, 76), (118, 120, 121)
# Seven strokes of a digit: top, upper left, upper right, middle, lower left, lower right, bottom.
_STROKES = {
    "0": "1110111", "1": "0010010", "2": "1011101", "3": "1011011", "4": "0111010", "5": "1101011",
    "6": "1101111", "7": "1010010", "8": "1111111", "9": "1111011", "-": "0001000",
}  # fmt: skip
_PAPER_LIGHT = 0.87  # of the smoke paper's own white
_METERS = {"flue_o2": "O2, %", "living_space_co_running": "CO, ppm"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """A picture of a visit; `reading` is the id of the reading that it shows, if it shows one."""

    id: str
    visit: str
    heater: str
    taken_at: datetime
    reading: str | None
    reading_key: str
    stage: Stage
    caption: str
    picture: Image.Image


def invent_photographs(rng: np.random.Generator, shop: DemoShop) -> tuple[Photograph, ...]:
    """Pictures of the visit under way and of the latest others that had a probe along."""
    probed = [case.visit for case in shop.cases if any(each.key == "flue_o2" for each in case.visit.readings)]
    chosen = [visit for visit in probed if visit.id == shop.open_visit] + [
        visit for visit in reversed(probed) if visit.id != shop.open_visit
    ]
    bench = _bench(rng)
    return tuple(shot for visit in chosen[:VISITS] for shot in _of_visit(rng, visit, bench))


def _of_visit(rng: np.random.Generator, visit: Visit, bench: Image.Image) -> Iterator[Photograph]:
    def taken(
        at: datetime, key: str, stage: Stage, caption: str, picture: Image.Image, reading: str | None = None
    ) -> Photograph:
        return Photograph(
            id=time_ordered_id(at, rng.bytes(RANDOM_BYTES)), visit=visit.id, heater=visit.heater,
            taken_at=at, reading=reading, reading_key=key, stage=stage, caption=caption, picture=picture,
        )  # fmt: skip

    for reading in _shown(visit):
        at = reading.taken_at
        if at is None:
            continue
        if reading.key == "smoke_number":
            caption = f"Smoke paper, {reading.stage}, beside the scale: {reading.value}"
            picture = smoke_paper(rng, bench, float(reading.value or 0))
        else:
            caption = f"Meter, {reading.stage}: {reading.value} {reading.unit}"
            picture = meter(rng, bench, str(reading.value), _METERS[reading.key])
        yield taken(at, reading.key, reading.stage, caption, picture, reading.id)
    opened = visit.started_at + timedelta(minutes=36)
    if visit.closed_at is not None and visit.service_complete:
        before = nozzle(rng, bench, carbon=float(rng.uniform(0.6, 0.9)))
        yield taken(opened, "nozzle_look", Stage.AS_FOUND, "Nozzle end, as found", before)
        after = nozzle(rng, bench, carbon=0.0)
        yield taken(
            opened + timedelta(minutes=18), "nozzle_look", Stage.AS_LEFT, "Nozzle end, cleaned", after
        )


def _shown(visit: Visit) -> list[Reading]:
    """The last stage's oxygen, carbon monoxide of the living space and smoke, one picture each."""
    latest: dict[str, Reading] = {}
    for reading in visit.readings:
        if reading.key in (*_METERS, "smoke_number") and reading.value is not None:
            latest.setdefault(reading.key, reading)
            if reading.stage is Stage.AS_LEFT and latest[reading.key].stage is Stage.AS_FOUND:
                latest[reading.key] = reading
    return list(latest.values())


# The pictures


def meter(rng: np.random.Generator, bench: Image.Image, number: str, words: str) -> Image.Image:
    """A plain slab lying on a bench, with one number in its window."""

    def draw(pen: ImageDraw.ImageDraw, size: Callable[[float], int]) -> None:
        pen.rounded_rectangle((size(150), size(40), size(490), size(400)), size(26), fill=(46, 48, 50))
        pen.rounded_rectangle((size(178), size(70), size(462), size(290)), size(8), fill=(176, 184, 160))
        step = 64
        digits = sum(each.isdigit() or each == "-" for each in number)
        left = 320 - 0.5 * step * digits + 13
        for each in number:
            if each == ".":
                pen.ellipse((size(left - 20), size(228), size(left - 8), size(240)), fill=_INK)
                continue
            _digit(pen, size, each, left)
            left += step
        font = ImageFont.load_default(size=size(22))
        pen.text((size(320), size(262)), words, font=font, fill=_INK, anchor="mm")
        pen.ellipse((size(298), size(322), size(342), size(366)), fill=(78, 80, 82))

    return _photographed(bench, draw, turn=float(rng.uniform(-7, 7)))


def smoke_paper(rng: np.random.Generator, bench: Image.Image, number: float) -> Image.Image:
    """A strip of filter paper with one spot, darker with the smoke number (0 white, 9 black)."""
    grey = _grey(number)
    shades = [_grey(step) for step in range(0, 10, 3)]

    def draw(pen: ImageDraw.ImageDraw, size: Callable[[float], int]) -> None:
        pen.rectangle((size(90), size(120), size(550), size(260)), fill=(243, 240, 232))
        pen.ellipse((size(265), size(145), size(355), size(235)), fill=(grey, grey, max(grey - 2, 0)))
        font = ImageFont.load_default(size=size(20))
        for place, shade in enumerate(shades):
            left = 150 + 90 * place
            pen.rectangle((size(left), size(300), size(left + 70), size(360)), fill=(shade, shade, shade))
            ink = _INK if shade > 110 else _PAPER
            pen.text((size(left + 35), size(330)), str(3 * place), font=font, fill=ink, anchor="mm")

    return _photographed(bench, draw, turn=float(rng.uniform(-5, 5)))


def _grey(number: float) -> int:
    """The sRGB byte of a spot: each number gives back a tenth of the paper's light less.

    Basis: astm_d2156 for the steps, iec_61966_2_1 for the byte.
    """
    light = _PAPER_LIGHT * (1.0 - min(max(number, 0.0), 9.0) / 10.0)
    return round(255.0 * (1.055 * float(light ** (1.0 / 2.4)) - 0.055))


def nozzle(rng: np.random.Generator, bench: Image.Image, *, carbon: float) -> Image.Image:
    """The end of a nozzle seen from the front; `carbon` from 0 (clean) to 1 (caked)."""
    crumbs = [
        (float(rng.uniform(0, 2 * np.pi)), float(rng.uniform(20, 122)), float(rng.uniform(4, 17)))
        for _ in range(round(150 * carbon))
    ]
    dull = tuple(round(channel * (1 - 0.45 * carbon)) for channel in _BRASS)

    def draw(pen: ImageDraw.ImageDraw, size: Callable[[float], int]) -> None:
        pen.regular_polygon((size(320), size(215), size(175)), 6, fill=_STEEL)
        pen.ellipse((size(185), size(80), size(455), size(350)), fill=dull)
        pen.ellipse((size(270), size(165), size(370), size(265)), fill=_STEEL)
        pen.ellipse((size(312), size(207), size(328), size(223)), fill=_INK)
        for angle, far, wide in crumbs:
            x, y = 320 + far * np.cos(angle), 215 + far * np.sin(angle)
            pen.ellipse((size(x - wide), size(y - wide), size(x + wide), size(y + wide)), fill=(34, 30, 27))

    return _photographed(bench, draw, turn=float(rng.uniform(-20, 20)))


def _digit(pen: ImageDraw.ImageDraw, size: Callable[[float], int], digit: str, left: float) -> None:
    """One digit of strokes, 38 wide and 124 tall, its top at 112."""
    right, top, middle, bottom, thick = left + 38, 112, 174, 236, 9
    lying = {0: top, 3: middle, 6: bottom}
    standing = {1: (left, top), 2: (right, top), 4: (left, middle), 5: (right, middle)}
    for stroke, lit in enumerate(_STROKES[digit]):
        if lit == "0":
            continue
        if stroke in lying:
            ends = (left + 4, lying[stroke], right - 4, lying[stroke])
        else:
            x, y = standing[stroke]
            ends = (x, y + 5, x, y + 57)
        pen.line([size(each) for each in ends], fill=_INK, width=size(thick))


def _photographed(
    bench: Image.Image,
    draw: Callable[[ImageDraw.ImageDraw, Callable[[float], int]], None],
    *,
    turn: float,
) -> Image.Image:
    """What `draw` draws, lying on a bench in uneven light, a shadow under it, marked as invented."""
    wide, tall = WIDTH_PX * _FINE, HEIGHT_PX * _FINE
    thing = Image.new("RGBA", (wide, tall), (0, 0, 0, 0))
    draw(ImageDraw.Draw(thing), lambda length: round(length * _FINE))
    thing = thing.rotate(turn).reduce(_FINE)
    whole = bench.copy()
    shadow = thing.getchannel("A").filter(ImageFilter.BoxBlur(7))
    whole.paste((38, 28, 20), (9, 11), shadow.point(lambda alpha: alpha * 0.55))
    whole.paste(thing, (0, 0), thing)
    strip = ImageDraw.Draw(whole)
    strip.rectangle((0, HEIGHT_PX - _STRIP_PX, WIDTH_PX, HEIGHT_PX), fill=_PAPER)
    middle = (WIDTH_PX / 2, HEIGHT_PX - _STRIP_PX / 2)
    strip.text(middle, MARK, font=ImageFont.load_default(size=32), fill=_INK, anchor="mm")
    return whole


def _bench(rng: np.random.Generator) -> Image.Image:
    """A worn wooden top: boards, grain along them, light from one corner."""
    rows, columns = np.arange(HEIGHT_PX)[:, None], np.arange(WIDTH_PX)[None, :]
    grain = np.repeat(rng.normal(0.0, 7.0, (HEIGHT_PX // 2, 1)), 2, axis=0)
    boards = rng.normal(0.0, 9.0, 5)[rows // 100]
    light = 1.12 - 0.32 * columns / WIDTH_PX - 0.2 * rows / HEIGHT_PX
    lifted = (grain + boards + 4.0 * np.sin(columns / 47.0 + rows / 160.0))[..., None]
    colour = (np.array([150.0, 122.0, 92.0]) + lifted) * light[..., None]
    return Image.fromarray(np.clip(colour, 0, 255).astype(np.uint8), "RGB")

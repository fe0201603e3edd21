"""`lightoff predict`: what a heater of this type would read there, in order or with a fault."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from lightoff.cli.reading import shelf_of
from lightoff.cli.telling import printable
from lightoff.ground.message import Amount
from lightoff.ground.units import to_si
from lightoff.plant.band import Band
from lightoff.plant.model import Prediction
from lightoff.plant.quantities import QUANTITIES
from lightoff.texts import Speaker
from lightoff.work.predict_readings import Asked, air_ratio_there, bands_there, predict_readings

FORMAT = "lightoff prediction 1"
STOPS_AFTER = "run_time_before_stop"
_MOSTLY = 0.5
_SURELY = 0.01


def predicted(
    *,
    sheet: str,
    altitude: float,
    air: float,
    volts: float | None,
    fuel: str,
    faults: tuple[str, ...],
    severity: float,
    as_json: bool,
    shop: Path | None,
    units: str,
) -> None:
    """Print each reading to expect there, beside the same heater in order where a fault is named."""
    asked = Asked(
        sheet=sheet,
        fuel=fuel,
        altitude_m=altitude,
        air_temperature_k=to_si(air, "degC") if math.isfinite(air) else air,
        rest_v=volts,
        faults=faults,
        severity=severity,
    )
    shelf = shelf_of(shop)
    seen, expected = predict_readings(asked, shelf), bands_there(asked, shelf)
    ratio = air_ratio_there(asked, shelf)
    if as_json:
        text = json.dumps(_data(seen, expected, asked, ratio), indent=2, ensure_ascii=False)
    else:
        speaker = Speaker(units=units, own=shelf.own_words)
        head = speaker.text(
            "cli.predicted_faulty" if faults else "cli.predicted",
            sheet=f"@sheet.{sheet}",
            altitude=Amount(value=altitude, dimension="length"),
            air=Amount(value=asked.air_temperature_k, dimension="temperature"),
            fuel=f"@fuel.{fuel}",
        )
        text = "\n".join([head, *_lines(seen, expected, ratio, speaker, faulty=bool(faults))])
    click.echo(printable(text, sys.stdout))


def _lines(
    seen: Prediction, expected: Mapping[str, Band], ratio: Band, speaker: Speaker, *, faulty: bool
) -> list[str]:
    told = list[str]()
    for at, (key, quantity) in enumerate(QUANTITIES.items()):

        def said(value: float, dimension: str = quantity.dimension) -> str:
            return speaker.amount(Amount(value=value, dimension=dimension))

        ill = said(float(seen.numeric[1, at]))
        if key == STOPS_AFTER and seen.running[1] > _MOSTLY:
            ill = ""
        band = expected[key]
        ends = speaker.text("cli.predicted_band", low=said(band.low), high=said(band.high))
        if key == STOPS_AFTER:
            ends = ""  # one in order does not stop by itself
        if ends or (faulty and ill):
            told.append(
                f"  {speaker.text(f'reading.{key}'):<36} {ends:>24}" + (f" {ill:>16}" if faulty else "")
            )
    for key, value in (
        ("light_chance", seen.lit),
        ("air_ratio", seen.air_ratio),
        ("efficiency", seen.efficiency),
    ):
        healthy, ill = (_share(float(value[row]), key, speaker) for row in (0, 1))
        if key == "air_ratio":
            healthy = speaker.text("cli.predicted_band", low=f"{ratio.low:.2f}", high=f"{ratio.high:.2f}")
        told.append(f"  {speaker.text(f'cli.{key}'):<36} {healthy:>24}" + (f" {ill:>16}" if faulty else ""))
    return told


def _share(value: float, key: str, speaker: Speaker) -> str:
    """Two digits; a chance is never told as nought or one."""
    if key == "light_chance" and not _SURELY < value < 1.0 - _SURELY:
        return speaker.text(f"cli.predicted_chance_{'over' if value > _MOSTLY else 'under'}")
    return f"{value:.2f}"


def _data(seen: Prediction, expected: Mapping[str, Band], asked: Asked, ratio: Band) -> dict[str, Any]:
    def row(at: int) -> dict[str, Any]:
        return {
            "readings": {key: float(seen.numeric[at, column]) for column, key in enumerate(QUANTITIES)},
            "lights": float(seen.lit[at]),
            "keeps_burning": float(seen.running[at]),
            "air_ratio": float(seen.air_ratio[at]),
            "efficiency": float(seen.efficiency[at]),
        }

    return {
        "format": FORMAT,
        "sheet": asked.sheet,
        "faults": list(asked.faults),
        "in_order": row(0),
        "expected": {key: [band.low, band.high] for key, band in expected.items()},
        "expected_air_ratio": [ratio.low, ratio.high],
        **({"with_fault": row(1)} if asked.faults else {}),
    }

"""`lightoff smoke`: a photograph of a smoke spot in, its number out, or why there is none."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from lightoff.cli.as_data import plain
from lightoff.cli.telling import ERROR, printable
from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.spot.telling import said
from lightoff.texts import Speaker
from lightoff.work.read_smoke_spot import read_smoke_spot

FORMAT = "lightoff smoke spot 1"
_LARGEST_BYTES = 40_000_000  # as the page keeps them


def smoke(photo: Path, *, as_json: bool) -> None:
    """Print what the photograph says; ends with 1 where it can say no number."""
    try:
        if photo.stat().st_size > _LARGEST_BYTES:
            raise Refusal(message("cli.photo_large", file=str(photo)))
        data = photo.read_bytes()
    except (OSError, ValueError) as trouble:
        reason = getattr(trouble, "strerror", None) or str(trouble)
        raise Refusal(message("visit_file.cannot_read", file=str(photo), reason=reason)) from trouble
    reading, speaker = read_smoke_spot(data), Speaker()
    sentences = [speaker.say(each) for each in said(reading)]
    if as_json:
        whole = {"format": FORMAT, "said": sentences, **plain(reading, speaker)}
        text = json.dumps(whole, indent=2, ensure_ascii=False)
    else:
        text = "\n".join(sentences)
    click.echo(printable(text, sys.stdout))
    if reading.number is None:
        click.get_current_context().exit(ERROR)

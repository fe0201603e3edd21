"""`lightoff fuels`: what lies on the shelf to burn."""

from __future__ import annotations

from pathlib import Path

import click

from lightoff.cli.reading import shelf_of
from lightoff.cli.telling import say
from lightoff.ground.message import Amount
from lightoff.ground.sources import SOURCES
from lightoff.physics.fuel import Fuel
from lightoff.texts import Speaker


def fuels(shop: Path | None, *, units: str) -> None:
    """Each fuel with its key numbers and where they come from."""
    shelf = shelf_of(shop)
    speaker = Speaker(units=units)
    for problem in shelf.problems:
        say(speaker.say(problem.message))
    for fuel in shelf.fuels.values():
        _tell(fuel, speaker)


def _tell(fuel: Fuel, speaker: Speaker) -> None:
    made = fuel.stoichiometry
    click.echo(speaker.text("cli.fuel", key=fuel.key, name=fuel.name))
    numbers = (
        ("fuel_density", Amount(value=fuel.density_15c_kg_m3.value, dimension="density")),
        ("fuel_net", Amount(value=fuel.net_heating_value_j_kg, dimension="specific_energy")),
        ("fuel_gross", Amount(value=fuel.gross_heating_value_j_kg, dimension="specific_energy")),
        ("fuel_air", Amount(value=made.air_kg_kg, dimension="ratio")),
        ("fuel_co2", Amount(value=made.largest_dry_co2_fraction, dimension="gas_fraction")),
    )
    for key, amount in numbers:
        click.echo(f"  {speaker.text(f'cli.{key}', amount=amount)}")
    sources = dict.fromkeys(
        each.source for each in (fuel.carbon_fraction, fuel.density_15c_kg_m3, fuel.heating_value_j_kg)
    )
    told = "; ".join(SOURCES[each].title if each in SOURCES else each for each in sources)
    click.echo(f"  {speaker.text('cli.fuel_sources', sources=told)}")

"""The commands and their options. What a command needs is imported when it runs, so that help is quick."""

from __future__ import annotations

import os
from pathlib import Path

import click

from lightoff.cli.telling import Told

_UNITS = click.option(
    "--units",
    type=click.Choice(["metric", "us"]),
    help="Units of the figures; the visit's own shop by default.",
)
_FILE = click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
_OF_SHOP = click.option(
    "--shop",
    type=click.Path(path_type=Path),
    default=Path("shop"),
    show_default=True,
    help="The shop's folder.",
)
_HOST = click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
_PORT = click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8000,
    show_default=True,
    help="A free one if it is taken.",
)
_ALLOW = click.option(
    "--allow-host", "hosts", multiple=True, metavar="NAME", help="A further name that browsers may use."
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]}, cls=Told)
@click.version_option(package_name="lightoff")
def main() -> None:
    """Judges how a small diesel-fired hydronic heater burns, and proves it with numbers."""
    # Before numpy is loaded: the matrices of a visit are small, and several threads wait for each other
    # longer than they work.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


@main.command(no_args_is_help=True)
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True), required=False)
@click.option("--json", "as_json", is_flag=True, help="The whole assessment as data.")
@click.option("--keep-going", is_flag=True, help="Judge the good rows of a file beside its bad ones.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of a visit file, and end.")
@click.option(
    "--shop", type=click.Path(path_type=Path), help="A shop's folder, for its shelf and its heaters' past."
)
@_UNITS
def assess(
    file: Path | None, *, as_json: bool, keep_going: bool, schema: bool, shop: Path | None, units: str | None
) -> None:
    """Judge the visit in FILE (- for standard input).

    Ends with 0 fit as tested, 10 not proven, 20 not fit, 30 stop; 1 is an error, 2 a wrong call.
    """
    from lightoff.cli import assessing

    if schema:
        assessing.print_schema()
        return
    if file is None:
        raise click.UsageError("Name the visit file to judge, or - for standard input.")
    assessing.assess(file, as_json=as_json, keep_going=keep_going, shop=shop, units=units)


@main.command(short_help="Find what ails the heater of a visit file, and the next step.")
@_FILE
@click.option("--json", "as_json", is_flag=True, help="The finding as data.")
@click.option(
    "--shop", type=click.Path(path_type=Path), help="A shop's folder, for its shelf and its heaters' past."
)
@_UNITS
def find(file: Path, *, as_json: bool, shop: Path | None, units: str | None) -> None:
    """Find what ails the heater of the visit in FILE: suspects, why, and the next step."""
    from lightoff.cli import finding

    finding.find(file, as_json=as_json, shop=shop, units=units)


@main.command(short_help="Say what a heater type would read somewhere.")
@click.argument("sheet")
@click.option("--altitude", type=float, default=0.0, show_default=True, help="Metres above the sea.")
@click.option("--air", type=float, default=15.0, show_default=True, help="Air temperature, °C.")
@click.option("--volts", type=float, help="Battery at rest; the usual by default.")
@click.option("--fuel", default="diesel_2", show_default=True, help="A key of `lightoff fuels`.")
@click.option(
    "--fault", "faults", multiple=True, metavar="KEY", help="What is wrong with it; more than once."
)
@click.option("--severity", type=click.FloatRange(0, 1), default=0.5, show_default=True, help="How far gone.")
@click.option("--json", "as_json", is_flag=True, help="The readings as data, SI.")
@click.option("--shop", type=click.Path(path_type=Path), help="A shop's folder, for its own shelf.")
@click.option(
    "--units", type=click.Choice(["metric", "us"]), default="metric", show_default=True, help="Units shown."
)
def predict(
    sheet: str,
    *,
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
    """Say what a heater of type SHEET would read there, in order or with a fault."""
    from lightoff.cli import predicting

    predicting.predicted(
        sheet=sheet,
        altitude=altitude,
        air=air,
        volts=volts,
        fuel=fuel,
        faults=faults,
        severity=severity,
        as_json=as_json,
        shop=shop,
        units=units,
    )


@main.command(short_help="Write the owner's report of a visit file as PDF.")
@_FILE
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="The PDF to write.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="The visit's own shop by default.")
@click.option(
    "--shop",
    type=click.Path(path_type=Path),
    help="A shop's folder, for its shelf, its heaters' past, pictures.",
)
@_UNITS
def report(file: Path, *, output: Path, paper: str | None, shop: Path | None, units: str | None) -> None:
    """Write the owner's report of the visit in FILE as PDF (- for standard input).

    It replaces an older report of that name, and no other file.
    """
    from lightoff.cli import reporting

    reporting.report(file, output=output, paper=paper, shop=shop, units=units)


@main.command()
@click.argument("photo", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="The reading as data, with places in pixels.")
def smoke(photo: Path, *, as_json: bool) -> None:
    """Read the smoke spot in PHOTO, or say why it cannot be read. The eye beside the scale decides."""
    from lightoff.cli import smoking

    smoking.smoke(photo, as_json=as_json)


@main.command(short_help="Find the burns in a logger's CSV file.")
@_FILE
@click.option("--sheet", metavar="KEY", help="The heater type, where no heater is named.")
@click.option("--shop", type=click.Path(path_type=Path), help="A shop's folder.")
@click.option("--heater", metavar="ID", help="The heater that was logged; needs --shop.")
@click.option("--keep", is_flag=True, help="Keep the log with the heater, where it counts from now on.")
@click.option(
    "--channel",
    type=click.Choice(["burning", "supply current", "stack temperature", "coolant temperature"]),
    help="The column to go by; the best evidence by default.",
)
@click.option("--start", metavar="TIME", help="Where a file that only counts time began, in UTC.")
@click.option("--json", "as_json", is_flag=True, help="The burns as data, in seconds from the first row.")
def burns(
    file: Path,
    *,
    sheet: str | None,
    shop: Path | None,
    heater: str | None,
    keep: bool,
    channel: str | None,
    start: str | None,
    as_json: bool,
) -> None:
    """Find the burns in FILE, a logger's CSV: run hours and starts, with their doubt (- for stdin)."""
    from lightoff.cli import burning

    burning.burns(
        file,
        sheet=sheet,
        shop=shop,
        heater=heater,
        keep=keep,
        channel=channel,
        start=start,
        as_json=as_json,
    )


@main.command()
@click.option(
    "--shop",
    type=click.Path(path_type=Path),
    default=Path("shop"),
    show_default=True,
    help="The shop's folder; made if it is not there.",
)
@_HOST
@_PORT
@_ALLOW
def serve(*, shop: Path, host: str, port: int, hosts: tuple[str, ...]) -> None:
    """Serve your own shop to this computer's browser."""
    from lightoff.cli import serving

    serving.serve(shop, host=host, port=port, hosts=hosts)


@main.command()
@click.option("--folder", type=click.Path(path_type=Path), help="Where the invented shop lies.")
@click.option("--fresh", is_flag=True, help="Make it anew; what was typed into it is gone.")
@_HOST
@_PORT
@_ALLOW
def demo(*, folder: Path | None, fresh: bool, host: str, port: int, hosts: tuple[str, ...]) -> None:
    """Serve an invented shop, to try everything out."""
    from lightoff.cli import serving

    serving.demo(folder, fresh=fresh, host=host, port=port, hosts=hosts)


@main.command()
@_OF_SHOP
@click.option("--most", type=click.IntRange(1), help="No more than so many; all by default.")
@click.option("--json", "as_json", is_flag=True, help="The list as data.")
def due(*, shop: Path, most: int | None, as_json: bool) -> None:
    """List who needs a visit, by when and why, the most pressing first."""
    from lightoff.cli import visiting

    visiting.due(shop, as_json=as_json, most=most)


@main.command()
@_OF_SHOP
@click.option(
    "--heater",
    "heaters",
    multiple=True,
    metavar="ID",
    help="A visit of the day; the most pressing by default.",
)
@click.option("--season", is_flag=True, help="What the shop will need till spring, in place of a day.")
@click.option(
    "--limit",
    "limits",
    multiple=True,
    metavar="KIND=NUMBER",
    help="money=300, kg=12 or litres=40; more than once.",
)
@click.option("--place", default="van", show_default=True, help="The bins that count as the van.")
@click.option("--json", "as_json", is_flag=True, help="The kit as data.")
def spares(
    *, shop: Path, heaters: tuple[str, ...], season: bool, limits: tuple[str, ...], place: str, as_json: bool
) -> None:
    """Say what to carry: for the visits of a day, or till spring, within limits."""
    from lightoff.cli import carrying

    carrying.spares(shop, heaters=heaters, season=season, limits=limits, place=place, as_json=as_json)


@main.command()
@click.option("--shop", type=click.Path(path_type=Path), help="A shop's folder, for its own fuels.")
@click.option(
    "--units", type=click.Choice(["metric", "us"]), default="metric", show_default=True, help="Units shown."
)
def fuels(*, shop: Path | None, units: str) -> None:
    """List the fuels on the shelf with their key numbers and sources."""
    from lightoff.cli import listing

    listing.fuels(shop, units=units)


@main.command()
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's folder to look over.")
def doctor(*, shop: Path | None) -> None:
    """Look the installation and a shop's book over, and say what to do."""
    from lightoff.cli import doctoring

    doctoring.doctor(shop)

"""All subcommands together. Each is loaded with its heavy libraries only when it is called."""

from datetime import time
from pathlib import Path
from typing import Annotated

import typer

from filmhand import units
from filmhand.colour.chart.kinds import Kind
from filmhand.proof.region import Region, parse_region, parse_zoom

app = typer.Typer(
    name="filmhand",
    help="The night prepress hand of a film-transfer print shop.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

ShopPath = Annotated[Path, typer.Argument(metavar="SHOP", help="The shop's folder.")]
HeldName = Annotated[str, typer.Argument(metavar="ID", help="A held job's id, or a held sheet's name.")]


@app.command()
def new(shop: ShopPath) -> None:
    """Make a shop: its folders, settings and starter rules."""
    from filmhand.cli.new import new as command  # noqa: PLC0415 -- commands load what they need when they are called

    command(shop)


@app.command()
def run(shop: ShopPath) -> None:
    """Work through the night: watch the hot folders until told to stop (SIGTERM, or Ctrl-C)."""
    from filmhand.cli.run import run as command  # noqa: PLC0415

    command(shop)


@app.command()
def batch(shop: ShopPath) -> None:
    """Prepare what is in the hot folders now, close every sheet, and end."""
    from filmhand.cli.batch import batch as command  # noqa: PLC0415

    command(shop)


@app.command()
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The artwork to look at; it is not moved.")],
    rule: Annotated[str, typer.Option(metavar="RULE", help="A rule file, or the name of a starter rule.")],
    printer: Annotated[Path | None, typer.Option(metavar="PRINTER", help="A printer file; else the starter's.")] = None,
) -> None:
    """Look at a file as the hot folder would, and say what was found."""
    from filmhand.cli.check import check as command  # noqa: PLC0415

    raise typer.Exit(command(file, rule=rule, printer=printer))


@app.command()
def status(
    shop: ShopPath,
    *,
    healthy: Annotated[bool, typer.Option("--healthy", help="Only say whether a daemon works here and does not hang.")] = False,
) -> None:
    """Where every job and sheet is."""
    from filmhand.cli import status as commands  # noqa: PLC0415

    (commands.healthy if healthy else commands.status)(shop)


@app.command()
def doctor(
    shop: ShopPath,
    *,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Look whether this computer lets the shop work: folders, disks, journal, clock, settings, versions; and say what to do."""
    from filmhand.cli.doctor import doctor as command  # noqa: PLC0415

    raise typer.Exit(command(shop, as_json=as_json))


@app.command()
def backup(
    shop: ShopPath, file: Annotated[Path, typer.Argument(metavar="FILE", help="The backup to write, on another disk.")]
) -> None:
    """Write a backup of a shop, which may be at work, into one file."""
    from filmhand.cli.backup import backup as command  # noqa: PLC0415

    command(shop, file)


@app.command()
def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup.")],
    shop: Annotated[Path, typer.Argument(metavar="SHOP", help="Where to make the shop: a folder that is empty or not there.")],
) -> None:
    """Make a shop out of a backup."""
    from filmhand.cli.backup import restore as command  # noqa: PLC0415

    command(file, shop)


@app.command()
def release(shop: ShopPath, name: HeldName) -> None:
    """Say yes to a held job or sheet."""
    from filmhand.cli.answer import release as command  # noqa: PLC0415

    command(shop, name)


@app.command()
def refuse(shop: ShopPath, name: HeldName) -> None:
    """Say no to a held job or sheet."""
    from filmhand.cli.answer import refuse as command  # noqa: PLC0415

    command(shop, name)


@app.command()
def close(shop: ShopPath, name: Annotated[str, typer.Argument(metavar="NAME", help="The hot folder.")]) -> None:
    """Close the open sheet of a hot folder now."""
    from filmhand.cli.answer import close as command  # noqa: PLC0415

    command(shop, name)


@app.command()
def notify(
    shop: ShopPath,
    *,
    test: Annotated[bool, typer.Option("--test", help="Send a test notice, and say what came of it at each address.")] = False,
) -> None:
    """Say where notices go, without showing the addresses."""
    from filmhand.cli.notify import notify as command  # noqa: PLC0415

    command(shop, test=test)


@app.command()
def forecast(
    shop: ShopPath,
    *,
    by: Annotated[
        time | None,
        typer.Option(metavar="TIME", parser=units.parse_clock, help='The cut-off, such as "06:00"; else the shop\'s.'),
    ] = None,
    ignore_out: Annotated[
        bool, typer.Option("--ignore-out", help="Count nothing in out/: the print controller leaves there what it has printed.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Say whether what waits is printed by the cut-off, and how many print heads the coming week needs."""
    from filmhand.cli.forecast import forecast as command  # noqa: PLC0415

    command(shop, by=by, ignore_out=ignore_out, as_json=as_json)


@app.command()
def chart(  # noqa: PLR0913 -- a command's options
    printer: Annotated[Path, typer.Argument(metavar="SHOP_OR_PRINTER", help="The shop's folder, or a printer file.")],
    kinds: Annotated[
        list[Kind] | None, typer.Argument(metavar="KINDS", help=f"Which charts: {', '.join(Kind)}. Else all that suit the inks.")
    ] = None,
    *,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where to write them: a folder a chart, and a page that says all.")],
    rule: Annotated[str | None, typer.Option(metavar="RULE", help="The rule whose screens and choke they print with.")] = None,
    patches: Annotated[
        int | None, typer.Option(metavar="COUNT", min=30, max=3000, help="Patches of the grid or sector chart.")
    ] = None,
    patch: Annotated[
        float, typer.Option(metavar="LENGTH", parser=units.parse_length_mm, help='Side of a patch, at least "8 mm".')
    ] = "9 mm",  # type: ignore[assignment]  # parsed as what a person writes
    width: Annotated[
        float, typer.Option(metavar="LENGTH", parser=units.parse_length_mm, help="Widest piece that the heat press takes.")
    ] = "280 mm",  # type: ignore[assignment]
    height: Annotated[
        float, typer.Option(metavar="LENGTH", parser=units.parse_length_mm, help="Highest piece that the heat press takes.")
    ] = "380 mm",  # type: ignore[assignment]
    most_ink: Annotated[
        float | None, typer.Option(metavar="PERCENT", min=150, help="Leave out patches with more ink, the colour inks together.")
    ] = None,
    seed: Annotated[int, typer.Option(metavar="NUMBER", min=0, help="Another random order of patches; 0: as they come.")] = 1,
) -> None:
    """Write charts to print, press and measure, before the printer's colour can be known."""
    from filmhand.cli.chart import Asked  # noqa: PLC0415
    from filmhand.cli.chart import chart as command  # noqa: PLC0415
    from filmhand.colour.chart.model import Wanted  # noqa: PLC0415

    wanted = Wanted(patches, patch, (width, height), None if most_ink is None else most_ink / 100, seed)
    command(Asked(printer, tuple(kinds or ()), rule, wanted), out=out)


@app.command()
def fit(  # noqa: PLR0913 -- a command's options
    shop: ShopPath,
    charts: Annotated[
        list[Path],
        typer.Argument(metavar="CHART", help="The measured chart, CGATS text or CxF 3; once each time that it was measured."),
    ],
    *,
    patches: Annotated[
        Path | None, typer.Option(metavar="LIST", help="The chart's patch list, where the measurements do not say the inks.")
    ] = None,
    white_on_black: Annotated[Path | None, typer.Option(metavar="FILE", help="The white wedge, measured on black.")] = None,
    white_on_white: Annotated[Path | None, typer.Option(metavar="FILE", help="The same wedge, measured on white.")] = None,
    white_patches: Annotated[Path | None, typer.Option(metavar="LIST", help="The white wedge's patch list.")] = None,
    name: Annotated[str, typer.Option(metavar="NAME", help="What the model is called: NAME.inks.")] = "house",
    ink_limit: Annotated[
        float, typer.Option(metavar="PERCENT", min=50, max=900, help="Most ink together that the report reckons with.")
    ] = 220,
    icc: Annotated[
        bool, typer.Option("--icc", help="Also write NAME.icc, an ICC profile, for programs that show how it will print.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say the figures; write nothing.")] = False,
) -> None:
    """Fit the ink model to a measured chart, name it in the printer file, and write a report on it."""
    from filmhand.cli.fit import Asked, WhiteFiles  # noqa: PLC0415
    from filmhand.cli.fit import fit as command  # noqa: PLC0415

    if (white_on_black is None) != (white_on_white is None):
        raise typer.BadParameter("The white wedge is needed on both grounds: --white-on-black and --white-on-white.")
    white = None
    if white_on_black is not None and white_on_white is not None:
        white = WhiteFiles(white_on_black, white_on_white, white_patches)
    command(Asked(shop, tuple(charts), patches, white, name, ink_limit, dry_run, icc))


@app.command()
def drift(
    shop: ShopPath,
    readings: Annotated[Path, typer.Argument(metavar="READINGS", help="The control strip as measured today.")],
    *,
    reference: Annotated[Path | None, typer.Option(metavar="FILE", help="The strip as measured with the chart.")] = None,
    patches: Annotated[Path | None, typer.Option(metavar="LIST", help="The strip's patch list.")] = None,
    noise: Annotated[
        float | None, typer.Option(metavar="DELTA_E", min=0.02, max=3, help="Scatter of one reading in L*, a*, b* each.")
    ] = None,
    write: Annotated[bool, typer.Option("--write", help="Put the curves to use.")] = False,
) -> None:
    """Say what has moved since the printer's chart was read, and make the curves that mend it."""
    from filmhand.cli.drift import Asked, report_drift  # noqa: PLC0415

    report_drift(shop, Asked(readings, reference, patches, noise, write))


@app.command()
def proof(
    sheet: Annotated[Path, typer.Argument(metavar="SHEET", help="The folder of a delivered sheet.")],
    *,
    shop: Annotated[
        Path | None, typer.Option(metavar="SHOP", help="The shop that made it; else the one that its folder lies in.")
    ] = None,
    out: Annotated[Path | None, typer.Option(metavar="FOLDER", help="Where to write; else in the shop, proofs/SHEET.")] = None,
    region: Annotated[
        Region | None,
        typer.Option(
            metavar='"X Y W H"',
            parser=parse_region,
            help="Only the picture of this part: mm from the left and the top of the garment view, width and height.",
        ),
    ] = None,
    view: Annotated[
        str | None,
        typer.Option(
            metavar="VIEW", help="Of the region: garment, film-print-side, film-back, or an ink's letter; else garment."
        ),
    ] = None,
    zoom: Annotated[
        float | None,
        typer.Option(
            metavar="ZOOM", parser=parse_zoom, help="Pixels a dot of the region: 1 is exact, 8 magnified, 1/4 a mean; else 1."
        ),
    ] = None,
) -> None:
    """Show a delivered sheet as it will look on the garment, from the very dots in its files."""
    from filmhand.cli.proof import Asked  # noqa: PLC0415
    from filmhand.cli.proof import proof as command  # noqa: PLC0415

    if region is None and (view is not None or zoom is not None):
        raise typer.BadParameter("--view and --zoom are a region's: say which with --region.")
    command(Asked(sheet, shop, out, region, view or "garment", zoom or 1.0))


@app.command()
def demo(shop: Annotated[Path, typer.Argument(metavar="SHOP")] = Path("demo-shop")) -> None:
    """Make a shop with invented orders, run one batch, and say where everything lies."""
    from filmhand.cli.demo import demo as command  # noqa: PLC0415

    command(shop)

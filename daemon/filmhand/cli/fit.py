"""`filmhand fit SHOP CHART...`: from a measured chart to the ink model that the printer file names, and a report on it."""

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from rich.console import Console

from filmhand import durable
from filmhand.cli.fit_readings import fit_readings
from filmhand.cli.measured_file import measured_bytes, measured_readings
from filmhand.cli.name_profile import with_profile
from filmhand.colour.charted import ChartedModel
from filmhand.colour.choose import curves_beside, ink_model
from filmhand.colour.expense import Expense
from filmhand.colour.fitted.accuracy import accuracy
from filmhand.colour.fitted.file import to_bytes
from filmhand.colour.fitted.fit import fit as fit_model
from filmhand.colour.icc.output import About, output_profile
from filmhand.colour.opacity_fit import fit_opacity
from filmhand.colour.report.facts import Judged, MeasuredChart, WhiteWedge
from filmhand.colour.report.look import mix
from filmhand.colour.report.page import report_page
from filmhand.colour.report.verdict import thinnest, verdict
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules, load_printer
from filmhand.service.clock import SystemClock
from filmhand.shop import Shop

_NAME: Final = re.compile(r"\w[\w .-]*")
_NAMED: Final = 3
"""Worst patches that are named in the terminal; the report names more."""
_Result = TypeVar("_Result")


@dataclass(frozen=True)
class WhiteFiles:
    """The measured wedge of white on a black and on a white garment, and its patch list, if the files lack it."""

    on_black: Path
    on_white: Path
    patches: Path | None


@dataclass(frozen=True)
class Asked:
    """`charts`: files of the chart, one each time it was measured. `patches`: its patch list. `ink_limit`: most ink together, %.
    `dry_run`: only say the figures. `icc`: write a profile for other programs too."""

    shop: Path
    charts: tuple[Path, ...]
    patches: Path | None = None
    white: WhiteFiles | None = None
    name: str = "house"
    ink_limit: float = 220
    dry_run: bool = False
    icc: bool = False


def fit(asked: Asked) -> None:
    """Fit, judge, say, and write NAME.inks and NAME-report.html beside the printer file; last, name the model there."""
    if not _NAME.fullmatch(asked.name):
        raise SettingsError(
            f"A model cannot be called {asked.name!r}", next_step="Name it with letters and digits, such as --name house"
        )
    say = Console(soft_wrap=True, highlight=False).print
    judged = _judged(Shop.at(asked.shop), asked, lambda count: say(f"Fitting {count} patches …"))
    for line in _figures(judged):
        say(line)
    if asked.dry_run:
        say("Nothing was written.")
        return
    for line in _written(Shop.at(asked.shop).root, asked.name, judged):
        say(line)
    if asked.icc:
        say(_profile_written(Shop.at(asked.shop).root / f"{asked.name}.icc", judged))


def _judged(shop: Shop, asked: Asked, begun: Callable[[int], None]) -> Judged:
    """All that there is to say of the chart."""
    printer = load_printer(shop.root / "printer.toml")
    patches = None if asked.patches is None else measured_bytes(asked.patches)
    contents = [measured_bytes(path) for path in asked.charts]
    if len(set(contents)) < len(contents):
        raise SettingsError("The same measurements are given twice", next_step="Give each file once; a copy says nothing new")
    readings = [
        measured_readings(path, content, patch_list=patches) for path, content in zip(asked.charts, contents, strict=True)
    ]
    averages = _about(", ".join(map(str, asked.charts)), lambda: fit_readings(readings, inks=printer.colours))
    white = None if asked.white is None else _white(asked.white)
    begun(len(averages.readings.names))
    fitted = fit_model(averages.readings)
    return Judged(
        name=asked.name,
        printer=printer.name,
        when=SystemClock().now(),
        chart=MeasuredChart(
            tuple(path.name for path in asked.charts),
            tuple(hashlib.sha256(content).hexdigest() for content in contents),
            sum(len(one.names) for one in readings),
            averages,
        ),
        fit=fitted,
        accuracy=accuracy(fitted, ink_limit=asked.ink_limit / 100),
        model=ChartedModel(fitted.model, Expense.of(printer)),
        ink_limit=asked.ink_limit / 100,
        white=white,
    )


def _white(files: WhiteFiles) -> WhiteWedge:
    patches = None if files.patches is None else measured_bytes(files.patches)
    black, white = (
        measured_readings(path, measured_bytes(path), patch_list=patches) for path in (files.on_black, files.on_white)
    )
    return WhiteWedge(black, white, _about(files.on_black, lambda: fit_opacity(black=black, white=white)))


def _about(path: Path | str, work: Callable[[], _Result]) -> _Result:
    """What a reader of bytes finds wrong is said with the file's name."""
    try:
        return work()
    except SettingsError as problem:
        problem.file = problem.file or path
        raise


def _figures(judged: Judged) -> Iterator[str]:
    """What a person wants to know at once."""
    chart, accuracy = judged.chart, judged.accuracy
    yield f"{chart.measured} readings of {len(chart.averaged.counts)} different patches; inks {' '.join(judged.fit.model.inks)}."
    for outlier in chart.averaged.outliers:
        fate = "left out" if outlier.is_left_out else "kept, for nobody knows which of two is wrong"
        yield f"  {outlier.name} is ΔE00 {outlier.de00:.1f} from its repeats: {fate}"
    for stray in judged.fit.strays:
        yield f"  {stray.name} is ΔE00 {stray.delta_e:.1f} from what all other patches say: left out"
    noise = chart.averaged.noise_de00
    repeats = "nothing repeats" if noise is None else f"one reading is off by ΔE00 {noise:.2f} on average, by the repeats"
    yield f"Scatter ΔE00 {accuracy.scatter:.2f}, as the fit judges it; {repeats}."
    yield (
        f"Patches foretold from the others: mean ΔE00 {accuracy.mean:.2f}, 95 % within {accuracy.percentile95:.2f}, "
        f"worst {accuracy.largest:.2f}"
    )
    yield "  furthest: " + "; ".join(f"{one.name} ({mix(one.inks)}) {one.delta_e:.1f}" for one in accuracy.worst[:_NAMED])
    thin = thinnest(judged)
    yield f"Thinnest among {' '.join(thin.inks)}: expected ΔE00 {thin.mean:.2f}, {thin.worst:.2f} at {mix(thin.worst_inks)}"
    found = verdict(judged)
    yield f"{found.headline}."
    yield from (f"  {step}" for step in found.to_do)


def _written(folder: Path, name: str, judged: Judged) -> Iterator[str]:
    """Write the files; the model is named last, so that a printer file never names one that is not there."""
    model, report, path = folder / f"{name}.inks", folder / f"{name}-report.html", folder / "printer.toml"
    text, printer = path.read_bytes().decode(), load_printer(path)
    named = _about(path, lambda: with_profile(text, model.name))
    page = report_page(judged)
    if curves_beside(model).exists():
        curves_beside(model).unlink()  # they mend what has drifted since an earlier chart, and fit no other model
        durable.sync_folder(folder)
        yield f"The curves of an earlier chart, {curves_beside(model).name}, were removed."
    opacity = None if judged.white is None else judged.white.fit.opacity
    durable.write(model, to_bytes(judged.fit.model, about=_told(judged), opacity=opacity))
    durable.write(report, page.encode())
    ink_model(printer.model_copy(update={"profile": model.name}), base=folder)  # read back before anything depends on it
    if named != text:
        durable.write(path, named.encode())
    yield f"Ink model: {model}"
    yield f"Report: {report}"
    instead = f", instead of {printer.profile}" if printer.profile not in (None, model.name) else ""
    yield f"{path} names it as its profile{instead}: orders from now on are separated with it."


def _profile_written(path: Path, judged: Judged) -> str:
    """Write the model as an output profile, for programs that show how it will print."""
    rules = ColourRules(ink_limit=round(100 * judged.ink_limit, 1))
    about = About(f"{judged.printer}, {judged.name}", judged.fit.model.white, judged.when)
    durable.write(path, output_profile(judged.model, rules, about=about))
    return f"Profile for other programs: {path}"


def _told(judged: Judged) -> Mapping[str, Any]:
    """What the model's file says of itself."""
    accuracy, chart = judged.accuracy, judged.chart
    return {
        "name": judged.name,
        "printer": judged.printer,
        "fitted": judged.when.isoformat(timespec="seconds"),
        "charts": chart.files,
        "charts_sha256": chart.sha256,
        "readings": chart.measured,
        "patches": len(judged.fit.used.names),
        "left_out": [stray.name for stray in judged.fit.strays]
        + [outlier.name for outlier in chart.averaged.outliers if outlier.is_left_out],
        "mean_de00": round(accuracy.mean, 3),
        "percentile95_de00": round(accuracy.percentile95, 3),
        "largest_de00": round(accuracy.largest, 3),
        "scatter_de00": round(accuracy.scatter, 3),
        "ink_limit_percent": round(100 * judged.ink_limit, 1),
    }

"""`filmhand chart SHOP_OR_PRINTER [KINDS]... --out FOLDER`: print-ready sheets of charts, lists of their patches, and a page.

A chart goes the way of a gang sheet from the separation on: the same screens, choke, mirroring and files, read back the same.
"""

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from rich.console import Console

from filmhand import starter
from filmhand.cli.chart_sheet import Press, write_sheet
from filmhand.colour.chart.charts import chart as decide
from filmhand.colour.chart.charts import usual_kinds
from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.model import Chart, Wanted
from filmhand.colour.choose import ink_model
from filmhand.colour.measured.cgats import patch_list
from filmhand.errors import MachineError, SettingsError
from filmhand.gang.composed import Composed
from filmhand.rules import Printer, Rule, RuleFile, load_printer
from filmhand.shop import Shop

PAGE = "charts.html"


@dataclass(frozen=True)
class Asked:
    """`printer`: a shop's folder or a printer file. `kinds`: none for all that suit it. `rule`: a rule's name or file."""

    printer: Path
    kinds: tuple[Kind, ...]
    rule: str | None
    wanted: Wanted


def chart(asked: Asked, *, out: Path) -> None:
    """Write the charts into folders of their own in `out`. SettingsError where charts are there already."""
    say = Console(soft_wrap=True).print
    with tempfile.TemporaryDirectory(prefix="filmhand-") as scratch:
        press = _press(asked, Path(scratch))
        charts = _decided(asked, press)
        _refuse_to_overwrite(charts, out)
        shown = []
        for one in charts:
            folder = out / one.kind
            _make(folder)
            composed = write_sheet(one, press, folder=folder, scratch=Path(scratch))
            shown.append(_facts(one, composed, _write_lists(one, press.printer, folder)))
            say(f"{one.title}: {folder}")
    (out / PAGE).write_text(_page(press.printer, shown), "utf-8")
    say(f"What to print, press and measure, and in which order: {out / PAGE}")


def _press(asked: Asked, scratch: Path) -> Press:
    shop = Shop.at(asked.printer) if asked.printer.is_dir() else None
    path = shop.root / "printer.toml" if shop else asked.printer
    printer = load_printer(path)
    cache = shop.tables if shop else scratch / "cache"
    return Press(printer, _rule(asked.rule, shop), ink_model(printer, base=path.parent), cache)


def _decided(asked: Asked, press: Press) -> list[Chart]:
    """The charts, each once, on blocks no wider than the film."""
    printer, (width, height) = press.printer, asked.wanted.block_mm
    wanted = replace(asked.wanted, block_mm=(min(width, printer.printable_width), height))
    kinds = tuple(dict.fromkeys(asked.kinds)) or usual_kinds(printer)
    return [decide(kind, wanted, printer=printer, underbase=press.rule.underbase) for kind in kinds]


def _rule(name: str | None, shop: Shop | None) -> Rule:
    """The rule named; without a name a shop's own, if all of its rules screen ink alike; else the built-in settings."""
    if name is not None:
        in_shop = shop.root / "rules" / f"{name}.toml" if shop else Path(name)
        path = next((path for path in (in_shop, Path(name)) if path.is_file()), None)
        return RuleFile.load(path or starter.rule(name)).general
    rules = [RuleFile.load(shop.root / "rules" / f"{one}.toml").general for one in shop.hot_folders()] if shop else []
    if len({rule.halftone.inks for rule in rules}) > 1:
        raise SettingsError(
            "The rules of this shop screen ink in different ways", next_step="Name the one the charts are for: --rule NAME"
        )
    return rules[0] if rules else Rule(title="Charts")


def _refuse_to_overwrite(charts: list[Chart], out: Path) -> None:
    for path in (out / PAGE, *(out / one.kind for one in charts)):
        if path.exists():
            raise SettingsError(
                "There are charts already, perhaps printed ones", file=path, next_step="Name another folder, or remove this one"
            )


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True)
    except OSError as problem:
        raise MachineError(
            f"The folder cannot be made: {problem.strerror}", file=folder, next_step="Name one that may be written"
        ) from None


def _write_lists(chart: Chart, printer: Printer, folder: Path) -> list[str]:
    """The patch lists, and their names."""
    names = []
    for one in chart.lists:
        name = f"{one.name.replace(' ', '-')}.txt"
        title = (
            " ".join(f"{one.name}, {printer.name}".split()).encode("ascii", "replace").decode()
        )  # for any instrument's program
        text = patch_list(one.inks, one.names, one.amounts, title=title)
        (folder / name).write_text(text, "utf-8")
        names.append(name)
    return names


def _facts(chart: Chart, composed: Composed, lists: list[str]) -> dict[str, Any]:
    return {
        "chart": chart,
        "files": composed.files,
        "preview": composed.preview,
        "lists": lists,
        "patches": sum(len(one.names) for one in chart.lists),
    }


def _page(printer: Printer, charts: list[dict[str, Any]]) -> str:
    templates = Environment(
        loader=PackageLoader("filmhand.cli"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return templates.get_template(PAGE).render(printer=printer, charts=charts)

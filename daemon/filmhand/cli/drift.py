"""`filmhand drift SHOP READINGS`: what has moved since the printer's chart was read, and the curves that mend it."""

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from filmhand import durable
from filmhand.cli.measured_file import measured_bytes, measured_readings
from filmhand.colour.choose import curves_beside, ink_model
from filmhand.colour.drift import Drift, Movement, drift, foretold
from filmhand.colour.drift_words import name, told
from filmhand.colour.drifted import Drifted
from filmhand.colour.measured.readings import Readings
from filmhand.colour.model import InkModel
from filmhand.colour.transfer import to_bytes
from filmhand.errors import SettingsError
from filmhand.rules import load_printer
from filmhand.shop import Shop

_MODEL_IS_OFF = 0.6
"""How far a good ink model is off its own printer, standard deviation in each of L*, a*, b*: common practice, no source."""


@dataclass(frozen=True)
class Asked:
    """`readings`: today's file; `patch_list`: for files that do not say the inks. `reference`: the same strip when the chart was
    read; without, the ink model stands in for it. `noise`: of one reading, as `drift` has it. `write`: put the curves to use."""

    readings: Path
    reference: Path | None = None
    patch_list: Path | None = None
    noise: float | None = None
    write: bool = False


def report_drift(shop_folder: Path, asked: Asked) -> None:
    """Say what has moved; with `write`, keep the curves where the daemon finds them."""
    shop = Shop.at(shop_folder)
    printer = load_printer(shop.root / "printer.toml")
    if printer.profile is None:
        raise SettingsError(
            "This printer has no ink model of its own that it could have drifted from",
            file=shop.root / "printer.toml",
            next_step="Print a chart and fit one first: filmhand chart, filmhand fit",
        )
    model = _charted(ink_model(printer, base=shop.root))
    found = _compared(asked, model)
    console = Console(soft_wrap=True)
    console.print(_table(found))
    for line in told(found):
        console.print(Text(line))
    console.print(Text(_kept(found, asked, curves_beside(shop.root / printer.profile))))


def _charted(model: InkModel) -> InkModel:
    """The strip is printed without curves: it is compared with the model as it was fitted."""
    return model.model if isinstance(model, Drifted) else model


def _compared(asked: Asked, model: InkModel) -> Drift:
    now = _read(asked.readings, asked.patch_list)
    if asked.reference is None:
        return drift(foretold(now, model=model), now=now, model=model, noise=asked.noise, reference_noise=_MODEL_IS_OFF)
    return drift(_read(asked.reference, asked.patch_list), now=now, model=model, noise=asked.noise)


def _read(file: Path, patch_list: Path | None) -> Readings:
    patches = None if patch_list is None else measured_bytes(patch_list)
    return measured_readings(file, measured_bytes(file), patch_list=patches)


def _table(found: Drift) -> Table:
    table = Table("Patch", "Moved", "Acts as", "Density", "Will stay", box=None)
    for patch in found.patches:
        table.add_row(*_row(patch), style="bold" if patch.has_moved or patch.stays else "dim")
    return table


def _row(patch: Movement) -> tuple[str, ...]:
    acts_as = "" if patch.acts_as is None else f"{100 * patch.acts_as:.1f} %"
    density = "" if patch.density is None else f"{patch.density:+.2f}"
    return name(patch), f"ΔE00 {patch.moved:.1f}", acts_as, density, f"ΔE00 {patch.left:.1f}"


def _kept(found: Drift, asked: Asked, path: Path) -> str:
    """Keep the curves if that is asked and they help, and say so."""
    if found.curves.inks and not found.helps:
        return "The curves would not help, and are not kept."
    if not found.curves.inks and not path.exists():
        return "No curves are needed."
    if not asked.write:
        return "Nothing is kept. To put this to use: --write"
    about = {"readings": asked.readings.name, "reference": asked.reference.name if asked.reference else "the ink model"}
    durable.write(path, to_bytes(found.curves.model_copy(update={"about": about})))
    return (
        f"The curves are kept: {path}"
        if found.curves.inks
        else f"The printer is back at its chart; curves no longer change it: {path}"
    )

"""`filmhand proof SHEET`: pictures of a delivered sheet from the dots in its files, and a page that shows them."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from rich.console import Console

from filmhand import units
from filmhand.colour.choose import ink_model
from filmhand.colour.model import InkModel
from filmhand.durable import sha256_of
from filmhand.errors import MachineError, NotFoundError, SettingsError
from filmhand.proof.delivered import Box, DeliveredSheet
from filmhand.proof.facts import SheetFacts
from filmhand.proof.picture import Scale
from filmhand.proof.plane_file import TAKE_ANOTHER
from filmhand.proof.region import Region
from filmhand.proof.view import GARMENT, views
from filmhand.proof.write import PAGE, REGION, write_proof, write_region
from filmhand.rules import load_printer
from filmhand.shop import Shop

PROOFS: Final = "proofs"
"""The folder of a shop where proofs lie: not in `out`, which is the print controller's."""


@dataclass(frozen=True)
class Asked:
    """`sheet`: the folder of a delivered sheet. `shop`: None to look for it about the sheet. `out`: None for the shop's `proofs`.
    `region`: None for the whole proof; `view` and `zoom`, pixels a dot, are the region's."""

    sheet: Path
    shop: Path | None = None
    out: Path | None = None
    region: Region | None = None
    view: str = GARMENT
    zoom: float = 1.0


def proof(asked: Asked) -> None:
    """Write the proof, or the picture of one region, and say where it lies."""
    folder = asked.sheet.absolute()
    root = _shop_of(folder) if asked.shop is None else Shop.at(asked.shop).root
    printer_file = _printer_file(root, folder)
    printer = load_printer(printer_file)
    model = ink_model(printer, base=printer_file.parent)
    out = asked.out.absolute() if asked.out else root / PROOFS / folder.name
    _refuse_inside(out, folder)
    say = Console(soft_wrap=True, highlight=False).print
    with DeliveredSheet(folder, printer=printer) as sheet:
        if asked.region is not None:
            say(_one_region(sheet, asked, asked.region, out=out, model=model))
            return
        _check(sheet.folder, sheet.facts)
        _make(out)
        write_proof(sheet, out, model=model)
    say(f"Proof of {sheet.facts.sheet}: {out / PAGE}")


def _one_region(sheet: DeliveredSheet, asked: Asked, region: Region, *, out: Path, model: InkModel) -> str:
    """Write it; what to say of it."""
    known = views(sheet.facts.inks)
    if asked.view not in known:
        raise NotFoundError(f"This sheet has no view {asked.view!r}", next_step=f"Name one of: {', '.join(known)}")
    scale = Scale.of(asked.zoom, resolution=sheet.resolution)
    box = _box(sheet, region)
    _make(out)
    width, height = write_region(sheet, box, out / REGION, view=asked.view, scale=scale, model=model)
    return f"{out / REGION}: {width} × {height} pixels, {_said(scale)}"


def _box(sheet: DeliveredSheet, region: Region) -> Box:
    """The region's dots, as far as it lies on the sheet."""
    across, down = sheet.resolution
    left, right = (units.mm_to_px(mm, across) for mm in (region.left_mm, region.left_mm + region.width_mm))
    top, bottom = (units.mm_to_px(mm, down) for mm in (region.top_mm, region.top_mm + region.height_mm))
    first, above = max(round(left), 0), max(round(top), 0)
    box = Box(first, above, min(round(right), sheet.width) - first, min(round(bottom), sheet.length) - above)
    if box.width <= 0 or box.height <= 0:
        size = f"{sheet.facts.film_width_mm:.0f} × {sheet.facts.length_mm:.0f} mm"
        raise SettingsError(f"This region is not on the sheet, which is {size}", next_step="Name another with --region")
    return box


def _said(scale: Scale) -> str:
    if scale.is_mean:
        return f"each the mean of {scale.block[0]} × {scale.block[1]} dots"
    return "one a dot" if scale.magnified == 1 else f"{scale.magnified} × {scale.magnified} a dot"


def _printer_file(root: Path, folder: Path) -> Path:
    """The file of the printer that a sheet is for: each printer of several has a folder of its own in `out`."""
    own = root / "printers" / f"{folder.parent.name}.toml"
    return own if own.is_file() and folder.parent.parent.parent.resolve() == (root / "out").resolve() else root / "printer.toml"


def _shop_of(folder: Path) -> Path:
    for parent in folder.resolve().parents:
        if (parent / "shop.toml").is_file():
            return parent
    raise SettingsError(
        "This sheet does not lie in a shop, so its printer is not known", file=folder, next_step="Name the shop: --shop SHOP"
    )


def _refuse_inside(out: Path, folder: Path) -> None:
    if out.resolve().is_relative_to(folder.resolve()):
        raise SettingsError(
            "A delivered sheet's folder is the print controller's: nothing is written there",
            file=out,
            next_step="Name another folder with --out",
        )


def _check(folder: Path, facts: SheetFacts) -> None:
    """MachineError where a file is not the one that was delivered."""
    for name, digest in facts.digests.items():
        path = folder / name
        if path.suffix == ".tif" and path.parent == folder and path.is_file() and sha256_of(path) != digest:
            raise MachineError("This file is not as it was delivered", file=path, next_step=TAKE_ANOTHER)


def _make(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise MachineError(
            f"The folder cannot be made: {problem.strerror}", file=out, next_step="Name one that may be written with --out"
        ) from None

"""Delivered sheets made by hand: any dots in TIFFs as filmhand writes them, and a ticket."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray

from filmhand import units
from filmhand.colour.nominal import nominal_model
from filmhand.delivery.strips import encode
from filmhand.delivery.tiff import TiffFacts, TiffWriter
from filmhand.durable import sha256_of
from filmhand.rules import Compression, Printer

Levels = NDArray[np.uint8]

INKS = ("C", "M", "Y", "K", "W")
DARK, RED, SAND = "#1b1b1d", "#b5202f", "#d9c7a3"
DPI = 720
MODEL = nominal_model(INKS[:-1])


def printer(**keys: object) -> Printer:
    """A printer of five inks."""
    return Printer.model_validate({"name": "p", "film_width": "60 mm", "margin": "0 mm", **keys})


def placed(
    box: tuple[int, int, int, int], *, job: str = "a", garment: str = DARK, resolution: tuple[int, int] = (DPI, DPI)
) -> Any:
    """A placement of a ticket. `box`: left, top, width and height in dots of the file."""
    left, top, width, height = (units.px_to_mm(side, dpi) for side, dpi in zip(box, resolution * 2, strict=True))
    facts = {"job": job, "order": "R1", "file": f"{job}.png", "sha256": "0" * 64, "copy": 1, "copies": 1, "garment": garment}
    place = {"x_mm": left, "y_mm": top, "width_mm": width, "height_mm": height, "rotation_deg": 0.0}
    return {**facts, **place}


def deliver(
    folder: Path,
    planes: Mapping[str, Levels],
    placements: list[Any],
    *,
    bits: int = 1,
    one_file: bool = False,
    mirrored: bool = True,
    resolution: tuple[int, int] = (DPI, DPI),
) -> Path:
    """A sheet's folder, of levels (h, w) uint8 by letter."""
    folder.mkdir(parents=True)
    height, width = next(iter(planes.values())).shape
    files = {f"{folder.name}.tif": tuple(planes)} if one_file else {f"{folder.name}_{ink}.tif": (ink,) for ink in planes}
    for name, inks in files.items():
        facts = TiffFacts(width, height, bits, inks, resolution, Compression.LZW, 64, folder.name)
        with TiffWriter(folder / name, facts) as writer:
            for place, ink in enumerate(inks):
                for top in range(0, height, 64):
                    writer.append(place, encode(packed(planes[ink][top : top + 64], bits), Compression.LZW))
    ticket = {
        "schema": 1,
        "sheet": folder.name,
        "printer": "p",
        "film_width_mm": units.px_to_mm(width, resolution[0]),
        "length_mm": units.px_to_mm(height, resolution[1]),
        "resolution": list(resolution),
        "bits": bits,
        "inks": list(planes),
        "mirrored": mirrored,
        "colour": "nominal",
        "placements": placements,
        "digests": {name: sha256_of(folder / name) for name in files},
    }
    (folder / "ticket.json").write_text(json.dumps(ticket), "utf-8")
    return folder


def packed(levels: Levels, bits: int) -> Levels:
    """Rows of samples as TIFF packs them, the first in the highest bits (TIFF 6.0, FillOrder 1)."""
    if bits == 8:
        return np.ascontiguousarray(levels)
    apart = (levels[..., None] >> np.arange(bits - 1, -1, -1, dtype=np.uint8)) & 1
    return np.packbits(apart.reshape(len(levels), -1), axis=1)


def as_tifffile_reads(folder: Path) -> dict[str, Levels]:
    """Each plane's samples, by tifffile alone."""
    ticket = json.loads((folder / "ticket.json").read_text("utf-8"))
    together = folder / f"{folder.name}.tif"
    if together.exists():
        return dict(zip(ticket["inks"], tifffile.imread(together).astype(np.uint8), strict=True))
    return {ink: tifffile.imread(folder / f"{folder.name}_{ink}.tif").astype(np.uint8) for ink in ticket["inks"]}


def random_planes(size: tuple[int, int], *, inks: tuple[str, ...] = INKS, bits: int = 1, seed: int = 1) -> dict[str, Levels]:
    """Dots at random, and bare film between them; size as height and width."""
    rng = np.random.default_rng(seed)
    film = rng.random(size) < 0.7
    return {
        ink: (rng.integers(0, 1 << bits, size) * film * (rng.random(size) < 0.5 + 0.3 * (ink[0] == "W"))).astype(np.uint8)
        for ink in inks
    }

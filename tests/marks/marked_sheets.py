"""Sheets with marks, composed by the real composer and read by tifffile."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import tifffile
import zxingcpp
from numpy.typing import NDArray
from PIL import Image

from filmhand import units
from filmhand.colour.nominal import nominal_model
from filmhand.gang.compose import Composed, Piece, Target, compose
from filmhand.gang.labelled import LABEL_MM
from filmhand.gang.sheet import Placement, Sheet, Spot
from filmhand.gang.turn import turned_box
from filmhand.halftone.screening import screening_for
from filmhand.marks.mark import Mark
from filmhand.rules import OutputRules, Printer, Rule
from filmhand.separation.model import Separation

INKS = ("C", "M", "Y", "K", "W")


def printer(resolution: tuple[int, int] = (720, 720), *, mirror: bool = False, **more: object) -> Printer:
    """A printer for film of 200 mm."""
    values = {"name": "P", "film_width": "200 mm", "margin": "5 mm", "resolution": resolution, "mirror": mirror, **more}
    return Printer.model_validate(values)


@dataclass
class Composer:
    """Composes sheets of solid pictures into a folder; `separations` by job, in one ink and white."""

    folder: Path
    printer: Printer
    separations: dict[str, Path] = field(default_factory=dict)

    def add(self, job: str, coverage: NDArray[np.uint8], *, width_mm: float, height_mm: float, part: int = 0) -> None:
        """A picture, full magenta on white wherever it is covered; or a piece of one."""
        planes = np.zeros((len(INKS), *coverage.shape), np.uint8)
        planes[1] = planes[4] = 255
        self.separations[job] = self.folder / job
        folder = self.separations[job] / f"part-{part}" if part else self.separations[job]
        folder.mkdir(parents=True)
        Separation(INKS, planes, coverage, width_mm, height_mm).save(folder)

    def compose(self, sheet: Sheet, marks: Sequence[Mark], name: str = "out") -> tuple[Composed, Path]:
        """The sheet in a folder of its own."""
        out = self.folder / name
        out.mkdir()
        cache = self.folder.parent / "tile"  # the blue-noise tile is made once for all tests
        cache.mkdir(exist_ok=True)
        screening = screening_for(Rule.model_validate({"title": "t"}), printer=self.printer, cache=cache)
        pieces = {job: Piece(path, screening, "#1b1b1d") for job, path in self.separations.items()}
        target = Target(self.printer, OutputRules(), nominal_model(INKS[:-1]))
        return compose(sheet, pieces, target=target, folder=out, marks=marks, threads=2), out


def planes_of(composed: Composed, folder: Path) -> Mapping[str, NDArray[np.uint8]]:
    """Each plane's samples as tifffile reads them."""
    return {ink: tifffile.imread(folder / name) for ink, name in zip(composed.inks, composed.files, strict=True)}


def spot(x_mm: float, y_mm: float, rotation_deg: float) -> Spot:
    """The place of a label turned by an angle."""
    _, _, width, height = turned_box(*LABEL_MM, rotation_deg)
    return Spot(x_mm, y_mm, width, height, rotation_deg)


def labelled_copy(job: str, copy: int, place: Spot, *, part: int = 0) -> Placement:
    """A copy of 4 mm at the film's left edge, with its label elsewhere."""
    return Placement(job, copy, 5.0, 5.0 + 5 * copy, 4.0, 4.0, 0.0, part, place)


def as_seen(plane: NDArray[np.uint8], by: Printer) -> NDArray[np.uint8]:
    """A plane as a person sees the pressed film, h×w uint8, 255 = printed: mirrored back, stretched to square dots."""
    across, down = by.resolution
    seen = Image.fromarray(((plane[:, ::-1] if by.mirror else plane) > 0).astype(np.uint8) * 255)
    finest = max(across, down)
    size = round(seen.width * finest / across), round(seen.height * finest / down)
    return np.asarray(seen.resize(size, Image.Resampling.NEAREST))


def codes_on(picture: NDArray[np.uint8]) -> list[str]:
    """What zxing-cpp reads of QR codes in a picture, sorted."""
    found = zxingcpp.read_barcodes(np.ascontiguousarray(picture), formats=zxingcpp.BarcodeFormat.QRCode)
    return sorted(code.text for code in found)


def dots(length_mm: float, dpi: int) -> int:
    """Whole dots of a length."""
    return round(units.mm_to_px(length_mm, dpi))

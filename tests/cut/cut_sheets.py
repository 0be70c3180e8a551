"""Small sheets, composed and with cut files: settings, film bits as tifffile reads them, copies laid at any angle."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray

from filmhand import units
from filmhand.colour.nominal import nominal_model
from filmhand.cut.write import cut_files
from filmhand.gang.compose import Piece, Target, compose
from filmhand.gang.sheet import Placement, Sheet
from filmhand.gang.turn import turned_box
from filmhand.gang_rules import CutRules
from filmhand.halftone.screening import screening_for
from filmhand.rules import OutputRules, Printer, Rule
from filmhand.separation.model import Separation

INKS = ("C", "M", "Y", "K", "W")


@dataclass(frozen=True)
class Made:
    """A sheet in a folder: its film (rows × columns bool, a dot of any ink), and the names of its cut files."""

    folder: Path
    film: NDArray[np.bool_]
    files: tuple[str, ...]


def stored(folder: Path, coverage: NDArray[np.uint8], *, width_mm: float) -> Path:
    """A separation of full ink wherever there is coverage, its pixels square."""
    folder.mkdir(parents=True)
    planes = np.broadcast_to(np.where(coverage > 0, 255, 0).astype(np.uint8), (len(INKS), *coverage.shape))
    Separation(INKS, planes, coverage, width_mm, width_mm * coverage.shape[0] / coverage.shape[1]).save(folder)
    return folder


def printer(**facts: object) -> Printer:
    """60 mm of film without margins."""
    return Printer.model_validate({"name": "p", "film_width": "60 mm", "margin": "0 mm", "mirror": False, **facts})


def laid(job: str, copy: int, *, at: tuple[float, float], size: tuple[float, float], rotation: float = 0.0) -> Placement:
    """A copy whose turned box begins at a place, mm."""
    _, _, width, height = turned_box(*size, rotation)
    return Placement(job, copy, *at, width, height, rotation)


def cut(
    folder: Path, sheet: Sheet, separations: Mapping[str, Path], *, press: Printer, rules: Mapping[str, object] = {}
) -> tuple[str, ...]:
    """The cut files of a sheet, all three if nothing else is asked."""
    asked = CutRules.model_validate({"files": ["svg", "pdf", "dxf"], **rules})
    return cut_files(folder, sheet, {(job, 0): path for job, path in separations.items()}, printer=press, rules=asked)


def made(folder: Path, sheet: Sheet, separations: Mapping[str, Path], *, press: Printer) -> Made:
    """A sheet composed, and cut files beside its TIFFs. The blue-noise tile is kept in the folder's parent."""
    folder.mkdir()
    screening = screening_for(Rule.model_validate({"title": "t"}), printer=press, cache=folder.parent)
    pieces = {job: Piece(path, screening, "#1b1b1d") for job, path in separations.items()}
    target = Target(press, OutputRules(), nominal_model(INKS[:-1]))
    composed = compose(sheet, pieces, target=target, folder=folder, threads=1)
    film = np.any([tifffile.imread(folder / name) > 0 for name in composed.files], axis=0)
    return Made(folder, film, cut(folder, sheet, separations, press=press))


def pixel_mm(press: Printer) -> tuple[float, float]:
    """Width and height of a dot."""
    across, down = press.resolution
    return units.px_to_mm(1, across), units.px_to_mm(1, down)

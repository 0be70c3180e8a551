"""Reading a stored separation by rows, without keeping any of it: mapped files would count as the program's own memory."""

import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from filmhand.errors import MachineError
from filmhand.halftone.lanes import OVERREAD
from filmhand.halftone.raster import Plane

PLANES, COVERAGE, FACTS = "planes.npy", "coverage.npy", "separation.json"


@dataclass(frozen=True)
class Array:
    """A stored n×h×w uint8 array: where its bytes begin in its file."""

    path: Path
    start: int
    shape: tuple[int, int, int]


@dataclass(frozen=True)
class Stored:
    """A separation in a folder, as written by `Separation.save`."""

    folder: Path
    inks: tuple[str, ...]
    planes: Array
    coverage: Array
    width_mm: float
    height_mm: float
    left_mm: float = 0.0
    top_mm: float = 0.0
    box_mm: tuple[float, float] | None = None
    """Of a turned picture, cut to its film: the upright box around the whole, in which it lies at `left_mm`, `top_mm`."""

    @property
    def height_px(self) -> int:
        """Source rows."""
        return self.coverage.shape[1]

    @property
    def width_px(self) -> int:
        """Source columns."""
        return self.coverage.shape[2]


def part_of(folder: Path, part: int) -> Path:
    """The folder of a design's piece, beside the design's own separation; 0: the design itself."""
    return folder / f"part-{part}" if part else folder


def open_stored(folder: Path) -> Stored:
    """The separation in a folder. MachineError if it is not there whole."""
    try:
        facts = json.loads((folder / FACTS).read_text("utf-8"))
        planes, coverage = _array(folder / PLANES), _array(folder / COVERAGE)
        cut = (facts.get("left_mm", 0.0), facts.get("top_mm", 0.0), tuple(facts["box_mm"]) if "box_mm" in facts else None)
        stored = Stored(folder, tuple(facts["inks"]), planes, coverage, facts["width_mm"], facts["height_mm"], *cut)
    except (OSError, ValueError, KeyError) as problem:
        raise _unreadable(folder) from problem
    if planes.shape != (len(stored.inks), *coverage.shape[1:]):
        raise _unreadable(folder)
    return stored


def open_array(path: Path) -> Array:
    """The n×h×w, or h×w, array in a file. MachineError if it is not there whole."""
    try:
        return _array(path)
    except (OSError, ValueError) as problem:
        raise _unreadable(path) from problem


def read_planes(array: Array, which: tuple[int, ...], first: int, last: int) -> tuple[Plane, ...]:
    """Rows `first` to `last` (not included) of the planes named, for the kernels of halftone/raster.py."""
    _, _, width = array.shape
    rows = last - first
    tones = np.empty((len(which), rows * width + OVERREAD), np.uint8)
    file = os.open(array.path, os.O_RDONLY)
    try:
        for place, plane in enumerate(which):
            _read(file, array, (plane * array.shape[1] + first) * width, tones[place, : rows * width])
    finally:
        os.close(file)
    tones[:, rows * width :] = 0
    peaks = tones[:, : rows * width].reshape(-1, rows, width).max(axis=2)
    unknown = np.zeros(rows, np.bool_)
    return tuple(Plane(one, width, peak, unknown) for one, peak in zip(tones, peaks, strict=True))


def read_rows(array: Array, plane: int, first: int, last: int) -> NDArray[np.uint8]:
    """The same of one plane as a picture: rows×w uint8."""
    _, _, width = array.shape
    rows = np.empty((last - first, width), np.uint8)
    file = os.open(array.path, os.O_RDONLY)
    try:
        _read(file, array, (plane * array.shape[1] + first) * width, rows.reshape(-1))
    finally:
        os.close(file)
    return rows


def _read(file: int, array: Array, offset: int, into: NDArray[np.uint8]) -> None:
    """Fill `into` from a place in the array's bytes."""
    done = 0
    while done < into.size:
        count = os.preadv(file, [into[done:].data], array.start + offset + done)
        if count == 0:
            raise _unreadable(array.path)
        done += count


def _array(path: Path) -> Array:
    with path.open("rb") as file:
        version = np.lib.format.read_magic(file)
        read_header = np.lib.format.read_array_header_1_0 if version == (1, 0) else np.lib.format.read_array_header_2_0
        shape, by_columns, kind = read_header(file)
        start = file.tell()
    if kind != np.uint8 or by_columns or len(shape) not in {2, 3} or path.stat().st_size < start + np.prod(shape):
        raise ValueError(f"{path.name}: expected {shape} bytes by rows")
    planes, height, width = shape if len(shape) == 3 else (1, *shape)  # noqa: PLR2004
    return Array(path, start, (planes, height, width))


def _unreadable(where: Path) -> MachineError:
    return MachineError(
        "A prepared design cannot be read back whole",
        file=where,
        next_step="Remove it from the cache; it is prepared again from the customer's file. Look to the disk if this returns.",
    )

"""Looking at separations: colours in, what the eye sees out, reckoned apart from the tables."""

import colorsys
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.model import InkModel
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_of_hex
from filmhand.separation.table import SeparationTable

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Build = Callable[..., SeparationTable]
"""Builds a table for a garment and tables of a rule."""


def opaque(rgb: Bytes) -> Bytes:
    """Colours (m, 3) as one row of opaque pixels (1, m, 4)."""
    return np.concatenate([rgb, np.full((len(rgb), 1), 255, np.uint8)], axis=1)[None]


def under(garment: str, *, model: InkModel, most: float = 1.0) -> Floats:
    """A garment's XYZ (3,) relative to the film white as it lies there, of a volume of `most`: what tables reckon with."""
    ground = xyz_of_hex(garment)
    return np.asarray(ground / model.opacity.share(most, garment=ground))


def seen(table: SeparationTable, rgb: Bytes, *, model: InkModel, garment: str, white: float | None = None) -> Floats:
    """XYZ (m, 3) of colours (m, 3) separated and laid on a garment: the formula of appearance, with 8-bit planes.

    Relative to the fullest white there, as `under`. `white`: a volume that lies under all film instead of the table's.
    """
    tones, coverage, under_film = table.apply(opaque(rgb))
    n, ground = model.yule_nielsen, xyz_of_hex(garment)
    amounts = printer_tone(model).amounts(tones[:, 0].T / 255, inks=model.inks)
    volume = under_film[0] / 255 if white is None else np.full(len(rgb), white)
    film = model.xyz(amounts) * model.opacity.share(volume, garment=ground)
    share = coverage[0][:, None] / 255
    absolute = ((1 - share) * ground ** (1 / n) + share * film ** (1 / n)) ** n
    return np.asarray(absolute / model.opacity.share(table.most_white, garment=ground))


def miss(first: Floats, second: Floats) -> Floats:
    """ΔE00 (...) between XYZ (..., 3)."""
    return difference(lab_from_xyz(first), lab_from_xyz(second))


def gray_ramp() -> Bytes:
    """All 256 grays (256, 3)."""
    return np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)


def hue_ramp(saturation: float, value: float) -> Bytes:
    """256 hues all around (256, 3)."""
    turn = [colorsys.hsv_to_rgb(step / 256, saturation, value) for step in range(256)]
    return np.rint(255 * np.array(turn)).astype(np.uint8)

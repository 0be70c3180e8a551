"""The marshals' print: bunting over big letters, a CMYK TIFF with alpha, drawn in ink percentages from the start."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand.demo import raster, shapes
from filmhand.demo.letters import lettering
from filmhand.demo.raster import Ground

GROUND = Ground(160.0, 92.0, 250.0)
_INKS = ((0.0, 0.9, 0.9, 0.0), (0.0, 0.2, 0.95, 0.0), (0.85, 0.25, 0.1, 0.0), (0.75, 0.05, 0.75, 0.0))
_NAVY = (1.0, 0.8, 0.2, 0.4)

Inks = tuple[float, float, float, float]


def draw(path: Path) -> None:
    """Write the print as a TIFF 6.0 file: Separated (section 16), unassociated alpha (section 18), LZW."""
    tifffile.imwrite(
        path,
        _planes(_layers()),
        photometric="separated",
        extrasamples=["unassalpha"],
        compression="lzw",
        predictor=True,
        resolution=(GROUND.ppi, GROUND.ppi),
        resolutionunit="INCH",
        metadata=None,
    )


def _planes(layers: Sequence[tuple[BaseGeometry, Inks]]) -> NDArray[np.uint8]:
    """The layers over each other: h×w×5 uint8, C M Y K with 255 = full ink, and straight alpha with 255 = opaque."""
    width, height = GROUND.size_px
    inks: NDArray[np.floating[Any]] = np.zeros((height, width, 4), np.float32)
    alpha: NDArray[np.floating[Any]] = np.zeros((height, width, 1), np.float32)
    for shape, ink in layers:
        cover = np.asarray(raster.mask(shape, GROUND), np.float32)[..., None] / 255
        inks = inks + (np.array(ink, np.float32) - inks) * cover
        alpha = alpha + (1 - alpha) * cover
    straight = inks / np.maximum(alpha, 1 / 255)
    planes: NDArray[np.uint8] = np.rint(np.concatenate([straight.clip(0, 1), alpha], axis=2) * 255).astype(np.uint8)
    return planes


def _layers() -> list[tuple[BaseGeometry, Inks]]:
    title = lettering("MARSHAL", height=26.5, weight=1.55, spacing=0.9)
    title = affinity.translate(title, 80 - (title.bounds[0] + title.bounds[2]) / 2, 73)
    event = lettering("OTTERWICK SPRING HEAD", height=6.4, weight=1.2, spacing=1.3)
    event = affinity.translate(event, 80 - (event.bounds[0] + event.bounds[2]) / 2, 90)
    return [
        *_bunting(),
        (title, _NAVY),
        (shapes.wave(12, 148, 78.5, height=1.8, length=17, thickness=1.3), _INKS[2]),
        (event, _NAVY),
    ]


def _bunting() -> list[tuple[BaseGeometry, Inks]]:
    """Pennants on two hanging cords."""
    layers: list[tuple[BaseGeometry, Inks]] = []
    cords = []
    for left, right in ((2.0, 80.0), (80.0, 158.0)):
        cord = [(left + (right - left) * step / 40, 4 + 15 * math.sin(math.pi * step / 40)) for step in range(41)]
        cords.append(LineString(cord).buffer(0.45))
        for flag in range(6):
            start, end = cord[flag * 6 + 3], cord[flag * 6 + 8]
            across = (end[0] - start[0], end[1] - start[1])
            tip = ((start[0] + end[0]) / 2 - across[1] * 1.5, (start[1] + end[1]) / 2 + across[0] * 1.5)
            layers.append((Polygon([start, end, tip]).buffer(0.3), _INKS[len(layers) % len(_INKS)]))
    return [*layers, (unary_union(cords), _NAVY)]

"""Figures for thin lines and gaps: by how much their measured width differs from the drawn one, by width and by resolution.

    python tests/bench/thin_lines.py [--widths 0.1 0.15 ...] [--ppi 200 300 360 600 720]

Strokes with exact coverage at eight angles, each at three places on the pixel grid, as film and as gap. The worst is printed, in
mm; "-" where nothing was found. Nothing is asserted: the tests assert a part of it.
"""

import argparse
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight.grid import Part
from filmhand.preflight.thickness import narrow_parts
from filmhand.units import mm_to_px

ANGLES = (0.0, 11.25, 22.5, 33.75, 45.0, 67.5, 78.75, 90.0)
WIDTHS_MM = tuple(round(0.05 * step, 2) for step in range(2, 17))
SIDE_MM, LENGTH_MM, LIMIT_MM = 12.0, 8.0, 1.0

Reals = NDArray[np.float64]


def main() -> None:
    """The tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--widths", type=float, nargs="+", default=WIDTHS_MM, metavar="MM")
    parser.add_argument("--ppi", type=float, nargs="+", default=(200, 300, 360, 600, 720))
    args = parser.parse_args()
    for part in Part:
        print(f"{part.value}: worst error of eight angles, mm")
        print("width " + "".join(f"{ppi:8.0f} ppi" for ppi in args.ppi))
        for width_mm in args.widths:
            print(f"{width_mm:5.2f} " + "".join(f"{_shown(errors(width_mm, ppi, part)):>12}" for ppi in args.ppi))


def errors(width_mm: float, ppi: float, part: Part) -> list[float]:
    """Measured less drawn width, mm, at every angle and place; nan where nothing was found."""
    found = []
    for angle in ANGLES:
        for shift in (0.0, 0.31, 0.5):
            at_mm = 6.0 + shift * 25.4 / ppi
            alpha = stroke(width_mm, angle, ppi=ppi, at_mm=(at_mm, at_mm))
            picture = artwork_of(alpha if part is Part.FILM else 1 - alpha)
            narrowest = narrow_parts(picture, PrintedSize(SIDE_MM, SIDE_MM), part=part, limit_mm=LIMIT_MM).narrowest_mm
            found.append(np.nan if narrowest is None else narrowest - width_mm)
    return found


def stroke(width_mm: float, angle: float, *, ppi: float, at_mm: tuple[float, float]) -> Reals:
    """Coverage (h×w, 0 to 1) of a straight stroke of 8 mm with square ends: exact along its sides, a product at its corners."""
    side = round(mm_to_px(SIDE_MM, ppi))
    y, x = np.mgrid[:side, :side] + 0.5
    cos, sin = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    dx, dy = x - mm_to_px(at_mm[0], ppi), y - mm_to_px(at_mm[1], ppi)
    along, across = dx * cos + dy * sin, dy * cos - dx * sin
    half, end = mm_to_px(width_mm, ppi) / 2, mm_to_px(LENGTH_MM, ppi) / 2
    return strip(across, half, abs(cos), abs(sin)) * strip(along, end, abs(cos), abs(sin))


def strip(distance: Reals, half: float, cos: float, sin: float) -> Reals:
    """Coverage of unit squares by a strip of a half width around a line at these distances from their middles.

    A square's shadow across the line is a box of |cos| convolved with a box of |sin|: its integral is the coverage.
    """
    return _below(distance + half, cos, sin) - _below(distance - half, cos, sin)


def _below(distance: Reals, cos: float, sin: float) -> Reals:
    wide, narrow = max(cos, sin), min(cos, sin)
    if narrow < 1e-9:
        return np.clip(distance / wide + 0.5, 0, 1)
    ramp = lambda value: np.maximum(value, 0) ** 2 / (2 * wide * narrow)  # noqa: E731
    outer, inner = (wide + narrow) / 2, (wide - narrow) / 2
    return ramp(distance + outer) - ramp(distance + inner) - ramp(distance - inner) + ramp(distance - outer)


def artwork_of(coverage: Reals) -> Artwork:
    """Artwork of one colour with this coverage (h×w, 0 to 1) as its alpha."""
    pixels = np.full((*coverage.shape, 4), 120, np.uint8)
    pixels[..., 3] = np.round(255 * coverage)
    return Artwork(pixels, None, None, Kind.PNG)


def _shown(differences: Iterable[float]) -> str:
    worst = max(differences, key=lambda value: np.inf if np.isnan(value) else abs(value))
    return "-" if np.isnan(worst) else f"{worst:+.3f}"


if __name__ == "__main__":
    main()

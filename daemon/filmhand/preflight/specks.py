"""Stray specks: film so small, and alone, that it becomes loose powder or a dot that does not hold."""

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Box, Finding, passed_above
from filmhand.preflight.places import Places
from filmhand.preflight.stray import Stray, stray_specks
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "specks"

_SEEN_ONE: Final = Phrase("One speck, smaller than {limit:.2g} mm, stands alone.")
_SEEN: Final = Phrase("{count} specks, each smaller than {limit:.2g} mm, stand alone.")
_ADVICE: Final = Phrase(
    "Specks like these print as stray dots, or come off as powder. Please erase them if they are dust or left over from cutting "
    "out; if they are meant, please make them larger."
)

_TOGETHER_MM: Final = 1.0
"""Specks no further apart than this are marked together."""
_MOST_BOXES: Final = 12
_MOST_SINGLE: Final = 500
"""More are marked by larger parts of the picture."""


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The number of specks that stand alone against the rule's `specks`."""
    limit_mm = rule.preflight.speck
    stray = stray_specks(artwork, size, limit_mm=limit_mm)
    passed = passed_above(rule.preflight.specks, stray.count)
    if passed is None:
        return ()
    message = _SEEN_ONE(limit=limit_mm) if stray.count == 1 else _SEEN(count=stray.count, limit=limit_mm)
    return (Finding(NAME, passed[0], message, _ADVICE(), stray.count, passed[1], "specks", _boxes(stray, artwork, size)),)


def _boxes(stray: Stray, artwork: Artwork, size: PrintedSize) -> tuple[Box, ...]:
    """Boxes right around specks, those that lie close together in one; where there are too many, those of most specks."""
    if stray.count > _MOST_SINGLE:
        places = Places(artwork.height_px, artwork.width_px)
        places.add_at(stray.rows, stray.columns)
        return places.boxes()
    boxes = shapely.box(*stray.sides.T.astype(np.float64))
    reach_px = _TOGETHER_MM / 2 * artwork.width_px / size.width_mm
    areas = shapely.get_parts(shapely.union_all(shapely.buffer(boxes, reach_px, join_style="mitre")))
    area, speck = shapely.STRtree(boxes).query(areas, predicate="intersects")
    most = np.argsort(-np.bincount(area), kind="stable")[:_MOST_BOXES]
    return tuple(_box(stray.sides[speck[area == one]], artwork) for one in most)


def _box(sides: NDArray[np.int64], artwork: Artwork) -> Box:
    left, top = sides[:, :2].min(axis=0)
    right, bottom = sides[:, 2:].max(axis=0)
    width, height = artwork.width_px, artwork.height_px
    return Box(float(left / width), float(top / height), float((right - left) / width), float((bottom - top) / height))

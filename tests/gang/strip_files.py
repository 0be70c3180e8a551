"""Strip-packing instances in JSON, as copies to nest on film: every strip is scaled to be as high as a film is wide.

In the files x runs along the strip and y across it, upwards; on film x runs across and y along it, downwards. Swapping the two
turns a shape by a quarter as seen and never mirrors it, so its rotations stay what they are.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from filmhand.gang.cells import Cells, cells_across
from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.nest import Item, Layout
from filmhand.gang.outline import Outline
from filmhand.gang.turn import turned, turned_box
from filmhand.rules import GangRules

WIDTH_MM = 580.0
"""Printable width of a film of 600 mm."""
QUARTERS = (0.0, 90.0, 180.0, 270.0)
TOUCHING_MM = 0.02
"""Pieces shrunk by this much may not meet: a solver's rounding, less than a dot at 1200 dpi."""

OWN = Path(__file__).parent / "instances"
"""Two instances of our own drawing: the badges of an invented regatta, and its flags."""

PUBLISHED = {"albano": 89.82, "jakobs1": 89.24, "marques": 92.02, "shirts": 90.92, "swim": 79.83, "trousers": 92.62}
"""Best published density, %: area of all pieces over strip height × length, recomputed from the record layouts of Gardeyn,
Vanden Berghe and Wauters, 2025. The instances are those of ESICUP's collection (CC0); they are not kept here."""

MEASURED = {"badges": 64.88, "flags": 76.02}
"""Of our own instances, %: what filmhand's `nest` came to when it was given a minute on two busy cores. No best is known."""


@dataclass(frozen=True, eq=False)
class Strip:
    """An instance on film. `polygons`: those of the items, one each, in mm of the item's own box."""

    name: str
    items: tuple[Item, ...]
    polygons: tuple[Polygon, ...]
    rotate: tuple[float, ...]

    @property
    def area_mm2(self) -> float:
        """Of all pieces, without their holes."""
        return float(sum(polygon.area for polygon in self.polygons))

    def density(self, layout: Layout) -> float:
        """Percent of the strip that pieces cover."""
        return 100 * self.area_mm2 / (WIDTH_MM * layout.length_mm)

    def rules(self, *, seconds: float, **more: Any) -> GangRules:
        """Pieces may touch, and the strip may be as long as it needs."""
        return GangRules.model_validate(
            {"gap": "0 mm", "rotate": self.rotate, "seconds": seconds, "max_length": "100000 mm", **more}
        )


def read_strip(path: Path) -> Strip:
    """The instance in a file. A shape is a `simple_polygon` (its ring) or a `polygon` (`outer` ring and `inner` ones).

    Rotations that not every piece may take are left out, for a rule has one list; without any said, quarter turns.
    """
    facts = json.loads(path.read_text("utf-8"))
    scale = WIDTH_MM / float(facts["strip_height"])
    items, polygons = list[Item](), list[Polygon]()
    rotations = set[float]()
    for number, piece in enumerate(facts["items"]):
        polygon = _on_film(piece["shape"], scale)
        copies = range(1, int(piece["demand"]) + 1)
        allowed = {float(angle) % 360 for angle in piece.get("allowed_orientations") or QUARTERS}
        rotations = rotations & allowed if number else allowed
        outline = outline_of_polygon(polygon)
        items += [Item(str(piece["id"]), copy, outline) for copy in copies]
        polygons += [polygon for _ in copies]
    return Strip(facts.get("name", path.stem), tuple(items), tuple(polygons), tuple(sorted(rotations)))


def outline_of_polygon(polygon: Polygon) -> Outline:
    """The outline of a polygon whose box begins at the origin.

    Its cells are those that lie in it whole, so that pieces may touch.
    """
    _, _, width, height = polygon.bounds
    columns, rows = cells_across(width, height)
    across, down = width / columns, height / rows
    core = polygon.buffer(-np.hypot(across, down) / 2)
    shapely.prepare(core)
    x, y = np.meshgrid((np.arange(columns) + 0.5) * across, (np.arange(rows) + 0.5) * down)
    holes = {"holes": tuple(_points(hole) for hole in polygon.interiors)} if polygon.interiors else {}
    return Outline(_points(polygon.exterior), width, height, Cells.of(shapely.contains_xy(core, x, y)), **holes)


def faults(strip: Strip, layout: Layout) -> tuple[str, ...]:
    """What is wrong with a layout: by filmhand's own check on cells, and by shapely on the pieces themselves."""
    area = Area(0.0, 0.0, WIDTH_MM, layout.length_mm)
    found = clearance_faults(layout.placements, [item.outline for item in strip.items], gap_mm=0.0, area=area)
    return (*found, *_missing(strip, layout), *_polygon_faults(strip, layout))


def laid(strip: Strip, layout: Layout) -> list[Polygon]:
    """Every piece where it was laid."""
    placed = []
    for polygon, item, one in zip(strip.polygons, strip.items, layout.placements, strict=True):
        left, top, _, _ = turned_box(item.outline.width_mm, item.outline.height_mm, one.rotation_deg)
        shift = np.array([one.x_mm - left, one.y_mm - top])
        placed.append(shapely.transform(polygon, lambda points, angle=one.rotation_deg, by=shift: turned(points, angle) + by))
    return placed


def _missing(strip: Strip, layout: Layout) -> Iterator[str]:
    if [(one.job, one.copy) for one in layout.placements] != [(item.job, item.copy) for item in strip.items]:
        yield "the layout has not every piece once"
    if {one.rotation_deg % 360 for one in layout.placements} - set(strip.rotate):
        yield "a piece is turned as it may not be"


def _polygon_faults(strip: Strip, layout: Layout) -> Iterator[str]:
    cores = [polygon.buffer(-TOUCHING_MM) for polygon in laid(strip, layout)]
    first, second = shapely.STRtree(cores).query(cores, predicate="intersects")
    for one, other in zip(first, second, strict=True):
        if one < other:
            yield f"pieces {strip.items[one].job} and {strip.items[other].job} overlap"
    room = shapely.box(0, 0, WIDTH_MM, layout.length_mm)
    for item, core in zip(strip.items, cores, strict=True):
        if not room.covers(core):
            yield f"piece {item.job} reaches out of the strip"


def _on_film(shape: Mapping[str, Any], scale: float) -> Polygon:
    """A shape in mm, its box beginning at the origin."""
    if shape["type"] == "simple_polygon":
        outer, inner = shape["data"], []
    elif shape["type"] == "polygon":
        outer, inner = shape["data"]["outer"], shape["data"].get("inner", [])
    else:
        raise ValueError(f"expected a simple_polygon or a polygon, not {shape['type']}")
    polygon = Polygon(_swapped(outer, scale), [_swapped(ring, scale) for ring in inner])
    left, top, _, _ = polygon.bounds
    return shapely.transform(polygon, lambda points: points - np.array([left, top]))


def _swapped(ring: Sequence[Sequence[float]], scale: float) -> NDArray[np.float64]:
    return np.array(ring, np.float64)[:, ::-1] * scale


def _points(ring: Any) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1])

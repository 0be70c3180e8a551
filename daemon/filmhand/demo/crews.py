"""The crew list: fine lettering and thin rules in one dark colour, for a light shirt."""

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont
from shapely import affinity
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand.demo import raster, shapes
from filmhand.demo.letters import lettering
from filmhand.demo.raster import Ground

GROUND = Ground(240.0, 208.0, 300.0)
_BOATS = ("KINGFISHER", "GREY HERON", "SANDPIPER", "WATER VOLE", "MAYFLY", "LAMPREY")
_INITIALS = "ABCDEFGHIJKLMNOPQRSTUVWY"
_NAMES = (
    *("Alder", "Birch", "Cobb", "Dale", "Elm", "Fenn", "Garth", "Hythe", "Ings", "Kell", "Lock", "Marsh"),
    *("Ness", "Oxbow", "Pike", "Quay", "Reed", "Sedge", "Tarn", "Ure", "Vance", "Weir", "Yare"),
)
_SEATS = ("Bow", "2", "3", "4", "5", "6", "7", "Stroke", "Cox")
_COLUMN_MM, _BLOCK_MM, _LINE_MM = 80.0, 68.0, 5.1


def draw(path: Path, rng: np.random.Generator) -> None:
    """Write the crew list as a PNG on a transparent ground."""
    picture = raster.flat(GROUND, [(_titles(), shapes.NAVY), (_boat_names(), shapes.TEAL), (_rules(), shapes.NAVY)])
    text = Image.new("L", GROUND.size_px)
    _write_crews(ImageDraw.Draw(text), rng)
    raster.save_png(raster.laid_over(picture, shapes.NAVY, text), path, GROUND.ppi)


def _write_crews(pen: ImageDraw.ImageDraw, rng: np.random.Generator) -> None:
    """Every seat and name in small type, and the line at the foot."""
    scale = GROUND.px_per_mm
    small = ImageFont.load_default(size=4.0 * scale)
    names = [f"{initial}. {name}" for initial in _INITIALS for name in _NAMES]
    chosen = rng.permutation(len(names))
    for boat in range(len(_BOATS)):
        left, top = _corner(boat)
        for line, seat in enumerate(_SEATS):
            y = (top + 12.2 + line * _LINE_MM) * scale
            name = names[chosen[boat * len(_SEATS) + line]]
            pen.text(((left + 4) * scale, y), seat, fill=255, font=small, anchor="ls")
            pen.text(((left + 24) * scale, y), name, fill=255, font=small, anchor="ls")
    foot = "Spring Head, 14 March 2031  ·  6800 m from Weir Lock to the Boathouse  ·  Otterwick Rowing Club"
    pen.text((120 * scale, 205 * scale), foot, fill=255, font=ImageFont.load_default(size=3.6 * scale), anchor="ms")


def _titles() -> BaseGeometry:
    title = lettering("SPRING HEAD", height=24, weight=1.45, spacing=0.9)
    year = lettering("CREWS OF 2031", height=9, weight=1.2, spacing=1.8)
    return unary_union([affinity.translate(_centred(title), 120, 28), affinity.translate(_centred(year), 120, 45)])


def _boat_names() -> BaseGeometry:
    names = []
    for boat, name in enumerate(_BOATS):
        left, top = _corner(boat)
        names.append(affinity.translate(lettering(name, height=4.6, weight=1.15, spacing=1.2), left + 4, top + 4.6))
    return unary_union(names)


def _rules() -> BaseGeometry:
    """Rules of 0.5 mm about the title, of 0.3 mm under the boats' names, and of 0.25 mm between the columns."""
    rules = [box(4, 40.0, 64, 40.5), box(4, 51.0, 236, 51.5), box(4, 197, 236, 197.5)]
    rules += [box(176, 40.0, 236, 40.5)]
    for boat in range(len(_BOATS)):
        left, top = _corner(boat)
        rules.append(box(left + 4, top + 6.2, left + _COLUMN_MM - 4, top + 6.5))
        if boat % 3:
            rules.append(box(left - 0.12, top, left + 0.13, top + _BLOCK_MM - 13))
    return unary_union(rules)


def _corner(boat: int) -> tuple[float, float]:
    return boat % 3 * _COLUMN_MM, 61.0 + boat // 3 * (_BLOCK_MM + 4)


def _centred(line: BaseGeometry) -> BaseGeometry:
    return affinity.translate(line, -(line.bounds[0] + line.bounds[2]) / 2, 0)

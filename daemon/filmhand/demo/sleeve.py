"""The sleeve mark: the club's otter, swimming. Flat and small, for many copies."""

from pathlib import Path

from shapely import affinity
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand.demo import raster, shapes
from filmhand.demo.letters import lettering
from filmhand.demo.raster import Ground

GROUND = Ground(80.0, 60.0, 300.0)
_FUR: shapes.Colour = (112, 66, 40)
_WATER_MM = 31.0


def draw(path: Path) -> None:
    """Write the mark as a PNG on a transparent ground."""
    raster.save_png(raster.flat(GROUND, otter()), path, GROUND.ppi)


def otter() -> list[tuple[BaseGeometry, shapes.Colour]]:
    """The mark as outlines in mm, lowest first, each with its colour."""
    waves = [
        shapes.wave(0.8, 79.2, _WATER_MM + 3.4, height=3.4, length=13.06, thickness=2.6),
        shapes.wave(8.0, 72.0, _WATER_MM + 9.4, height=3.0, length=12.8, thickness=1.9),
    ]
    under = unary_union([affinity.translate(waves[0], 0, fall * 1.2) for fall in range(1, 12)])
    back = shapes.blob([(14, 36), (18, 27), (29, 22.5), (41, 25), (50, 31), (52, 38)])
    tail = shapes.blob([(1.5, 27.5), (5, 26.4), (10.5, 29.2), (15, 34), (12, 37), (7, 31.5)])
    neck = shapes.blob([(47, 38), (49, 25), (56, 14), (66, 12), (69, 20), (66, 30), (64, 38)])
    head = shapes.blob(
        [(53.5, 13.5), (58, 8.2), (65, 7.4), (70.5, 10), (75.5, 13.2), (76.4, 16.4), (72, 19.4), (64, 20.6), (56, 19.8)]
    )
    muzzle = shapes.blob([(67.5, 15.2), (71.5, 12.8), (75.6, 13.8), (76.2, 16.4), (72, 19), (67.5, 19)])
    chest = shapes.blob([(60.5, 37), (61, 27), (64, 21.2), (67.2, 22), (66, 30), (63.8, 37)])
    dark = [shapes.disc(66.2, 12.2, 1.15), shapes.blob([(74, 12.6), (76.6, 12.8), (76.6, 14.6), (74.8, 14.8)])]
    whiskers = [shapes.limb((71.5, 16.6), (x, y), thickness=0.42) for x, y in ((65.2, 17.2), (65.6, 19.6), (67, 22))]
    name = lettering("OTTERWICK", height=8.6, weight=1.35, spacing=1.5)
    name = affinity.translate(name, 40 - (name.bounds[0] + name.bounds[2]) / 2, 57.5)
    return [
        (unary_union([back, tail, neck]).difference(under), _FUR),
        (head.union(shapes.disc(57.6, 9.4, 2.1)), _FUR),
        (chest.difference(under), (222, 184, 140)),
        (muzzle, (222, 184, 140)),
        (unary_union(dark + whiskers), (44, 26, 20)),
        (shapes.disc(66.6, 11.8, 0.42), shapes.CREAM),
        (waves[0], shapes.TEAL),
        (waves[1], shapes.TEAL),
        (name, shapes.NAVY),
    ]

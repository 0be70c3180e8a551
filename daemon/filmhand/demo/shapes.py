"""Outlines that several artworks share, in mm, y down: discs, waves, stars, oars, a crew in its boat."""

import math
from collections.abc import Sequence

from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

Colour = tuple[int, int, int]

NAVY: Colour = (17, 42, 84)
TEAL: Colour = (30, 122, 130)
GOLD: Colour = (244, 182, 52)
CREAM: Colour = (252, 245, 228)
RED: Colour = (204, 62, 46)

SEAT_MM = 14.0
"""Distance between two rowers of `crew`, in its own unit of length."""

_COXED = 4


def disc(x: float, y: float, radius: float) -> BaseGeometry:
    """A round disc."""
    return Point(x, y).buffer(radius, quad_segs=48)


def ring(x: float, y: float, outer: float, inner: float) -> BaseGeometry:
    """A disc without its middle."""
    return disc(x, y, outer).difference(disc(x, y, inner))


def star(x: float, y: float, radius: float) -> BaseGeometry:
    """A five-pointed star, one point up."""
    corners = []
    for corner in range(10):
        reach = radius if corner % 2 == 0 else radius * 0.4
        angle = math.pi * corner / 5
        corners.append((x + reach * math.sin(angle), y - reach * math.cos(angle)))
    return Polygon(corners)


def limb(*points: tuple[float, float], thickness: float) -> BaseGeometry:
    """A line with round ends and joints."""
    return LineString(points).buffer(thickness / 2, quad_segs=8)


def wave(left: float, right: float, y: float, *, height: float, length: float, thickness: float) -> BaseGeometry:
    """A wavy band."""
    steps = max(24, int((right - left) / length * 24))
    points = []
    for step in range(steps + 1):
        x = left + (right - left) * step / steps
        points.append((x, y + height / 2 * math.sin(2 * math.pi * (x - left) / length)))
    return LineString(points).buffer(thickness / 2, cap_style="flat")


def blob(points: Sequence[tuple[float, float]]) -> BaseGeometry:
    """A closed, smooth outline through points (a Catmull–Rom spline)."""
    outline = []
    count = len(points)
    for index in range(count):
        p0, p1, p2, p3 = (points[(index + offset) % count] for offset in (-1, 0, 1, 2))
        for step in range(12):
            outline.append(_spline(p0, p1, p2, p3, step / 12))
    return Polygon(outline).buffer(0)


def oar(length: float) -> tuple[BaseGeometry, BaseGeometry, BaseGeometry]:
    """An oar standing on end, blade up, its foot at (0, 0): shaft, blade, and the stripe across the blade."""
    shaft = LineString([(0, 0), (0, -length * 0.86)]).buffer(length * 0.013, cap_style="round")
    grip = LineString([(0, 0), (0, -length * 0.1)]).buffer(length * 0.02, cap_style="round")
    half = length * 0.062
    top, foot = -length, -length * 0.74
    blade = Polygon(
        [(-half * 0.45, foot), (half * 0.45, foot), (half * 1.1, foot - length * 0.05), (half * 1.1, top), (-half * 1.1, top),
         (-half * 1.1, foot - length * 0.05)]
    ).buffer(length * 0.008)  # fmt: skip
    stripe = blade.intersection(box(-half * 2, -length * 0.93, half * 2, -length * 0.86))
    return unary_union([shaft, grip]), blade, stripe


def crew(rowers: int, *, lean: float = 0.0) -> BaseGeometry:
    """A boat with its rowers, bow to the right, seen from the side: silhouette, the waterline at y 0, stern at x 0.

    `lean` swings the bodies from the middle of the stroke (0) towards the catch (1). From four rowers on there is a cox.
    """
    length = SEAT_MM * (rowers + 4.5)
    sheer = [(0, -1.5), (0.1, -2.5), (0.5, -3.0), (0.9, -2.4), (1, -1.6)]
    keel = [(0.88, -0.1), (0.5, 0.5), (0.1, -0.1)]
    hull = blob([(length * along, y) for along, y in (*sheer, *keel)])
    parts = [hull]
    if rowers >= _COXED:
        parts.append(affinity.translate(_cox(), SEAT_MM * 1.6, -2.6))
    for seat in range(rowers):
        x = SEAT_MM * (seat + 3.0)
        parts.append(affinity.translate(_rower(lean), x, -2.6))
        parts.append(affinity.translate(_swept_oar(near=seat % 2 == 0, lean=lean), x, -2.6))
    return unary_union(parts)


def _rower(lean: float) -> BaseGeometry:
    hip = (0.0, -0.6)
    shoulder = (1.6 - 4.4 * lean, -8.6 + 0.7 * lean)
    head = (shoulder[0] - 0.2 - 0.7 * lean, shoulder[1] - 2.9)
    hands = (-5.6 - 1.6 * lean, -4.2)
    knee = (-4.0 + 0.6 * lean, -3.6 - 1.2 * lean)
    return unary_union(
        [
            limb(hip, (hip[0] + 0.5 - lean, -4.6), shoulder, thickness=2.9),
            limb(shoulder, (shoulder[0], shoulder[1] - 2.0), thickness=1.3),
            affinity.rotate(affinity.scale(disc(*head, 1.45), 0.9, 1.12), -8),
            limb(head, (head[0] - 2.1, head[1] + 0.1), thickness=0.55),  # the peak of a cap
            limb(shoulder, ((shoulder[0] + hands[0]) / 2, (shoulder[1] + hands[1]) / 2 + 0.6), hands, thickness=1.25),
            limb(hip, knee, (-7.2, -0.4), thickness=1.7),
        ]
    )


def _swept_oar(*, near: bool, lean: float) -> BaseGeometry:
    start = (-5.0 - 1.6 * lean, -4.3)
    end = (start[0] + 4.0 + 8.5 * lean, 9.5) if near else (start[0] + 5.0 + 6.0 * lean, 3.4)
    across = (end[0] - start[0], end[1] - start[1])
    size = math.hypot(*across)
    blade = 4.2 if near else 1.8
    foot = (end[0] - across[0] / size * blade, end[1] - across[1] / size * blade)
    return unary_union([limb(start, end, thickness=0.6 if near else 0.4), limb(foot, end, thickness=1.7 if near else 1.0)])


def _cox() -> BaseGeometry:
    return unary_union(
        [
            limb((0, -0.4), (-0.5, -5.4), thickness=2.9),
            disc(0.0, -8.2, 1.45),
            limb((0.0, -8.6), (2.1, -8.5), thickness=0.55),
            limb((-0.4, -5.2), (2.4, -3.0), thickness=1.1),
            limb((0, -0.6), (4.0, -2.4), (5.6, -0.4), thickness=1.6),
        ]
    )


def _spline(
    p0: tuple[float, float], p1: tuple[float, float], p2: tuple[float, float], p3: tuple[float, float], t: float
) -> tuple[float, float]:
    """A point between p1 and p2 on the curve of Catmull and Rom (1974)."""

    def along(a: float, b: float, c: float, d: float) -> float:
        return 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t * t + (3 * b - a - 3 * c + d) * t**3)

    return along(p0[0], p1[0], p2[0], p3[0]), along(p0[1], p1[1], p2[1], p3[1])

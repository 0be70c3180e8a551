"""An outline at a rotation: the box around it, and whether it fits a strip."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.gang.outline import Outline
from filmhand.gang.turn import turned, turned_box
from filmhand.rules import GangRules

_ROUNDING_MM: Final = 1e-6


@dataclass(frozen=True)
class Pose:
    """An outline at one rotation: the box around it, measured from the top left of the box around the turned picture, mm."""

    rotation: float
    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class Place:
    """Where a picture lies: the left and top of the upright box around it, turned; mm."""

    x_mm: float
    y_mm: float
    rotation_deg: float


@lru_cache(maxsize=16384)
def pose_of(outline: Outline, rotation_deg: float) -> Pose:
    """An outline at a rotation of 0 to 360 degrees."""
    left, top, _, _ = turned_box(outline.width_mm, outline.height_mm, rotation_deg)
    ring = turned(outline.ring(), rotation_deg)
    low_x, low_y = ring.min(axis=0)
    high_x, high_y = ring.max(axis=0)
    return Pose(rotation_deg, float(low_x - left), float(low_y - top), float(high_x - low_x), float(high_y - low_y))


def fitting(outline: Outline, *, width_mm: float, rules: GangRules) -> list[Pose]:
    """The outline at every allowed rotation at which it fits a strip of this width and the rule's greatest length."""
    poses = (pose_of(outline, rotation) for rotation in allowed(rules))
    return [pose for pose in poses if pose.width <= width_mm + _ROUNDING_MM and pose.height <= rules.max_length + _ROUNDING_MM]


def allowed(rules: GangRules) -> tuple[float, ...]:
    """The rule's rotations as degrees from 0 to 360, each once, in its order."""
    return tuple(dict.fromkeys(rotation % 360.0 for rotation in rules.rotate or (0.0,)))


def origin_of(outline: Outline, place: Place) -> NDArray[np.float64]:
    """Where the top left corner of the upright picture comes to lie; n=2 float64, mm."""
    left, top, _, _ = turned_box(outline.width_mm, outline.height_mm, place.rotation_deg)
    return np.array([place.x_mm - left, place.y_mm - top])


def place_at(outline: Outline, origin_mm: NDArray[np.float64], rotation_deg: float) -> Place:
    """The inverse of `origin_of`."""
    left, top, _, _ = turned_box(outline.width_mm, outline.height_mm, rotation_deg)
    return Place(float(origin_mm[0]) + left, float(origin_mm[1]) + top, rotation_deg)


def extent_mm(outline: Outline, place: Place) -> float:
    """How far down the strip a laid outline reaches."""
    pose = pose_of(outline, place.rotation_deg)
    return place.y_mm + pose.top + pose.height

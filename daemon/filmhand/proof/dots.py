"""A window of a delivered sheet: its dots as the files hold them, the way round that they are looked at."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.gang.composed import CONTINUOUS
from filmhand.rules import is_white

Levels = NDArray[np.uint8]
Reals = NDArray[np.float32]
Floats = NDArray[np.float64]

_FILLS_IN: Final = np.ones((3, 3), np.uint8)
"""Drops reach further than their pitch: a gap that has no room for 3 × 3 bare dots is one of the screen of thin white, whose ink
runs together there, and no hole in the film."""


@dataclass(frozen=True, eq=False)
class Dots:
    """A window's dots.

    `planes`: by letter, in print order, (h, w) uint8 as the files hold them: 0 or 1 at 1 bit, 0 to 3 at 2, 0 to 255 at 8.
    `shares`: by letter, (2^bits,) float32, what share of full ink each of these values is, 0 to 1. `garments`: XYZ (g, 3), D50,
    relative to film white; `lies_on`: (h, w) uint8, which of them lies under each dot.
    """

    bits: int
    planes: Mapping[str, Levels]
    shares: Mapping[str, Reals]
    garments: Floats
    lies_on: NDArray[np.uint8]

    @property
    def inks(self) -> tuple[str, ...]:
        """Letters of the colour inks."""
        return tuple(ink for ink in self.planes if not is_white(ink))


def film_of(dots: Dots) -> Levels:
    """Film, (h, w) uint8, 0 none to 255 all: wherever ink lies, and between dots that have run together.

    At 8 bits the fullest plane says how much of a dot is film: exact where some ink there is full within the film.
    """
    film = _fullest(dots, tuple(dots.planes))
    return film if dots.bits == CONTINUOUS else _run_together(film)


def white_of(dots: Dots, film: Levels) -> Levels:
    """Film that has white under it, thin or not, likewise: the rest is edge from which the white was pulled in."""
    white = _fullest(dots, tuple(plane for plane in dots.planes if is_white(plane)))
    return np.where(white > 0, film, np.uint8(0)) if dots.bits == CONTINUOUS else _run_together(white)


def _fullest(dots: Dots, planes: tuple[str, ...]) -> Levels:
    fullest = np.zeros(dots.lies_on.shape, np.uint8)
    for plane in planes:
        np.maximum(fullest, dots.planes[plane], out=fullest)
    return fullest


def _run_together(levels: Levels) -> Levels:
    _, laid = cv2.threshold(levels, 0, 255, cv2.THRESH_BINARY)
    return np.asarray(cv2.morphologyEx(laid, cv2.MORPH_CLOSE, _FILLS_IN), np.uint8)

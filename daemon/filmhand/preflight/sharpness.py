"""How sharp the sharpest edges of an artwork are, and how many pixels go by in a row without change: what no enlargement leaves.

Enlarging f times by any smooth filter spreads a step of the original over about f pixels; repeating pixels makes none that stands
alone. An edge that changes from one side to the other within a pixel or two was drawn, or photographed, as it is.
"""

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

_REACH: Final = 3
"""Pixels to either side of a step within which all of the edge lies."""

_LEAST_RANGE: Final = 60
"""Levels: weaker edges may be noise, or JPEG's."""

_SOLID: Final = 250
_MANY: Final = 200
_SHARP_SHARE: Final = 95
"""The percentile that speaks for the sharpest: where within a pixel an edge lies is chance."""

_FLAT: Final = 0.01
"""Share of steps within solid artwork that change anything, up to which it is flat."""

_NONE: Final = np.empty(0, np.float32)

_CHANGE: Final = 12
"""Levels that count as a change: less may be JPEG's."""


def sharpest(squares: Sequence[NDArray[np.uint8]]) -> float | None:
    """The greatest part of an edge's change that lies between two neighbouring pixels, 0 to 1; None where there are no edges.

    `squares`: parts of an artwork, each n×n×4 uint8, straight alpha. Edges within the solid artwork speak where there are enough;
    else those of alpha, if all within is flat: an enlarged picture may have been cut out sharply since.
    """
    within, is_flat = _edges_within(squares)
    found = np.concatenate([*(within if sum(map(len, within)) >= _MANY or not is_flat else _edges_of_alpha(squares)), _NONE])
    return float(np.percentile(found, _SHARP_SHARE)) if found.size >= _MANY else None


def changes_in_a_row(squares: Sequence[NDArray[np.uint8]]) -> float:
    """Of the places where squares (n×n×4 uint8) change from a pixel to the next, the share where they at once change again."""
    changes = again = 0
    for square in squares:
        for way in (square, square.transpose(1, 0, 2)):
            flat = way.astype(np.int16)
            is_change = np.abs(np.diff(flat, axis=1)).max(axis=-1) >= _CHANGE
            changes += int(np.count_nonzero(is_change[:, :-1]))
            again += int(np.count_nonzero(is_change[:, :-1] & is_change[:, 1:]))
    return again / changes if changes else 0.0


def _edges_within(squares: Sequence[NDArray[np.uint8]]) -> tuple[list[NDArray[np.float32]], bool]:
    """Edges of tones where the artwork is solid all around, and whether there is nothing but flat colour."""
    edges, steps, changes = [], 0, 0
    for square in squares:
        luma = cv2.cvtColor(np.ascontiguousarray(square[..., :3]), cv2.COLOR_RGB2GRAY)
        solid = cv2.erode((square[..., 3] >= _SOLID).view(np.uint8), np.ones((2 * _REACH + 1,) * 2, np.uint8)).view(np.bool_)
        edges += [_parts_of_edges(luma, solid), _parts_of_edges(luma.T, solid.T)]
        steps += int(np.count_nonzero(solid[:, 1:]))
        changes += int(np.count_nonzero(solid[:, 1:] & (luma[:, 1:] != luma[:, :-1])))
    return edges, changes <= _FLAT * steps


def _edges_of_alpha(squares: Sequence[NDArray[np.uint8]]) -> list[NDArray[np.float32]]:
    alphas = [square[..., 3] for square in squares]
    return [_parts_of_edges(values, np.ones(values.shape, np.bool_)) for alpha in alphas for values in (alpha, alpha.T)]


def _parts_of_edges(values: NDArray[np.uint8], counts: NDArray[np.bool_]) -> NDArray[np.float32]:
    """For each edge that rows (h×w) cross where it counts: its largest step, over all that changes around it."""
    values = np.ascontiguousarray(values)
    across = np.ones((1, 2 * _REACH + 1), np.uint8)
    whole = cv2.dilate(values, across).astype(np.float32) - cv2.erode(values, across)
    step = np.abs(np.diff(values.astype(np.float32), axis=1))
    is_top = (step >= cv2.dilate(step, across)) & (whole[:, :-1] >= _LEAST_RANGE) & counts[:, :-1]
    return np.asarray((step / np.maximum(whole[:, :-1], 1))[is_top], np.float32)

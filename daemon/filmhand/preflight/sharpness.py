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

_ACROSS: Final = np.ones((1, 2 * _REACH + 1), np.uint8)

_LEAST_RANGE: Final = 60
"""Levels: weaker edges may be noise, or JPEG's."""

_SOLID: Final = 250
_MANY: Final = 200
_SHARP_SHARE: Final = 95
"""The percentile that speaks for the sharpest: where within a pixel an edge lies is chance."""

_FLAT: Final = 0.01
"""Share of steps within solid artwork that change anything, up to which it is flat."""

_LEVEL: Final = 4
_BETWEEN, _MOSTLY_LEVEL, _LEVEL_SHARE = 3.0, 0.6, 0.85
"""Flat colours and their edges, however soft, have at most 2.2 places between the two for each on an edge; photographs, sharp or
blurred, 4 and more, or hardly anything level; and less than 0.8 of them is level (measured on scikit-image's)."""

_SOFT, _OF_A_STEP = 0.45, 1.05
"""Edges this soft were drawn so by no program; bicubic and Lanczos leave about 1.05/f of a step, bilinear 1/f (tests)."""

_NONE: Final = np.empty(0, np.float32)

_CHANGE: Final = 12
"""Levels that count as a change: less may be JPEG's."""


def sharpest(squares: Sequence[NDArray[np.uint8]]) -> float | None:
    """The greatest part of an edge's change that lies between two neighbouring pixels, 0 to 1; None where there are no edges.

    `squares`: parts of an artwork, each n×n×4 uint8, straight alpha. Edges within the solid artwork speak where there are enough;
    else those of alpha, if all within is flat: an enlarged picture may have been cut out sharply since.
    """
    within, steps, changes = _edges_within(squares)
    by_inside = sum(map(len, within)) >= _MANY or changes > _FLAT * steps
    found = np.concatenate([*(within if by_inside else _edges_of_alpha(squares)), _NONE])
    return float(np.percentile(found, _SHARP_SHARE)) if found.size >= _MANY else None


def softness(squares: Sequence[NDArray[np.uint8]]) -> float:
    """By about how much flat artwork was enlarged smoothly, from its edges alone; 1 where it is not flat, or its edges are sharp.

    Flat colours with every edge between them wide are a small drawing made large. Edges of alpha do not speak here: they are
    feathered on purpose, too. A photograph is left out by its texture, for it may be out of focus.
    """
    edges, _, _ = _edges_within(squares)
    found = np.concatenate([*edges, _NONE])
    if found.size < _MANY or not is_flat(squares):
        return 1.0
    sharp = float(np.percentile(found, _SHARP_SHARE))
    return max(1.0, _OF_A_STEP / sharp) if sharp <= _SOFT else 1.0


def is_flat(squares: Sequence[NDArray[np.uint8]]) -> bool:
    """Whether nearly everything within the solid artwork (n×n×4 uint8) is one flat colour, or an edge between two."""
    level = between = edge = 0
    for luma, solid in map(_solid_luma, squares):
        for values, counts in ((luma, solid), (luma.T, solid.T)):
            change = _change_around(values)[counts]
            level += int(np.count_nonzero(change < _LEVEL))
            edge += int(np.count_nonzero(change >= _LEAST_RANGE))
            between += int(np.count_nonzero((change >= _LEVEL) & (change < _LEAST_RANGE)))
    share = level / max(1, level + between + edge)
    return share >= _LEVEL_SHARE or (share >= _MOSTLY_LEVEL and between <= _BETWEEN * edge)


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


def _edges_within(squares: Sequence[NDArray[np.uint8]]) -> tuple[list[NDArray[np.float32]], int, int]:
    """Edges of tones where the artwork is solid all around; how many steps there are, and how many of them change anything."""
    edges, steps, changes = [], 0, 0
    for square in squares:
        luma, solid = _solid_luma(square)
        edges += [_parts_of_edges(luma, solid), _parts_of_edges(luma.T, solid.T)]
        steps += int(np.count_nonzero(solid[:, 1:]))
        changes += int(np.count_nonzero(solid[:, 1:] & (luma[:, 1:] != luma[:, :-1])))
    return edges, steps, changes


def _solid_luma(square: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Tones, and where the artwork is solid all around."""
    luma = cv2.cvtColor(np.ascontiguousarray(square[..., :3]), cv2.COLOR_RGB2GRAY)
    solid = cv2.erode((square[..., 3] >= _SOLID).view(np.uint8), np.ones((2 * _REACH + 1,) * 2, np.uint8))
    return np.asarray(luma, np.uint8), solid.view(np.bool_)


def _edges_of_alpha(squares: Sequence[NDArray[np.uint8]]) -> list[NDArray[np.float32]]:
    alphas = [square[..., 3] for square in squares]
    return [_parts_of_edges(values, np.ones(values.shape, np.bool_)) for alpha in alphas for values in (alpha, alpha.T)]


def _parts_of_edges(values: NDArray[np.uint8], counts: NDArray[np.bool_]) -> NDArray[np.float32]:
    """For each edge that rows (h×w) cross where it counts: its largest step, over all that changes around it."""
    whole = _change_around(values)
    step = np.abs(np.diff(values.astype(np.float32), axis=1))
    is_top = (step >= cv2.dilate(step, _ACROSS)) & (whole[:, :-1] >= _LEAST_RANGE) & counts[:, :-1]
    return np.asarray((step / np.maximum(whole[:, :-1], 1))[is_top], np.float32)


def _change_around(values: NDArray[np.uint8]) -> NDArray[np.float32]:
    """How much rows (h×w) change within reach of each place, in levels."""
    values = np.ascontiguousarray(values)
    return np.asarray(cv2.dilate(values, _ACROSS).astype(np.float32) - cv2.erode(values, _ACROSS), np.float32)

"""Edge pixels of a motif on a ground are mixtures of both: finding the share of each, and the motif's own colour.

How wide edges are differs from file to file: drawing programs mix one pixel, enlarging and a lens many. So it is measured first.
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.rays import rays_across
from filmhand.colour.compiled import compiled

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

_LEAST_PX, _MOST_PX = 2, 16
"""How wide an edge's mixture is taken to be, in pixels: antialiasing makes one, resampling two, and blur more."""

_RAYS: Final = 4000
_RISE: Final = 0.03
"""An edge goes on as long as colours move away from the ground by this share of the way, a pixel."""

_SOLID: Final = 0.98
_MOST_OF_GROUND: Final = 0.5
"""Removed ground is no more of the motif than this, or it was not the motif that the way from it led to."""
_SAMPLES: Final = 100_000


def unmixed(pixels: Pixels, removed: Mask, flat: Pixels, *, ground: NDArray[np.uint8]) -> Pixels:
    """h×w×4 uint8 with alpha 0 where `removed` (h×w), and the pixels beside that made part transparent in the motif's colour.

    A pixel C = a·F + (1 - a)·G, mixed as encoded, as drawing programs do. F is the colour at the end of the way from the pixel
    that leads ever further from the ground G (3 values); a is the share of the way from G to F at which C lies. Over the ground's
    colour the result looks as before. `flat` (h×w×3 or more, uint8) is where distances are taken: the pixels, with a shaded
    ground's shading taken off.
    """
    reach = _edge_px(flat, removed, ground)
    result = pixels.copy()
    result[..., 3][removed] = 0
    square = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    beside = cv2.dilate(removed.view(np.uint8), square).view(np.bool_)
    beside &= ~removed if reach <= _LEAST_PX else cv2.dilate((~removed).view(np.uint8), square).view(np.bool_)
    rows, columns = np.nonzero(beside)
    noise = _noise(flat, removed, ground)
    share, from_row, from_column = _motif(flat, removed, (rows, columns), ground.astype(np.float32), (reach, noise))
    is_mixed = share < _SOLID
    rows, columns, share = rows[is_mixed], columns[is_mixed], share[is_mixed]
    result[rows, columns, :3] = pixels[from_row[is_mixed], from_column[is_mixed], :3]
    result[rows, columns, 3] = np.rint(share * pixels[rows, columns, 3])
    return result


def _edge_px(flat: Pixels, removed: Mask, ground: NDArray[np.uint8]) -> int:
    """How wide the motif's edges are: the median, over its outline, of where colours stop moving away from the ground."""
    rays = rays_across(~removed, outward_px=0, inward_px=_MOST_PX, most=_RAYS)
    colours = flat[rays.rows, rays.columns, :3].astype(np.float32)
    distance = np.linalg.norm(colours - ground.astype(np.float32), axis=-1)
    if not distance.size:
        return _LEAST_PX
    # Over two steps: a slanting ray may meet one pixel twice.
    goes_on = distance[:, 2:] - distance[:, :-2] > _RISE * distance[:, 2:]
    stops = np.argmin(np.pad(goes_on, ((0, 0), (0, 1))), axis=1)
    return int(np.clip(np.median(stops) + 1, _LEAST_PX, _MOST_PX))


def _noise(flat: Pixels, removed: Mask, ground: NDArray[np.uint8]) -> float:
    """How far, in RGB, the ground's own pixels lie from its colour: the median; a smaller step is none."""
    step = max(1, int(np.sqrt(removed.size / _SAMPLES)))
    own = flat[::step, ::step, :3][removed[::step, ::step]].astype(np.float32)
    return float(np.median(np.linalg.norm(own - ground.astype(np.float32), axis=-1))) if own.size else 0.0


@compiled
def _motif(
    flat: Pixels,
    removed: Mask,
    at: tuple[NDArray[np.intp], NDArray[np.intp]],
    ground: NDArray[np.float32],
    limits: tuple[int, float],
) -> tuple[NDArray[np.float32], NDArray[np.intp], NDArray[np.intp]]:
    """For n places: the motif's share (0 to 1), and the row and column at which its own colour is found.

    Where the way back from a place does not fall to the ground, it is the motif's inside: its share is 1. Where the way on from
    removed ground is not over within an edge's width, it is noise before the edge: its share is 0.
    """
    rows, columns = at
    reach, noise = limits
    share = np.ones(rows.size, np.float32)
    from_row, from_column = rows.copy(), columns.copy()
    for n in range(rows.size):
        y, x = rows[n], columns[n]
        if not removed[y, x] and not _falls_to_ground(flat, removed, (y, x), ground, limits):
            continue
        top, left = y, x
        furthest = _distance(flat, y, x, ground)
        arrives = False
        for _ in range(reach):
            best, best_row, best_column = furthest, top, left
            for near_row in range(max(0, top - 1), min(flat.shape[0], top + 2)):
                for near_column in range(max(0, left - 1), min(flat.shape[1], left + 2)):
                    distance = _distance(flat, near_row, near_column, ground)
                    if distance > best:
                        best, best_row, best_column = distance, near_row, near_column
            arrives = best <= furthest + max(noise, _RISE * furthest)
            if arrives:
                break
            furthest, top, left = best, best_row, best_column
        along = np.float32(0)
        for channel in range(3):
            own, goal = flat[y, x, channel] - ground[channel], flat[top, left, channel] - ground[channel]
            along += own * goal
        of_all = 0.0 if removed[top, left] else float(along) / max(float(furthest * furthest), 1.0)
        if removed[y, x] and not arrives and of_all > _MOST_OF_GROUND:
            of_all = 0.0
        share[n] = min(max(of_all, 0.0), 1.0)
        from_row[n], from_column[n] = top, left
    return share, from_row, from_column


@compiled
def _falls_to_ground(
    flat: Pixels, removed: Mask, at: tuple[int, int], ground: NDArray[np.float32], limits: tuple[int, float]
) -> bool:
    """Whether from a place a way that comes ever nearer to the ground's colour ends beside what was removed."""
    top, left = at
    reach, noise = limits
    nearest = _distance(flat, top, left, ground)
    for _ in range(reach):
        best, best_row, best_column = nearest, top, left
        for near_row in range(max(0, top - 1), min(flat.shape[0], top + 2)):
            for near_column in range(max(0, left - 1), min(flat.shape[1], left + 2)):
                if removed[near_row, near_column]:
                    return True
                distance = _distance(flat, near_row, near_column, ground)
                if distance < best:
                    best, best_row, best_column = distance, near_row, near_column
        if best >= nearest - max(noise, _RISE * nearest):
            return False
        nearest, top, left = best, best_row, best_column
    return False


@compiled
def _distance(flat: Pixels, row: int, column: int, ground: NDArray[np.float32]) -> float:
    """How far a pixel's colour is from the ground's, in RGB."""
    red, green, blue = flat[row, column, 0] - ground[0], flat[row, column, 1] - ground[1], flat[row, column, 2] - ground[2]
    return float(np.sqrt(red * red + green * green + blue * blue))

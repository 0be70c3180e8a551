"""The leaves of a gamut, one for each hue, as gamut mapping asks for them: how far they reach from a point on the gray axis, and
the nearest point of their convex hull.

A leaf is drawn over chroma and lightness. Its focal point lies on the gray axis, as light as its cusp, the colour of most chroma,
but no lighter than a gray rather below the middle: towards the cusp's own lightness a yellow too light to print would turn pale.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.colour.gamut_boundary import GamutBoundary
from filmhand.colour.gamut_space import TURN

Floats = NDArray[np.float64]

_ANGLES: Final = 361
_FOCAL_BLUR: Final = 10.0
"""Degrees of hue over which cusps and focal points are averaged (our own): a cusp jumps where a leaf has two of them."""
_LIGHTEST_FOCAL: Final = 0.4
"""From the darkest gray to the lightest. Of 0.3 to 0.6, and the cusp itself, over five gamuts the one that kept most chroma in
sRGB's yellow and green at a mean ΔE00 within 0.1 of the least (our own)."""
_ROUNDING: Final = 1e-12
_STEEPEST: Final = 6.0
"""Chroma a leaf may gain with each step of lightness above its lower end, when colours are clipped: the plane of the darkest gray
holds colours on one side of it only, and clipped shadows would jump from hue to hue (our own, no source)."""


def blurred(by_hue: Floats, degrees: float) -> Floats:
    """Values (hues, ...) around the circle, averaged by a Gaussian of that standard deviation."""
    hues = len(by_hue)
    away = np.minimum(np.arange(hues), hues - np.arange(hues)) * TURN / hues
    bell = np.exp(-((away / degrees) ** 2) / 2)
    spectrum = np.fft.rfft(bell / bell.sum())
    shaped = spectrum.reshape(-1, *[1] * (by_hue.ndim - 1))
    return np.asarray(np.fft.irfft(np.fft.rfft(by_hue, axis=0) * shaped, n=hues, axis=0))


def smooth_cusps(gamut: GamutBoundary) -> Floats:
    """Lightness and chroma (hues, 2) of the cusps, free of jumps from hue to hue."""
    return blurred(gamut.cusps, _FOCAL_BLUR)


def focal_points(gamut: GamutBoundary) -> Floats:
    """Their lightness (hues,)."""
    lightest = gamut.darkest + _LIGHTEST_FOCAL * (gamut.lightest - gamut.darkest)
    return blurred(np.minimum(gamut.cusps[:, 0], lightest), _FOCAL_BLUR)


def tapered(gamut: GamutBoundary) -> GamutBoundary:
    """The gamut without the flat part of its lower end."""
    most = _STEEPEST * (gamut.lightness - gamut.darkest)
    return GamutBoundary(gamut.darkest, gamut.lightest, np.minimum(gamut.chroma, most[:, None]))


def reach(lightness: Floats, chroma: Floats, focal: Floats) -> Floats:
    """How far (hues, angles) leaves reach from focal lightnesses (hues,), at even steps of angle from down (-90°) to up (90°).

    `lightness`, `chroma` (rows, hues): the leaves' outlines, from their darkest gray to their lightest. Where an outline would be
    met more than once the first meeting counts.
    """
    result = np.full((len(focal), _ANGLES), np.inf)
    _meet_rays(np.ascontiguousarray(lightness), np.ascontiguousarray(chroma), focal, result)
    result[:, 0], result[:, -1] = focal - lightness[0], lightness[-1] - focal
    return np.where(np.isinf(result), 0.0, np.maximum(result, 0))


def by_angle(table: Floats, hue: Floats, angle: Floats) -> Floats:
    """Values (...) of a table (hues, angles) at hues and angles (...), degrees."""
    hues, angles = table.shape
    h, a = hue * hues / TURN, (angle + TURN / 4) * (angles - 1) / (TURN / 2)
    column, row = np.floor(h).astype(int), np.clip(np.floor(a).astype(int), 0, angles - 2)
    along, up = h - column, a - row
    left, right = column % hues, (column + 1) % hues
    below = table[left, row] * (1 - along) + table[right, row] * along
    above = table[left, row + 1] * (1 - along) + table[right, row + 1] * along
    return np.asarray(below * (1 - up) + above * up)


def by_hue(values: Floats, hue: Floats) -> Floats:
    """Values (...) of a circle (hues,) at hues (...), degrees."""
    at = hue * len(values) / TURN
    column = np.floor(at).astype(int)
    along = at - column
    return np.asarray(values[column % len(values)] * (1 - along) + values[(column + 1) % len(values)] * along)


def nearest_in_hull(lch: Floats, gamut: GamutBoundary) -> Floats:
    """For lightness, chroma, hue (m, 3), the nearest colours of the same hue within the convex hull of its leaf."""
    hull = np.ascontiguousarray(gamut.chroma.T.copy())
    _make_convex(hull)
    result = np.ascontiguousarray(lch).copy()
    _pull_in(result, hull, gamut.lightness)
    return result


@compiled
def _meet_rays(lightness: Floats, chroma: Floats, focal: Floats, result: Floats) -> None:
    """Lower `result` (hues, angles) to where rays meet the outlines (rows, hues), closed along the lowest row."""
    rows, hues = chroma.shape
    step = np.pi / (result.shape[1] - 1)
    for h in range(hues):
        one_L, one_C = lightness[0, h] - focal[h], 0.0
        for row in range(rows):
            other_L, other_C = lightness[row, h] - focal[h], chroma[row, h]
            swept = one_C * other_L - one_L * other_C
            begin, end = np.arctan2(one_L, one_C), np.arctan2(other_L, other_C)
            low, high = min(begin, end) + np.pi / 2, max(begin, end) + np.pi / 2
            for a in range(int(np.ceil(low / step - _ROUNDING)), int(np.floor(high / step + _ROUNDING)) + 1):
                slope = a * step - np.pi / 2
                slant = np.cos(slope) * (other_L - one_L) - np.sin(slope) * (other_C - one_C)
                if 0 <= a < result.shape[1] and abs(slant) > _ROUNDING and swept / slant >= 0:
                    result[h, a] = min(result[h, a], swept / slant)
            one_L, one_C = other_L, other_C


@compiled
def _make_convex(leaves: Floats) -> None:
    """Raise the chroma (hues, rows) of leaves on even rows of lightness to that of their convex hulls."""
    hues, rows = leaves.shape
    kept = np.empty(rows, np.int64)
    for h in range(hues):
        leaf = leaves[h]
        count = 0
        for row in range(rows):
            while count > 1:
                first, middle = kept[count - 2], kept[count - 1]
                if (leaf[middle] - leaf[first]) * (row - first) > (leaf[row] - leaf[first]) * (middle - first):
                    break
                count -= 1
            kept[count] = row
            count += 1
        for i in range(count - 1):
            low, high = kept[i], kept[i + 1]
            for row in range(low + 1, high):
                leaf[row] = leaf[low] + (leaf[high] - leaf[low]) * (row - low) / (high - low)


@compiled
def _pull_in(lch: Floats, hull: Floats, lightness: Floats) -> None:
    """Move colours (m, 3) to the nearest points of convex leaves (hues, rows)."""
    hues, rows = hull.shape
    start, pitch = lightness[0], (lightness[-1] - lightness[0]) / (rows - 1)
    leaf = np.empty(rows)
    for i in range(len(lch)):
        L, C, at = lch[i, 0], lch[i, 1], lch[i, 2] * hues / 360.0
        column = int(np.floor(at))
        along = at - column
        left, right = hull[column % hues], hull[(column + 1) % hues]
        row = int(min(max(np.floor((L - start) / pitch), 0), rows - 2))
        down = (L - start) / pitch - row
        if 0 <= down <= 1:
            below = left[row] + along * (right[row] - left[row])
            above = left[row + 1] + along * (right[row + 1] - left[row + 1])
            if below + down * (above - below) >= C:
                continue
        for r in range(rows):
            leaf[r] = left[r] + along * (right[r] - left[r])
        lch[i, 0], lch[i, 1] = _nearest(L, C, leaf, start, pitch)


@compiled
def _nearest(L: float, C: float, leaf: Floats, start: float, pitch: float) -> tuple[float, float]:
    """Lightness and chroma of the nearest point of a convex leaf (rows,) to one outside it."""
    rows = len(leaf)
    best_L, best_C = start, min(C, leaf[0])  # along the lower end
    best = (best_L - L) ** 2 + (best_C - C) ** 2
    for r in range(rows - 1):
        base, rise = start + r * pitch, leaf[r + 1] - leaf[r]
        share = ((L - base) * pitch + (C - leaf[r]) * rise) / (pitch * pitch + rise * rise)
        share = min(max(share, 0.0), 1.0)
        near_L, near_C = base + share * pitch, leaf[r] + share * rise
        away = (near_L - L) ** 2 + (near_C - C) ** 2
        if away < best:
            best, best_L, best_C = away, near_L, near_C
    top_C = min(C, leaf[rows - 1])  # along the upper end
    away = (start + (rows - 1) * pitch - L) ** 2 + (top_C - C) ** 2
    if away < best:
        best_L, best_C = start + (rows - 1) * pitch, top_C
    return best_L, best_C

"""Gamut mapping: colours that cannot be printed become such as can, their hue kept.

After CIE 156:2004 ("Guidelines for the evaluation of gamut mapping algorithms"), in gamut_space.py's lightness, chroma and hue:

* Relative and absolute intent clip, as its HPMINDE does: a colour outside becomes the nearest of its hue, one inside stays. The
  nearest point is sought on the convex hull of the hue's leaf, as in a hollow of the leaf itself it would jump from one side to
  the other; from there the colour moves straight towards the focal point, to the boundary.
* Perceptual intent compresses, as its SGCK does: along lines to the gray that is as light as the hue's cusp, the outer part of
  what the source can reach goes into the outer part of what can be printed. Two departures. SGCK first rescales lightness; here
  black point compensation has already moved the source's black (black_point.py), so only what the source still lies deeper than
  the darkest print is taken up, by the same curve, from the dark tones alone. And SGCK's knee at 0.9 is a corner; here it is
  round, and sets in sooner.
* Saturation intent first lifts or lowers colours, by chroma, so that the source's cusp becomes as light as the print's, then
  compresses alike, and stretches where the source reaches less far than the print (cusp to cusp).

Grays stay gray. A gamut that does not lie all around the gray axis, as with black ink alone, is clipped to by any intent.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.gamut_boundary import GamutBoundary
from filmhand.colour.gamut_leaves import blurred, by_angle, by_hue, focal_cusps, nearest_in_hull, reach
from filmhand.colour.gamut_space import lch_from_xyz, xyz_from_lch
from filmhand.rules import Intent

Floats = NDArray[np.float64]

_KNEE: Final = 0.75
"""Part of the way to the boundary on which nothing moves (our own; CIE 156's corner is at 0.9)."""
_SOURCE_BLUR: Final = 4.0
"""Degrees of hue over which the source's reach beyond the print's is averaged: sRGB's blue ends in a cliff (our own, no source)."""
_LEAST_CUSP: Final = 3.0
"""Chroma that each hue's cusp must have for a gamut to lie around the gray axis."""
_ROUNDING: Final = 1e-9


def mapped(xyz: Floats, *, gamut: GamutBoundary, intent: Intent, source: GamutBoundary) -> Floats:
    """XYZ (..., 3) within `gamut` of XYZ (..., 3), both D50 and relative to film white, Y 1.

    `source`: the gamut that the colours come from, after black point compensation if there is any; clipping does not look at it.
    Colours beyond it go to the boundary. Hue is kept exactly; the map has no jumps and no folds.
    """
    lch = lch_from_xyz(xyz.reshape(-1, 3))
    clips = intent in (Intent.RELATIVE, Intent.ABSOLUTE) or gamut.cusps[:, 1].min() < _LEAST_CUSP
    moved = _clipped(lch, gamut) if clips else _compressed(lch, gamut, source, to_cusp=intent is Intent.SATURATION)
    return xyz_from_lch(moved).reshape(xyz.shape)


def _clipped(lch: Floats, gamut: GamutBoundary) -> Floats:
    """To the nearest of the hull, then on to the boundary."""
    focal = focal_cusps(gamut)[:, 0]
    own = reach(np.broadcast_to(gamut.lightness[:, None], gamut.chroma.shape), gamut.chroma, focal)
    near = nearest_in_hull(lch, gamut)
    F, distance, angle = _polar(near, focal)
    return _placed(near[:, 2], F, np.minimum(distance, by_angle(own, near[:, 2], angle)), angle)


def _compressed(lch: Floats, gamut: GamutBoundary, source: GamutBoundary, *, to_cusp: bool) -> Floats:
    """By the rounded knee, in lightness and then towards the focal points; with `to_cusp` both ways, after lifting."""
    cusps = focal_cusps(gamut)
    focal = cusps[:, 0]
    rows = np.broadcast_to(gamut.lightness[:, None], gamut.chroma.shape)
    own = reach(rows, gamut.chroma, focal)
    fitted_rows = _fitted(source.lightness, gamut, source, grow=to_cusp)
    source_rows = np.broadcast_to(fitted_rows[:, None], source.chroma.shape)
    lift = np.zeros_like(cusps)
    if to_cusp:
        source_cusps = focal_cusps(source)
        lift = np.stack([focal - _fitted(source_cusps[:, 0], gamut, source, grow=True), source_cusps[:, 1]], axis=-1)
    source_rows = source_rows + lift[:, 0] * _share(source.chroma, lift[:, 1])
    beyond = blurred(reach(source_rows, source.chroma, focal) / np.maximum(own, _ROUNDING), _SOURCE_BLUR)
    L = _fitted(lch[:, 0], gamut, source, grow=to_cusp)
    hue = lch[:, 2]
    L = L + by_hue(lift[:, 0], hue) * _share(lch[:, 1], by_hue(lift[:, 1], hue))
    F, distance, angle = _polar(np.stack([L, lch[:, 1], hue], axis=-1), focal)
    there = by_angle(own, hue, angle)
    distance = _kneed(distance, there, there * by_angle(beyond, hue, angle), grow=to_cusp)
    return _placed(hue, F, distance, angle)


def _fitted(lightness: Floats, gamut: GamutBoundary, source: GamutBoundary, *, grow: bool) -> Floats:
    """Lightness (...) with the source's darkest gray brought to the print's, if it is darker; with `grow` in any case."""
    top = gamut.lightest
    depth = np.full(lightness.shape, top - gamut.darkest), np.full(lightness.shape, top - source.darkest)
    return np.asarray(top - _kneed(top - lightness, *depth, grow=grow))


def _kneed(distance: Floats, own: Floats, source: Floats, *, grow: bool) -> Floats:
    """Distances (...) up to `source` brought to up to `own`: the inner part stays, the outer is squeezed along a hyperbola.

    It leaves the inner part at slope 1 and ends at `own`. With `grow` the outer part is stretched likewise where `own` is more.
    """
    end = source if grow else np.maximum(source, own)
    start = _KNEE * np.minimum(own, end)
    span, room = np.maximum(end - start, _ROUNDING), np.maximum(own - start, _ROUNDING)
    past = np.clip(distance - start, 0, span)
    outer = start + past / (1 + (span / room - 1) * past / span)
    return np.where(distance <= start, distance, np.minimum(outer, own))


def _share(chroma: Floats, of: Floats) -> Floats:
    """Chroma as a share of a cusp's, 1 at most."""
    return np.asarray(np.minimum(chroma / np.maximum(of, _ROUNDING), 1))


def _polar(lch: Floats, focal: Floats) -> tuple[Floats, Floats, Floats]:
    """For colours (m, 3): the lightness of their focal point, the distance from it, and the angle, degrees up from level."""
    F = by_hue(focal, lch[:, 2])
    return F, np.hypot(lch[:, 0] - F, lch[:, 1]), np.degrees(np.arctan2(lch[:, 0] - F, lch[:, 1]))


def _placed(hue: Floats, F: Floats, distance: Floats, angle: Floats) -> Floats:
    """Colours (m, 3) back from `_polar`."""
    slope = np.radians(angle)
    return np.stack([F + distance * np.sin(slope), distance * np.maximum(np.cos(slope), 0), hue], axis=-1)

"""Gamut mapping: colours that cannot be printed become such as can, their hue kept.

After CIE 156:2004 ("Guidelines for the evaluation of gamut mapping algorithms"), in gamut_space.py's lightness, chroma and hue:

* Relative and absolute intent clip, as its HPMINDE does: a colour outside becomes the nearest of its hue, one inside stays. The
  nearest point is sought on the convex hull of the hue's leaf, as in a hollow of the leaf itself it would jump from one side to
  the other; from there the colour moves straight towards the focal point, to the boundary.
* Perceptual intent compresses, as its SGCK does: along lines to a focal point on the gray axis, the outer part of what the source
  can reach goes into the outer part of what can be printed. Three departures. SGCK first rescales lightness; here black point
  compensation has already moved the source's black (black_point.py), so only what the source still lies deeper than the darkest
  print is taken up, by the same curve, from the dark tones alone. SGCK's focal points are as light as the cusps; here light ones
  are lowered (gamut_leaves.py). And SGCK's knee at 0.9 is a corner; here it is round, and sets in sooner.
* Saturation intent first lifts or lowers colours, the more the nearer they are to the source's cusp, so that it becomes as light
  as the print's; then it compresses alike, and stretches where the source reaches less far than the print (cusp to cusp).

Grays stay gray. A gamut that does not lie all around the gray axis, as with black ink alone, is clipped to by any intent.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.gamut_boundary import GamutBoundary
from filmhand.colour.gamut_leaves import (
    blurred,
    by_angle,
    by_hue,
    focal_points,
    nearest_in_hull,
    reach,
    smooth_cusps,
    tapered,
)
from filmhand.colour.gamut_space import lch_from_xyz, xyz_from_lch
from filmhand.rules import Intent

Floats = NDArray[np.float64]

_KNEE: Final = 0.8
"""Part of the way to the boundary on which nothing moves (our own; CIE 156's corner is at 0.9)."""
_MOST_STRETCH: Final = 1.15
"""How much further than the source colours may reach by saturation intent; more would draw out its end too steeply (our own)."""
_SOURCE_BLUR: Final = 4.0
"""Degrees of hue over which the source's reach beyond the print's is averaged: sRGB's blue ends in a cliff (our own)."""
_SPARE: Final = 0.1
"""Part added to what the source reaches beyond the print, so that its own edge is not yet cut off (our own)."""
_LEAST_CUSP: Final = 3.0
"""Chroma that each hue's cusp must have for a gamut to lie around the gray axis."""
_ROUNDING: Final = 1e-9


def mapped(xyz: Floats, *, gamut: GamutBoundary, intent: Intent, source: GamutBoundary) -> Floats:
    """XYZ (..., 3) within `gamut` of XYZ (..., 3), both D50 and relative to film white, Y 1.

    `source`: the gamut that the colours come from, after black point compensation if there is any; clipping does not look at it.
    Colours beyond it go to the boundary. Hue is kept exactly, and neighbours stay neighbours.
    """
    lch = lch_from_xyz(xyz.reshape(-1, 3))
    clips = intent in (Intent.RELATIVE, Intent.ABSOLUTE) or gamut.cusps[:, 1].min() < _LEAST_CUSP
    moved = _clipped(lch, gamut) if clips else _compressed(lch, gamut, source, to_cusp=intent is Intent.SATURATION)
    return xyz_from_lch(moved).reshape(xyz.shape)


def _clipped(lch: Floats, gamut: GamutBoundary) -> Floats:
    """To the nearest of the hull, then on to the boundary."""
    target, focal = tapered(gamut), focal_points(gamut)
    near = nearest_in_hull(lch, target)
    hue, (F, distance, angle) = near[:, 2], _polar(near, focal)
    own = reach(_outline(target.lightness, target), target.chroma, focal)
    return _placed(hue, F, np.minimum(distance, by_angle(own, hue, angle)), angle)


def _compressed(lch: Floats, gamut: GamutBoundary, source: GamutBoundary, *, to_cusp: bool) -> Floats:
    """By the rounded knee, in lightness and then towards the focal points; with `to_cusp` both ways, and cusps brought level."""
    focal, hue = focal_points(gamut), lch[:, 2]
    own = reach(_outline(gamut.lightness, gamut), gamut.chroma, focal)
    outline = _outline(_fitted(source.lightness, gamut, source, grow=to_cusp), source)
    lightness = _fitted(lch[:, 0], gamut, source, grow=to_cusp)
    if to_cusp:
        start, end = smooth_cusps(source), smooth_cusps(gamut)[:, 0]
        start[:, 0] = _fitted(start[:, 0], gamut, source, grow=True)
        outline = _levelled(outline, source.chroma, start.T, end, gamut)
        lightness = _levelled(lightness, lch[:, 1], np.stack([by_hue(of, hue) for of in start.T]), by_hue(end, hue), gamut)
    beyond = blurred(reach(outline, source.chroma, focal) / np.maximum(own, _ROUNDING), _SOURCE_BLUR)
    beyond += _SPARE * np.maximum(beyond - 1, 0)
    F, distance, angle = _polar(np.stack([lightness, lch[:, 1], hue], axis=-1), focal)
    there = by_angle(own, hue, angle)
    source_there = there * by_angle(beyond, hue, angle)
    goal = np.minimum(there, _MOST_STRETCH * source_there) if to_cusp else there
    distance = _kneed(distance, goal, source_there, grow=to_cusp)
    return _placed(hue, F, distance, angle)


def _outline(lightness: Floats, gamut: GamutBoundary) -> Floats:
    """Lightness (rows,) for every hue of a gamut (rows, hues)."""
    return np.broadcast_to(lightness[:, None], gamut.chroma.shape)


def _levelled(lightness: Floats, chroma: Floats, cusp: Floats, end: Floats, gamut: GamutBoundary) -> Floats:
    """Lightness (...) after a cusp, (lightness, chroma), was brought to the lightness `end`; grays, black and white stay."""
    start, most = cusp
    from_top = (gamut.lightest - lightness) / np.maximum(gamut.lightest - start, _ROUNDING)
    from_bottom = (lightness - gamut.darkest) / np.maximum(start - gamut.darkest, _ROUNDING)
    share = np.clip(np.minimum(from_top, from_bottom), 0, 1) * np.minimum(chroma / np.maximum(most, _ROUNDING), 1)
    return np.asarray(lightness + (end - start) * share)


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


def _polar(lch: Floats, focal: Floats) -> tuple[Floats, Floats, Floats]:
    """For colours (m, 3): the lightness of their focal point, the distance from it, and the angle, degrees up from level."""
    F = by_hue(focal, lch[:, 2])
    return F, np.hypot(lch[:, 0] - F, lch[:, 1]), np.degrees(np.arctan2(lch[:, 0] - F, lch[:, 1]))


def _placed(hue: Floats, F: Floats, distance: Floats, angle: Floats) -> Floats:
    """Colours (m, 3) back from `_polar`."""
    slope = np.radians(angle)
    return np.stack([F + distance * np.sin(slope), distance * np.maximum(np.cos(slope), 0), hue], axis=-1)

"""A halo: round the motif, a solid ground is not quite its colour, so that taking it away would leave traces.

Three things do so. A shadow, a glow or uneven light goes over into the ground slowly, where a clean motif takes a few pixels. A
rim of another ground, almost of the same colour, runs right around what was cut out with it. Strong JPEG noise stands in flecks
beside the motif. What is near enough to the ground to be taken away with it leaves nothing and is none.
"""

import math
from dataclasses import replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.background import ground_of, ground_region
from filmhand.artwork.ground_region import JPEG_BLOCK, NEAR, Region
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.rays import Rays, rays_across
from filmhand.preflight.finding import Finding, passed_above
from filmhand.preflight.places import Places
from filmhand.rules import OnOpaque, Printer, Rule
from filmhand.words import Phrase

NAME: Final = "halo"

_SEEN: Final = Phrase(
    "Along {share:.0f} % of the motif's outline the background ({colour}) is not one colour "
    "(a shadow, a glow, uneven light, a pale rim or JPEG noise), so taking it away would leave traces."
)
_ADVICE: Final = Phrase(
    "Please send the motif with a transparent background, or on one even colour, as PNG and without shadows or glows."
)

_EDGE_PX: Final = 5
"""An edge is over within this many pixels: antialiasing takes one, resampling and a lens a few."""

_OUTWARD_PX, _INWARD_PX = 4, 40
_MOST_OF_IT: Final = 0.5
_LEAST_STEP: Final = NEAR / 2
_LEVEL: Final = 0.25
"""Behind its edge, a pale shape that was drawn varies by less than this share of the edge's rise."""

_PALE: Final = 8.0
"""A rim no further than this (ΔE00) from the ground is hard to see on it, and nobody draws one; on a garment it is plain."""
_RIM_MM, _RIM_PX = 2.5, 120
"""Rims are no wider than this; pale borders that are drawn, such as a sticker's, are: common practice, no source."""
_IN_RIM: Final = 2
"""So many pixels inward its own edge is over."""
_STRONGER: Final = 2.0
"""The motif behind a rim is this many times as far from the ground."""
_EVEN, _EVEN_PX = 0.25, 1.5
"""Around one motif a rim's width and colour vary by no more than this share, or these pixels: shapes of their own do."""
_ALL_AROUND: Final = 0.5
"""Share of the outline along which it runs."""

_MOTIF: Final = 6 * NEAR
_EDGE_REACH: Final = 2
_FLECK_PX: Final = 5
"""JPEG's flecks are paler than a motif that makes them, further than its edge from it, within a block, and narrower than this."""

_MOST_PX: Final = 25_000_000
_MOST_RAYS: Final = 20_000


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The share of the motif's outline, in percent, along which its ground is not one colour. A ground to be printed may be."""
    tolerance = rule.background.tolerance
    if rule.background.opaque is OnOpaque.PRINT or (ground := ground_of(sample := _sampled(artwork), tolerance)) is None:
        return ()
    region = ground_region(sample, ground, tolerance)
    rim_px = min(_RIM_PX, int(units.mm_to_px(_RIM_MM, size.effective_ppi(sample))))
    rays = rays_across(~region.removed, outward_px=_OUTWARD_PX, inward_px=max(_INWARD_PX, rim_px + _EDGE_PX), most=_MOST_RAYS)
    if not rays.rows.size:
        return ()
    across = region.distance[rays.rows, rays.columns].astype(np.float32)
    pale = min(_PALE * NEAR / max(tolerance, 0.01), _MOTIF)
    is_halo = _is_slow(across[:, rays.steps <= _INWARD_PX]) | _is_rim(across[:, rays.steps >= 0], rim_px, pale)
    is_halo |= _has_flecks(region, rays)
    share = 100 * float(np.mean(is_halo))
    passed = passed_above(rule.preflight.halo, share)
    if passed is None:
        return ()
    rows, columns = rays.places
    places = Places(sample.height_px, sample.width_px)
    places.add_at(rows[is_halo], columns[is_halo])
    message = _SEEN(share=share, colour=ground.hex)
    return (Finding(NAME, passed[0], message, _ADVICE(), share, passed[1], "%", places.boxes()),)


def _sampled(artwork: Artwork) -> Artwork:
    """The artwork, or an even grid of its pixels where it has very many; a shadow or a glow of so fine a picture is wide."""
    step = math.ceil(math.sqrt(artwork.height_px * artwork.width_px / _MOST_PX))
    return artwork if step == 1 else replace(artwork, pixels=np.ascontiguousarray(artwork.pixels[::step, ::step]))


def _is_slow(across: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Which rays (n×k, `Region.distance` from outside inward) do not rise from the ground, within an edge's width, to most of
    what they reach before the next ground."""
    inside, ground = across[:, _OUTWARD_PX:], across[:, 0]
    inside = np.where(np.logical_or.accumulate(inside <= NEAR, axis=1), 0, inside)
    at_edge, in_all = inside[:, :_EDGE_PX].max(axis=1) - ground, inside.max(axis=1) - ground
    is_level = np.ptp(inside[:, 2 : _EDGE_PX + 1], axis=1) <= _LEVEL * at_edge
    return np.asarray((at_edge < _LEAST_STEP) | ~(is_level | (at_edge >= _MOST_OF_IT * in_all)))


def _is_rim(inside: NDArray[np.float32], most_px: int, pale: float) -> NDArray[np.bool_]:
    """Which rays (n×k, `Region.distance` from the outline inward) cross a pale rim of one width and colour all around."""
    level = inside[:, _IN_RIM]
    width = np.argmax(inside > _STRONGER * level[:, None], axis=1)
    may_be = (level > NEAR) & (level <= pale) & (width > _IN_RIM) & (width <= most_px)
    if not may_be.any():
        return np.asarray(may_be)
    for values, least in ((width, _EVEN_PX), (level, 0.0)):
        middle = np.median(values[may_be])
        may_be &= np.abs(values - middle) <= max(_EVEN * middle, least)
    return np.asarray(may_be if np.mean(may_be) >= _ALL_AROUND else np.zeros_like(may_be))


def _has_flecks(region: Region, rays: Rays) -> NDArray[np.bool_]:
    """Which places on the outline (n) have flecks of JPEG's noise beside them that would be left, or are such flecks."""
    left, motif = ~region.removed, region.distance >= _MOTIF
    body = np.asarray(cv2.morphologyEx(left.view(np.uint8), cv2.MORPH_OPEN, _square(_FLECK_PX)), np.uint8)
    flecks = left & _widened(motif, JPEG_BLOCK) & ~_widened(motif, _EDGE_REACH) & ~_widened(body.view(np.bool_), _EDGE_REACH)
    return np.asarray(_widened(flecks, JPEG_BLOCK)[rays.places])


def _widened(mask: NDArray[np.bool_], reach: int) -> NDArray[np.bool_]:
    """A mask with all that is so many pixels from it."""
    return np.asarray(cv2.dilate(mask.view(np.uint8), _square(2 * reach + 1)), np.uint8).view(np.bool_)


def _square(side: int) -> NDArray[np.uint8]:
    return np.ones((side, side), np.uint8)

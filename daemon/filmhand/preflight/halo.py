"""A halo: round the motif, a solid ground is not quite its colour, so that taking it away would leave traces.

Shadows, glows, uneven light and strong JPEG noise do so. A clean motif goes over into its ground within a few pixels.
"""

import math
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.background import ground_of, ground_region, is_opaque
from filmhand.artwork.ground_region import NEAR, Region
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.rays import Rays, rays_across
from filmhand.preflight.finding import Finding, passed_above
from filmhand.preflight.places import Places
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "halo"

_SEEN: Final = Phrase(
    "Along {share:.0f} % of the motif's outline the background ({colour}) is not one colour "
    "(a shadow, a glow, uneven light or JPEG noise), so taking it away would leave traces."
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

_MOST_PX: Final = 25_000_000
_MOST_RAYS: Final = 20_000


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The share of the motif's outline, in percent, along which it goes over into its ground slowly. Opaque artwork only."""
    tolerance = rule.background.tolerance
    if not is_opaque(artwork) or (ground := ground_of(sample := _sampled(artwork), tolerance)) is None:
        return ()
    region = ground_region(sample, ground, tolerance)
    rays = rays_across(~region.removed, outward_px=_OUTWARD_PX, inward_px=_INWARD_PX, most=_MOST_RAYS)
    if not rays.rows.size:
        return ()
    is_halo = ~_is_edge(region, rays)
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


def _is_edge(region: Region, rays: Rays) -> NDArray[np.bool_]:
    """Which rays (n) rise from the ground, within an edge's width, to most of what they reach before the next ground."""
    distance = region.distance[rays.rows, rays.columns].astype(np.float32)
    inside = distance[:, rays.steps >= 0]
    inside = np.where(np.logical_or.accumulate(inside <= NEAR, axis=1), 0, inside)
    ground = distance[:, 0]
    at_edge, in_all = inside[:, :_EDGE_PX].max(axis=1) - ground, inside.max(axis=1) - ground
    is_level = np.ptp(inside[:, 2 : _EDGE_PX + 1], axis=1) <= _LEVEL * at_edge
    return np.asarray((at_edge >= _LEAST_STEP) & (is_level | (at_edge >= _MOST_OF_IT * in_all)))

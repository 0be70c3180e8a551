"""A fringe: the thin rim of another ground's colour that a careless cut-out leaves round the motif.

Three ways to it: the ground was taken away pixel by pixel and what was mixed with it stayed; edges are half transparent but
still hold the ground's colour; or colours were multiplied with transparency when saved, which is a black ground's fringe.
What is meant is told apart by its width: a drawn outline is wider, or a full line of its own colour.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.background import is_opaque
from filmhand.artwork.colours import hex_of
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.rays import rays_across
from filmhand.preflight.finding import Finding, passed_above
from filmhand.preflight.grid import FILM_ALPHA
from filmhand.preflight.places import Places
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase, Words

NAME: Final = "fringe"

_SEEN_LIGHT: Final = Phrase(
    "A thin light rim ({colour}) runs along {share:.0f} % of the motif's outline, left over from a light background; "
    "it shows on a darker garment."
)
_SEEN_DARK: Final = Phrase(
    "A thin dark rim runs along {share:.0f} % of the motif's outline, left over from a black background, "
    "or because the file was saved with colours multiplied by transparency; it shows on a lighter garment."
)
_SEEN: Final = Phrase(
    "A thin rim of another colour ({colour}) runs along {share:.0f} % of the motif's outline, left over from its old background."
)
_ADVICE: Final = Phrase(
    "Please cut the motif out a little tighter (most programs call it removing fringes or a matte), "
    "or send the original with its layers."
)

_THIN_PX, _THIN_MM, _MEANT_MM = 2, 0.3, 1.0
"""A fringe is no wider than this many of the file's pixels, or millimetres; and wider than the last, a line is meant."""

_REFERENCE_PX: Final = 3
_LEAST_ALPHA: Final = 40
"""Below this, too few of a colour's levels are left to tell it."""
_FADED: Final = 26
_SOLID: Final = 250

_SEEN_STEP: Final = 24.0
"""A step of RGB (Euclidean, times opacity) that is seen as a rim: about ΔE00 8 in middle tones."""
_FLAT: Final = 1 / 3
"""Inside the rim, the motif varies by less than this share of the step, or nothing can be told from it."""
_ALONG: Final = 0.92
"""Cosine between a rim's shift in RGB and the way to the ground's colour."""
_FAR_ENOUGH: Final = 60.0
_AGREE: Final = 0.75
"""Share of all thin rims that lean to one colour where there was a ground; those of a picture's own detail do not agree."""
_THROUGHOUT: Final = 0.25
"""Share of the outline that leans to the ground, of all that would show it: a ground lay all around. Where drawn shapes lie on
one another, edge to edge, the lower one's colour shows in the mixed pixels too, but along that edge only."""
_FULL: Final = 0.8
"""A rim that is solid and at least this much of the ground's colour may be a line that was drawn."""
_LINE_PX, _LINE_MM = 4, 0.3
"""It is one from either width on, where it is not white. Thinner, no hand sets it on purpose, for it would hardly print:
common practice, no source. A selection some pixels too large leaves such rims."""
_LINE_OFF_PX: Final = 0.3
"""A line across the grid of pixels measures this much less than it is wide, at most."""

_DARK, _LIGHT = 64, 192

_MOST_RAYS: Final = 20_000
_LEAST_RAYS: Final = 30

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class _Rims:
    """n places on the outline where the edge is sharp. `inside`, `rim`: n×3, the motif's colour, and what differs most from it
    at the edge. `alpha`: n, 0 to 1, there. `width_px`: n, of the rim, what is mixed counted by its share. `is_thin`: n, it is
    seen, thin, and the motif behind plain enough to tell."""

    inside: Floats
    rim: Floats
    alpha: Floats
    width_px: Floats
    is_thin: Mask
    rows: NDArray[np.intp]
    columns: NDArray[np.intp]


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The share of the outline, in percent, along which a thin rim leans towards one ground's colour."""
    ppi = size.effective_ppi(artwork)
    if is_opaque(artwork) or units.mm_to_px(_MEANT_MM, ppi) < 1:
        return ()
    thin_px = min(max(_THIN_PX, int(units.mm_to_px(_THIN_MM, ppi))), max(1, int(units.mm_to_px(_MEANT_MM, ppi))))
    rims = _rims(artwork, thin_px)
    if rims.rows.size < _LEAST_RAYS:
        return ()
    ground = max(_grounds(rims), key=lambda each: np.count_nonzero(_leaning(rims, each)))
    leaning = _leaning(rims, ground)
    is_fringe = leaning & ~_is_line(rims, ground, min(_LINE_PX, units.mm_to_px(_LINE_MM, ppi)))
    share = 100 * float(np.mean(is_fringe))
    passed = passed_above(rule.preflight.fringe, share)
    if passed is None or not _agree(rims, ground, leaning):
        return ()
    places = Places(artwork.height_px, artwork.width_px)
    places.add_at(rims.rows[is_fringe], rims.columns[is_fringe])
    return (Finding(NAME, passed[0], _seen(ground, share), _ADVICE(), share, passed[1], "%", places.boxes()),)


def _rims(artwork: Artwork, thin_px: int) -> _Rims:
    """What lies along the outline, where the edge is sharp and the motif thick enough to have an inside."""
    motif = artwork.pixels[..., 3] >= FILM_ALPHA
    rays = rays_across(motif, outward_px=thin_px + 1, inward_px=thin_px + _REFERENCE_PX, most=_MOST_RAYS)
    seen = artwork.pixels[rays.rows, rays.columns]
    alpha = np.where(rays.is_within, seen[..., 3], 0)
    colour = seen[..., :3].astype(np.float32)
    is_behind = rays.steps > thin_px
    inside = colour[:, is_behind].mean(axis=1)
    varies = np.abs(colour[:, is_behind] - inside[:, None]).max(axis=(1, 2))
    step = np.where(alpha >= _LEAST_ALPHA, np.linalg.norm(colour - inside[:, None], axis=-1), 0)[:, ~is_behind]
    shown = step * alpha[:, ~is_behind] / 255
    at = np.argmax(shown, axis=1)
    each = np.arange(at.size)
    most, is_seen = step[each, at], shown[each, at] >= _SEEN_STEP
    width = np.count_nonzero(step > most[:, None] / 2, axis=1)
    is_sharp = (alpha[:, 0] < _FADED) & np.all(alpha[:, is_behind] >= _SOLID, axis=1)
    is_thin = is_seen & (width <= thin_px + 1) & (varies <= _FLAT * most)
    width_px = shown.sum(axis=1) / np.maximum(most, 1)
    of_all: tuple[NDArray[Any], ...] = (
        inside,
        colour[each, at],
        alpha[each, at] / np.float32(255),
        width_px,
        is_thin,
        *rays.places,
    )
    return _Rims(*(values[is_sharp] for values in of_all))


def _grounds(rims: _Rims) -> tuple[Floats, ...]:
    """The grounds that the rims may come from: white, black, the one that half-transparent rims were mixed with, and what the
    strongest of the solid rims show.

    C = a·F + (1 - a)·G, as it would be over the ground G (Porter and Duff 1984, "Compositing Digital Images").
    """
    grounds = [np.full(3, 255, np.float32), np.zeros(3, np.float32)]
    mixed = rims.is_thin & (rims.alpha < _FULL)
    if np.count_nonzero(mixed) >= _LEAST_RAYS:
        alpha = rims.alpha[mixed, None]
        mixed_with = (rims.rim[mixed] - alpha * rims.inside[mixed]) / (1 - alpha)
        grounds.append(np.clip(np.median(mixed_with, axis=0), 0, 255).astype(np.float32))
    solid = np.flatnonzero(rims.is_thin & ~mixed)
    if solid.size >= _LEAST_RAYS:
        by_step = np.argsort(np.linalg.norm(rims.rim[solid] - rims.inside[solid], axis=1))
        grounds.append(np.median(rims.rim[solid[by_step[-solid.size // 10 :]]], axis=0).astype(np.float32))
    return tuple(grounds)


def _leaning(rims: _Rims, ground: Floats) -> Mask:
    """Which thin rims (n) lean from the motif's own colour towards a ground's."""
    along, far = _towards(rims, ground)
    leans = (along >= _ALONG * np.linalg.norm(rims.rim - rims.inside, axis=1)) & (far >= _FAR_ENOUGH)
    return np.asarray(rims.is_thin & leans)


def _agree(rims: _Rims, ground: Floats, leaning: Mask) -> bool:
    """Whether enough of the rims lean to the ground for it to have lain all around."""
    _, far = _towards(rims, ground)
    leans, would_show = np.count_nonzero(leaning), np.count_nonzero(far >= _FAR_ENOUGH)
    return bool(leans >= _AGREE * np.count_nonzero(rims.is_thin) and leans >= _THROUGHOUT * would_show)


def _is_line(rims: _Rims, ground: Floats, line_px: float) -> Mask:
    """Which rims (n) are of a line that was drawn: solid, in the full colour, mostly as wide as one. A white one is a fringe."""
    along, far = _towards(rims, ground)
    is_full = rims.is_thin & (rims.alpha >= _SOLID / 255) & (along >= _FULL * far)
    is_line = not np.all(ground >= _SOLID) and is_full.any() and np.median(rims.width_px[is_full]) >= line_px - _LINE_OFF_PX
    return is_full if is_line else np.zeros_like(is_full)


def _towards(rims: _Rims, ground: Floats) -> tuple[Floats, Floats]:
    """How far (n, in RGB) rims lie from the motif's own colour along the way to a ground's, and how long that way is."""
    way = ground - rims.inside
    far = np.linalg.norm(way, axis=1)
    return np.sum((rims.rim - rims.inside) * way, axis=1) / np.maximum(far, 1), far


def _seen(ground: Floats, share: float) -> Words:
    if np.all(ground <= _DARK):
        return _SEEN_DARK(share=share)
    colour = hex_of(np.rint(ground).astype(np.uint8))
    return (_SEEN_LIGHT if np.all(ground >= _LIGHT) else _SEEN)(share=share, colour=colour)

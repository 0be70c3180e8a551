"""The same artwork as full film: what it would come to without knockout and halftone of coverage, on one even layer of white."""

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from filmhand.artwork.model import Artwork
from filmhand.rules import WHITE, Rule
from filmhand.separation.film_sums import Counting, FilmSums, bands, sums_of
from filmhand.separation.model import Separation

_SOLID_FROM: Final = 128
"""Alpha from which full film is solid; under it there is none."""


def full_film_rule(rule: Rule) -> Rule:
    """The same rule with no knockout."""
    return rule.model_copy(update={"knockout": rule.knockout.model_copy(update={"strength": 0.0})})


def is_full_film(artwork: Artwork, rule: Rule) -> bool:
    """Whether the rule leaves nothing out and thins nothing, and the artwork asks for no partial film itself."""
    alpha = artwork.pixels[..., 3]
    is_plain = rule.knockout.strength == 0 and rule.underbase.tolerance == 0
    return is_plain and not bool(((alpha > 0) & (alpha < 255)).any())  # noqa: PLR2004


def full_film_sums(
    artwork: Artwork, separated: Callable[[Artwork], Separation], counting: Counting, *, white_density: float
) -> FilmSums:
    """What the artwork at print resolution comes to as full film; `separated` separates a part of it, by `full_film_rule`.

    Without halftone of coverage film is there or not: solid wherever the artwork is at least half opaque, none elsewhere. That is
    what a shop does that does not screen its film (common practice, no source). The white is even, of the rule's density in
    percent; a second white stays where the rule lays it, for nobody lays two layers everywhere. No plane of the whole is made.
    """
    even = _with_even_white(counting, round(255 * white_density / 100))
    sums = None
    for near, own in bands(artwork.height_px, counting.choke_px):
        pixels = artwork.pixels[near].copy()
        alpha = artwork.pixels[near, :, 3]
        pixels[..., 3] = np.where(alpha >= _SOLID_FROM, 255, 0)
        part = sums_of(separated(replace(artwork, pixels=pixels)), alpha, own, even)
        sums = part if sums is None else sums + part
    assert sums is not None
    return sums


def _with_even_white(counting: Counting, tone: int) -> Counting:
    """Counts white of one tone wherever there is film, whatever tones it was separated to."""
    curve = np.full(256, counting.curves[WHITE][tone])
    return replace(counting, curves={**counting.curves, WHITE: curve})

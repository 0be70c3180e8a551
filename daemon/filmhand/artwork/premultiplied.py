"""Colour that was multiplied by its alpha and stored as if it were not: edges and glows look dirty on all but black. Pure."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.rgba import straight
from filmhand.artwork.source import ALPHA, bands
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase

# Shares and numbers here: common practice, no source; tried on drawings and photographs of both sorts.
_ROUNDING: Final = 1
_LEAST_ALPHA, _MOST_ALPHA = 8, 96
"""Where alpha is low, multiplied colours are dark and straight ones need not be; an even panel of higher alpha tells nothing."""
_LEAST_PIXELS: Final = 64
_MOST_BRIGHTER: Final = 0.002
"""Of these pixels, so many may be brighter than their alpha: multiplied ones never are, resampled ones hardly."""
_LEAST_LIGHT: Final = 24
_LEAST_BRIGHT: Final = 0.01
"""So many must be more than half as bright as their alpha, and not dark, for which it makes no difference."""

_SEEN: Final = Phrase("Colours under transparency were stored darkened, as if on black; they were brightened again.")
_ADVICE: Final = Phrase(
    "Please compare the edges on the proof with your artwork. "
    "For next time: export a PNG with straight (not premultiplied) transparency."
)


def is_premultiplied(pixels: NDArray[np.uint8]) -> bool:
    """Whether h×w×4 uint8 pixels, said to be straight, have colours that were multiplied by alpha.

    Then no channel is brighter than alpha anywhere. Dark artwork meets that too, so the colours have to be bright for their alpha
    where that is low; straight colours do not follow alpha down.
    """
    low, brighter, bright = 0, 0, 0
    for top, bottom in bands(pixels.shape[0]):
        alpha = pixels[top:bottom, :, 3]
        is_low = (alpha >= _LEAST_ALPHA) & (alpha <= _MOST_ALPHA)
        level = alpha[is_low].astype(np.int16)
        light = pixels[top:bottom][is_low][:, :3].max(axis=1).astype(np.int16)
        low += level.size
        is_brighter = light > level + _ROUNDING
        brighter += int(np.count_nonzero(is_brighter))
        bright += int(np.count_nonzero((2 * light >= level) & (light >= _LEAST_LIGHT) & ~is_brighter))
        if brighter > _LEAST_PIXELS + _MOST_BRIGHTER * pixels.shape[0] * pixels.shape[1]:
            return False
    return low >= _LEAST_PIXELS and brighter <= _MOST_BRIGHTER * low and bright >= _LEAST_BRIGHT * low


def made_straight(pixels: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], Finding]:
    """The pixels with their colours divided by alpha, and the finding that says so."""
    mended = np.empty_like(pixels)
    for top, bottom in bands(pixels.shape[0]):
        band = pixels[top:bottom]
        mended[top:bottom, :, :3] = straight(band[..., :3], band[..., 3])
        mended[top:bottom, :, 3] = band[..., 3]
    return mended, Finding(ALPHA, Severity.WARN, _SEEN(), _ADVICE())

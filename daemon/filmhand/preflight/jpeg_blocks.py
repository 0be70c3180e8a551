"""Strong JPEG compression whose blocks show, also where the picture was saved in another format since."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight import blocks, tones
from filmhand.preflight.enlarged import enlargement
from filmhand.preflight.finding import Finding, passed_above
from filmhand.preflight.places import Places
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "jpeg_blocks"

_SIDE, _PARTS = 240, 40
"""Parts looked at: two million pixels, all of a small picture and a fair sample of a large one."""

_CROWD: Final = 0.3
"""Share of the 5×5 blocks around one that must show for it to be marked."""

_SEEN: Final = Phrase("Small square blocks of strong JPEG compression show in {share:.0f} % of the picture.")
_ADVICE: Final = Phrase(
    "They will be seen in the print. Please send the original, or save it once from the original at high quality or as PNG; "
    "saving this file anew does not take them away."
)


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The share of the artwork's blocks whose borders show, less what chance shows, against the rule's `jpeg_blocks`."""
    share, places = max((_shown(artwork, factor) for factor in {1.0, enlargement(artwork)}), key=lambda found: found[0])
    passed = passed_above(rule.preflight.jpeg_blocks, share)
    if passed is None:
        return ()
    return (Finding(NAME, passed[0], _SEEN(share=share), _ADVICE(), share, passed[1], "%", places.boxes()),)


def _shown(artwork: Artwork, factor: float) -> tuple[float, Places]:
    """In what share of the artwork, in %, blocks of a JPEG show that was then enlarged by a factor; and where."""
    places = Places(*artwork.pixels.shape[:2])
    shown = chance = looked = 0.0
    for top, left in tones.parts(artwork.pixels, side=_SIDE, most=_PARTS, flat=True):
        square = artwork.pixels[top : top + _SIDE, left : left + _SIDE]
        shows, by_chance, corner = blocks.showing(blocks.at_scale(tones.tones(square), factor))
        rows, columns = (_middles(shows.shape[axis], corner[axis], factor) for axis in (0, 1))
        seen = square[np.ix_(rows, columns)][..., 3] > 0
        shown += np.count_nonzero(shows & seen)
        chance += by_chance * np.count_nonzero(seen)
        looked += np.count_nonzero(seen)
        marked = np.zeros((_SIDE, _SIDE), np.bool_)
        marked[np.ix_(rows, columns)] = _crowded(shows & seen)
        places.add(marked, top, left)
    return 100 * max(0.0, shown - chance) / max(1.0, looked - chance), places


def _crowded(shows: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Those of the blocks that show among others: one alone shows by chance."""
    return np.asarray(shows & (cv2.blur(shows.astype(np.float32), (5, 5)) >= _CROWD))


def _middles(count: int, first: int, factor: float) -> NDArray[np.intp]:
    """The middle pixels of so many blocks from a first one, in a part as it came."""
    middles = (first + blocks.BLOCK * (np.arange(count) + 0.5)) * factor
    return np.asarray(np.minimum(middles, _SIDE - 1), np.intp)

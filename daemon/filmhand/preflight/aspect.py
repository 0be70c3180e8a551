"""An ordered width and height whose proportions are not the artwork's: it is printed in its own, inside what was ordered."""

from typing import Final

from filmhand.artwork.model import Artwork
from filmhand.artwork.size import Shape
from filmhand.preflight.finding import Finding, passed_above
from filmhand.rules import Limits
from filmhand.words import Phrase

NAME: Final = "aspect"

_SEEN: Final = Phrase(
    "The order says {width:.0f} × {height:.0f} mm, but the artwork has other proportions; "
    "it is printed as large as fits inside, {fitted_width:.0f} × {fitted_height:.0f} mm."
)
_ADVICE: Final = Phrase(
    "Nothing is stretched. Please check the size that you ordered, or whether this is the artwork you meant, or send it in those "
    "proportions."
)


def check(artwork: Artwork, *, ordered: tuple[float, float] | None, limits: Limits) -> tuple[Finding, ...]:
    """How far, in percent, the proportions of an `ordered` width and height (mm) are from the artwork's, against limits.

    None was ordered where the order names one of them, or neither: then nothing can be wrong.
    """
    if ordered is None:
        return ()
    width, height = ordered
    own = Shape.of(artwork).aspect
    off = 100 * (max(width / height / own, own * height / width) - 1)
    passed = passed_above(limits, off)
    if passed is None:
        return ()
    fitted_width = min(width, height * own)
    message = _SEEN(width=width, height=height, fitted_width=fitted_width, fitted_height=fitted_width / own)
    return (Finding(NAME, passed[0], message, _ADVICE(), off, passed[1], "%"),)

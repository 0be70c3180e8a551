"""True resolution: artwork that was enlarged before it came has more pixels than detail."""

from typing import Final

from filmhand.artwork.model import DRAWINGS, Artwork, PrintedSize
from filmhand.preflight import spectrum, tones
from filmhand.preflight.finding import Finding, passed_below
from filmhand.preflight.repeated import MOST_FACTOR, changing, repeated_factor
from filmhand.preflight.sharpness import changes_in_a_row, is_flat, sharpest, softness
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "enlarged"

_PARTS: Final = 20
"""Parts looked at: enough to speak for the picture, few enough to take a moment."""

_LEAST_CHANGING: Final = 1 / 8
"""Share of columns and rows that change: with fewer, a plain pattern's few hard edges look like the repeats of a spectrum."""

_STEEPEST: Final = 1.35
"""Enlarged f times, an edge has at most 1.25/f of its change in one step, by Lanczos, and a JPEG's noise (tests)."""

_SHARP: Final = 0.6
"""However large the factor seems, what is softer than this may be an enlargement: fine texture makes wide edges look steeper."""

_AT_ONCE_AGAIN: Final = 0.12
"""Repeating pixels f times leaves 2 - f of the changes next to another (runs of one pixel and of two), and none from 2 on; JPEG
leaves a few. Smoothed edges of flat colours, as programs draw them, change twice in a row."""

_SEEN: Final = Phrase(
    "At the printed size the picture has {ppi:.0f} pixels an inch, but it was enlarged about {factor:.2g} times before it came: "
    "its detail is that of {true_ppi:.0f}."
)
_ADVICE: Final = Phrase(
    "It will look soft or show steps. Please send the original, as it was before it was enlarged, or a finer one; "
    "enlarging adds pixels, not detail."
)


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The effective resolution less what an enlargement added, against the rule's `true_ppi`.

    Not of a drawing: drawing it has enlarged the pictures in it, and their own resolution is known (resolution.py).
    """
    ppi = size.effective_ppi(artwork)
    limits = rule.preflight.true_ppi
    if artwork.kind in DRAWINGS or passed_below(limits, ppi / MOST_FACTOR) is None:
        return ()
    factor = enlargement(artwork)
    passed = passed_below(limits, ppi / factor)
    if factor == 1 or passed is None:
        return ()
    severity, limit = passed
    message = _SEEN(ppi=ppi, factor=factor, true_ppi=ppi / factor)
    return (Finding(NAME, severity, message, _ADVICE(), ppi / factor, limit, "ppi"),)


def enlargement(artwork: Artwork) -> float:
    """How many times the artwork was enlarged before it came; 1 where nothing tells of it, or its edges tell that it was not."""
    side = spectrum.SIDE if min(artwork.pixels.shape[:2]) >= spectrum.SIDE else spectrum.SIDE // 2
    corners = tones.parts(artwork.pixels, side=side, most=_PARTS)
    parts = [artwork.pixels[top : top + side, left : left + side] for top, left in corners]
    squares = [tones.tones(part) for part in parts]
    repeated = repeated_factor(squares)
    if repeated > 1 and (not is_flat(parts) or changes_in_a_row(parts) <= max(0.0, 2 - repeated) + _AT_ONCE_AGAIN):
        return repeated
    smooth = spectrum.smooth_factor(squares) if changing(squares) >= _LEAST_CHANGING else 1.0
    if smooth == 1:
        return softness(parts)
    sharp = sharpest(parts)
    return 1.0 if sharp is not None and sharp > max(_STEEPEST / smooth, _SHARP) else smooth

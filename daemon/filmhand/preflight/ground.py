"""Opaque artwork: a filled rectangle, whose background would be printed."""

from typing import Final

from filmhand.artwork.background import GROUND, Ground, ground_of, is_opaque
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.colour import black_point, ciede2000, cielab, srgb
from filmhand.preflight.finding import Box, Finding, Severity
from filmhand.rules import OnOpaque, Printer, Rule
from filmhand.words import Phrase

NAME: Final = GROUND

_SEEN_GROUND: Final = Phrase(
    "The artwork has a solid background ({colour}) and no transparency, so it would print as a filled rectangle."
)
_SEEN_PICTURE: Final = Phrase("The artwork has no transparency, so it would print as a filled rectangle.")
_CANNOT_REMOVE: Final = Phrase(
    "The artwork has no transparency, so it would print as a filled rectangle; "
    "there is no single background colour that could be taken away."
)
_ADVICE: Final = Phrase("If only the motif is wanted, please send it with a transparent background (PNG, PDF, TIFF or WebP).")
_BARE: Final = Phrase("The artwork's background ({colour}) is shown by the bare garment, so it is not printed.")

_WHOLE: Final = (Box(0.0, 0.0, 1.0, 1.0),)

_SEVERITY: Final = {
    OnOpaque.PRINT: Severity.NOTE,
    OnOpaque.HOLD: Severity.HOLD,
    OnOpaque.REJECT: Severity.REJECT,
    OnOpaque.REMOVE: Severity.HOLD,  # asked to remove it, but opening found no ground to remove
}


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """What the rule says of artwork without transparency, with the percentage of its border that has one colour, if it has.

    A ground that a full knockout leaves bare is no fault. The whole is marked: a ground goes all around its motif.
    """
    if not is_opaque(artwork):
        return ()
    ground = ground_of(artwork, rule.background.tolerance)
    share = None if ground is None else 100 * ground.share
    if ground is not None and _is_left_bare(artwork, ground, rule):
        return (Finding(NAME, Severity.NOTE, _BARE(colour=ground.hex), None, share, None, "%"),)
    message = _SEEN_PICTURE() if ground is None else _SEEN_GROUND(colour=ground.hex)
    if ground is None and rule.background.opaque is OnOpaque.REMOVE:
        message = _CANNOT_REMOVE()
    unit = "" if ground is None else "%"
    return (Finding(NAME, _SEVERITY[rule.background.opaque], message, _ADVICE(), share, None, unit, _WHOLE),)


def _is_left_bare(artwork: Artwork, ground: Ground, rule: Rule) -> bool:
    """Whether the knockout leaves this ground out: at full strength, what is no further from the garment than it tolerates.

    With black point compensation a garment that stands for black shows black, and all that lies between, bare (wanted.py).
    """
    if rule.knockout.strength < 1 or rule.knockout.least_coverage > 0 or artwork.profile is not None:
        return False
    colour, garment = (cielab.lab_from_xyz(srgb.xyz_of_hex(one)) for one in (ground.hex, rule.garment))
    if rule.colour.black_point_compensation and black_point.stands_for_black(garment):
        garment = black_point.nearest_towards_black(colour, garment)
    return float(ciede2000.difference(colour, garment)) <= rule.knockout.tolerance

"""Which of the shop's named colours are in the artwork, and how near the print will come to each."""

from collections.abc import Iterable, Mapping
from typing import Final

from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase

NAME: Final = "named_colours"

FAR: Final = 2.0
"""ΔE00 above which a miss is warned of: two prints side by side then look different (common practice, no source)."""
_MOST_NAMES: Final = 8

_NEAR: Final = Phrase("These named colours are in the artwork, and the inks come as near to each as they can: {colours}.")
_MISSED: Final = Phrase("The printer's inks cannot quite reach these named colours of the artwork: {colours}.")
_ADVICE: Final = Phrase("Please look at a print of it before you order many.")
_BARE: Final = Phrase("These named colours are so near to the garment's own that it is left bare there: {colours}.")
_SPOTS: Final = Phrase(
    "Full tints of these spot colours are printed by the shop's own mixture, lighter ones by that which the PDF gives: {colours}."
)


def check(misses: Mapping[str, float], *, bare: tuple[str, ...], spots: Iterable[str]) -> tuple[Finding, ...]:
    """Notes on named colours: printed, with the ΔE00 by which the print misses each (a warning above 2), and left bare.

    `spots`: the spot colours of a PDF that are printed as named ones.
    """
    near = [name for name in misses if misses[name] <= FAR]
    far = [name for name in misses if misses[name] > FAR]
    findings = []
    if near:
        findings.append(Finding(NAME, Severity.NOTE, _NEAR(colours=_listed(near, misses))))
    if far:
        worst = max(misses[name] for name in far)
        findings.append(Finding(NAME, Severity.WARN, _MISSED(colours=_listed(far, misses)), _ADVICE(), worst, FAR, "ΔE00"))
    if bare:
        findings.append(Finding(NAME, Severity.NOTE, _BARE(colours=_cut(list(bare)))))
    named_spots = list(spots)
    if named_spots:
        findings.append(Finding(NAME, Severity.NOTE, _SPOTS(colours=_cut(named_spots))))
    return tuple(findings)


def _listed(names: list[str], misses: Mapping[str, float]) -> str:
    return _cut([f"{name} (ΔE00 {misses[name]:.1f})" for name in names])


def _cut(parts: list[str]) -> str:
    return ", ".join(parts[:_MOST_NAMES]) + (", …" if len(parts) > _MOST_NAMES else "")

"""Colours that the printer cannot reach: the share of the artwork that will look duller than it does on a screen."""

from filmhand.preflight.finding import Finding, passed_above
from filmhand.rules import Limits


def check(percent: float, *, limits: Limits | None) -> tuple[Finding, ...]:
    """`percent` of the artwork, weighted by its opacity, lies further than ΔE00 5 from any printable colour."""
    past = passed_above(limits, percent) if limits is not None else None
    if past is None:
        return ()
    severity, limit = past
    return (
        Finding(
            check="out_of_gamut",
            severity=severity,
            message=f"{percent:.0f} % of the artwork has colours that this printer cannot reach; they will print duller.",
            advice="If that matters, choose less saturated colours, or ask us for a printed sample first.",
            value=percent,
            limit=limit,
            unit="%",
        ),
    )

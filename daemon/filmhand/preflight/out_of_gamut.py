"""Is much of the artwork in colours that the printer cannot lay?"""

from typing import Final

from filmhand.preflight.finding import Finding, passed_above
from filmhand.rules import Limits
from filmhand.words import Phrase

NAME: Final = "out_of_gamut"

_TOO_STRONG: Final = Phrase(
    "{percent:.0f} % of the picture is in colours stronger than the printer's inks; they will come out duller."
)
_ADVICE: Final = Phrase("Please choose less strong colours, or look at a proof before you order many.")


def check(percent: float, *, limits: Limits | None) -> tuple[Finding, ...]:
    """One finding if the share of out-of-gamut artwork, in percent, passes a limit; none without limits."""
    passed = passed_above(limits, percent) if limits is not None else None
    if passed is None:
        return ()
    severity, limit = passed
    return (Finding(NAME, severity, _TOO_STRONG(percent=percent), _ADVICE(), percent, limit, "%"),)

"""What thin lines and thin gaps have in common: the narrowest part of a kind, against limits that it must not lie below."""

import math
from dataclasses import dataclass

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Severity, passed_below
from filmhand.preflight.grid import Part
from filmhand.preflight.thickness import Narrow, narrow_parts
from filmhand.rules import LengthLimits


@dataclass(frozen=True)
class TooNarrow:
    """Parts narrower than allowed: the limit they pass, and the width at which nothing would be said."""

    severity: Severity
    limit_mm: float
    goal_mm: float
    narrowest_mm: float
    parts: Narrow

    @property
    def shown_mm(self) -> float:
        """The narrowest for reading, cut to hundredths: never shown as large as a limit that it does not reach."""
        return math.floor(100 * self.narrowest_mm) / 100


def too_narrow(artwork: Artwork, size: PrintedSize, *, part: Part, limits: LengthLimits | None) -> TooNarrow | None:
    """Parts of a kind that lie below a limit; None where there are no limits, or nothing lies below."""
    stated = [] if limits is None else [limit for limit in (limits.warn, limits.hold, limits.reject) if limit is not None]
    if limits is None or not stated:
        return None
    goal = max(stated)
    narrow = narrow_parts(artwork, size, part=part, limit_mm=goal)
    if narrow.narrowest_mm is None or (passed := passed_below(limits, narrow.narrowest_mm)) is None:
        return None
    severity, limit = passed
    return TooNarrow(severity, limit, goal, narrow.narrowest_mm, narrow)

"""What has moved since a printer's chart was read, from its control strip then and now, and the curves that mend it.

What curves cannot mend (weaker or off-hue full inks, inks that lie differently on one another) is told apart, and past a limit a
new chart is asked for. Film white is compared by itself, and everything else relative to it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz, xyz_from_lab
from filmhand.colour.drifted import Drifted
from filmhand.colour.measured.readings import Readings
from filmhand.colour.model import InkModel
from filmhand.colour.strip_curves import MOST_INK, StripFit, strip_fit
from filmhand.colour.strip_pairs import Pairs, on_full_white, pairs
from filmhand.colour.tone import density
from filmhand.colour.transfer import Curves
from filmhand.rules import Ink

Floats = NDArray[np.float64]
Lab = tuple[float, float, float]

_SEEN: Final = 0.5
"""ΔE00 below which a movement is not told, however certain: nobody sees it."""
_LEFT_SEEN: Final = 1.0
"""ΔE00 left below which curves count as having mended a colour: what they foretell is that much off at times."""
_NEW_CHART_WORST: Final = 3.0
_NEW_CHART_MEAN: Final = 1.5
"""ΔE00 left on the strip, past which curves are no remedy: common practice, no source."""


class Part(StrEnum):
    """What a patch of the strip watches."""

    FILM = "film white"
    SOLID = "full ink"
    TONE = "tone"
    OVERPRINT = "overprint"
    GRAY = "gray"
    MIXTURE = "mixture"


class Verdict(StrEnum):
    """What to do."""

    STEADY = "steady"
    CURVES = "curves"
    WATCH = "watch"
    NEW_CHART = "new chart"


@dataclass(frozen=True)
class Movement:
    """One patch then and now. `inks`: amounts sent by letter, 0 to 1, those at 0 left out.

    `moved`: ΔE00 then to now; `left`: ΔE00 that will remain once the curves are used. `then`, `now`: CIELAB, of film white over
    the perfect diffuser, of all else over film white. `acts_as`: of a single ink, the amount whose charted colour comes nearest.
    `density`: its change, of a full ink. `has_moved`, `stays`: whether movement, and what is left, pass noise and what is seen.
    """

    part: Part
    inks: Mapping[str, float]
    moved: float
    left: float
    then: Lab
    now: Lab
    has_moved: bool
    stays: bool
    acts_as: float | None = None
    density: float | None = None


@dataclass(frozen=True)
class Drift:
    """All patches judged, film white first; the curves (no ink among them where none has moved); mean ΔE00 before and after."""

    inks: tuple[str, ...]
    patches: tuple[Movement, ...]
    curves: Curves
    before: float
    after: float
    verdict: Verdict

    @property
    def helps(self) -> bool:
        """Whether there are curves, and the strip is nearer to the reference with them than without."""
        return bool(self.curves.inks) and self.after < self.before

    @property
    def movements(self) -> tuple[Movement, ...]:
        """Those that have moved, the furthest first."""
        return tuple(sorted((patch for patch in self.patches if patch.has_moved or patch.stays), key=lambda patch: -patch.moved))


def drift(
    reference: Readings,
    *,
    now: Readings,
    model: InkModel,
    noise: float | None = None,
    reference_noise: float | None = None,
) -> Drift:
    """What has moved from the reference to now, and the curves over `model`, the one fitted to the chart (never a drifted one).

    `reference`: the same strip read when the chart was; or `foretold`, and then `reference_noise` is how far the model is off.
    `noise`: standard deviation of one reading in each of L*, a*, b*, the reference's too where that is not given; None: as the
    repeats tell. The strip is printed as it is, without curves. SettingsError where the readings have too little in common.
    """
    strip = pairs(reference, now=now, inks=model.inks, noise=(noise if reference_noise is None else reference_noise, noise))
    fit = strip_fit(strip, model)
    after = _after(strip, fit, model)
    patches = tuple(_judged(strip, row, fit, after[row]) for row in range(len(strip.amounts)))
    printed = patches[1:]
    before, after_mean = (float(np.mean([getattr(patch, name) for patch in printed])) for name in ("moved", "left"))
    return Drift(strip.inks, patches, fit.curves, before, after_mean, _verdict(patches, fit.curves))


def foretold(now: Readings, *, model: InkModel) -> Readings:
    """The strip as the model foretells it, on today's film white (on which it says nothing): a reference where none was read."""
    strip = on_full_white(now, inks=model.inks)
    bare = ~strip.amounts.any(axis=1)
    white = strip.xyz[bare].mean(axis=0) if bare.any() else np.ones(3)
    return replace(strip, xyz=model.xyz(strip.amounts) / model.xyz(np.zeros(len(model.inks))) * white)


def _after(strip: Pairs, fit: StripFit, model: InkModel) -> Floats:
    """CIELAB (m, 3) to expect once the curves are used.

    Today's colour less what the curves say of it is what they leave; it stays when less or more of the inks is sent. Where full
    ink falls short of the chart, so does the colour.
    """
    drifted = Drifted(model, fit.curves)
    charted = lab_from_xyz(model.xyz(strip.amounts))
    unexplained = strip.now - strip.then - (lab_from_xyz(drifted.xyz(strip.amounts)) - charted)
    reached = lab_from_xyz(drifted.xyz(fit.curves.sent_for(strip.amounts, inks=model.inks)))
    return np.asarray(strip.then + (reached - charted) + unexplained)


def _judged(strip: Pairs, row: int, fit: StripFit, after: Floats) -> Movement:
    then, now, amounts = strip.then[row], strip.now[row], strip.amounts[row]
    part = _part(strip.inks, amounts)
    if part is Part.FILM:
        then, now, after = strip.white_then, strip.white_now, strip.white_now
    moved, left = float(difference(then, now)), float(difference(then, after))
    limit, inks = strip.colour_limit * strip.deviation[row], int(np.count_nonzero(amounts))
    by_colour = np.linalg.norm(now - then) > limit and moved > _SEEN
    stays = np.linalg.norm(after - then) > limit * np.sqrt(1 + inks) and left > _LEFT_SEEN
    return Movement(
        part=part,
        inks={ink: float(amount) for ink, amount in zip(strip.inks, amounts, strict=True) if amount > 0},
        moved=moved,
        left=left,
        then=_lab(then),
        now=_lab(now),
        has_moved=bool(by_colour or fit.has_moved[row]),
        stays=bool(stays),
        acts_as=float(fit.acts_as[row]) if inks == 1 else None,
        density=_density_change(then, now) if part is Part.SOLID else None,
    )


def _lab(colour: Floats) -> Lab:
    L, a, b = colour.tolist()
    return L, a, b


def _part(inks: tuple[str, ...], amounts: Floats) -> Part:
    laid = {ink for ink, amount in zip(inks, amounts, strict=True) if amount > 0}
    full = amounts[amounts > 0].min(initial=1.0) == 1
    if not laid:
        return Part.FILM
    if len(laid) == 1:
        return Part.SOLID if full else Part.TONE
    if full:
        return Part.OVERPRINT
    return Part.GRAY if laid - {Ink.BLACK} == {Ink.CYAN, Ink.MAGENTA, Ink.YELLOW} else Part.MIXTURE


def _density_change(then: Floats, now: Floats) -> float:
    """Of a full ink, by the one of X, Y and Z that it darkens most, above film white."""
    light_then, light_now = xyz_from_lab(then), xyz_from_lab(now)
    channel = int(np.argmin(light_then / xyz_from_lab(np.array([100.0, 0.0, 0.0]))))
    return float(density(light_now[channel]) - density(light_then[channel]))


def _verdict(patches: tuple[Movement, ...], curves: Curves) -> Verdict:
    usual = [patch for patch in patches if 0 < sum(patch.inks.values()) <= MOST_INK]
    staying = [patch.left if patch.stays else 0.0 for patch in usual]
    if max(staying) > _NEW_CHART_WORST or float(np.mean(staying)) > _NEW_CHART_MEAN:
        return Verdict.NEW_CHART
    if curves.inks:
        return Verdict.CURVES
    return Verdict.WATCH if any(patch.has_moved or patch.stays for patch in patches) else Verdict.STEADY

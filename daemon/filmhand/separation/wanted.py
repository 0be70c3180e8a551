"""The look that each source colour shall have: on film everywhere, and on this garment once film may be left out.

Three colours, all XYZ (D50) relative to film white:

* S, the source's own colour;
* R, what full film shows for it: the ink model's promise for the rule's intent and black point compensation, or what the inks of
  the rule's device link look like;
* W, what film and garment together shall show.

W is R, but for two things.

*Black.* Where black point compensation is on, R's black is moved on to the garment's colour if the garment can stand for black:
if it is near gray (C* up to 8), and darker than the blackest film or what is sold as black (L* up to 18; both figures common
practice, no source). So source black becomes no film on #1b1b1d, and shadows keep their steps down to the bare garment. On navy,
red, charcoal or sand black stays the film's black and is printed, even on a navy a little darker than it: black letters must not
vanish there.

*The garment's own colour.* A colour closer than the tolerance to the garment, as R or as S, is left bare: W is the garment. From
there W moves back to R, and is R at twice the tolerance from it; so W is never further from R than the tolerance, and nothing
jumps. Nearness of S counts because black point compensation makes R lighter than S: artwork in the garment's very colour would
be printed, lighter. It has a wider way back, by as much as R and S differ. On a garment that stands for black, S on the line
from black to the garment's colour is as good as at its end.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.black_point import compensated, nearest_towards_black, stands_for_black
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import between
from filmhand.colour.source import xyz_of_source
from filmhand.rules import Intent, Rule
from filmhand.separation.linked import Linked

Floats = NDArray[np.float64]

_ROUNDING: Final = 1e-6


@dataclass(frozen=True)
class Setting:
    """What a table is made for. `profile`: the source's, None for sRGB. `garment`: XYZ (3,). `linked`: inks are a link's."""

    profile: bytes | None
    model: InkModel
    garment: Floats
    rule: Rule
    linked: Linked | None = None


@dataclass(frozen=True)
class Look:
    """For m source colours: what they shall look like.

    `inks` (m, k) and `full` (m, 3): inks and colour on film everywhere. `wanted`: W (m, 3). `share`: how far W lies on the way
    from the garment to R (m,), 0 = bare garment, 1 = R. `slack`: ΔE00 (m,) of the tolerance that W has not used by itself.
    """

    inks: Floats
    full: Floats
    wanted: Floats
    share: Floats
    slack: Floats


class Looks:
    """Finds the look of source colours in one setting."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting

    def of(self, rgb: NDArray[np.uint8]) -> Look:
        """The look of source values (m, 3), 0 to 255."""
        model, rule, garment = self._setting.model, self._setting.rule, self._setting.garment
        rules = rule.colour
        if self._setting.linked is not None:
            inks = self._setting.linked.inks_for(rgb, profile=self._setting.profile, model=model, rules=rules)
        else:
            bpc = rules.black_point_compensation
            inks = model.inks_for(xyz_of_source(rgb, profile=self._setting.profile, intent=rules.intent, bpc=bpc), rules)
        full = model.xyz(inks)
        goal = compensated(full, black=self._film_black, to=garment) if self._garment_is_black else full
        share, slack = self._share_of_film(rgb, goal)
        return Look(inks, full, between(garment, goal, share[:, None], n=model.yule_nielsen), share, slack)

    def _share_of_film(self, rgb: NDArray[np.uint8], goal: Floats) -> tuple[Floats, Floats]:
        """`Look.share` and `Look.slack` for source values whose R is `goal`."""
        tolerance = self._setting.rule.knockout.tolerance
        own = xyz_of_source(rgb, profile=self._setting.profile, intent=Intent.RELATIVE, bpc=False)
        printed, itself, garment = lab_from_xyz(goal), lab_from_xyz(own), lab_from_xyz(self._setting.garment)
        off = difference(printed, garment)
        by_print = _rise(off, tolerance, 2 * tolerance)
        lift = difference(printed, itself)
        by_itself = _rise(difference(itself, self._nearest_bare(itself)), tolerance, 2 * tolerance + lift)
        return np.minimum(by_print, by_itself), np.maximum(tolerance - off * (1 - by_print), 0)

    def _nearest_bare(self, lab: Floats) -> Floats:
        """The garment's CIELAB (m, 3), or the nearest colour between black and it where it stands for black."""
        garment = lab_from_xyz(self._setting.garment)
        if not self._garment_is_black:
            return garment
        return nearest_towards_black(lab, garment)

    @cached_property
    def _film_black(self) -> Floats:
        """XYZ (3,) of source black on full film."""
        model, rules, linked = self._setting.model, self._setting.rule.colour, self._setting.linked
        if linked is not None:
            inks = linked.inks_for(np.zeros((1, 3), np.uint8), profile=self._setting.profile, model=model, rules=rules)
        else:
            inks = model.inks_for(np.zeros((1, 3)), rules)
        return np.asarray(model.xyz(inks)[0])

    @cached_property
    def _garment_is_black(self) -> bool:
        if not self._setting.rule.colour.black_point_compensation:
            return False
        return stands_for_black(lab_from_xyz(self._setting.garment), darkest=float(lab_from_xyz(self._film_black)[0]))


def _rise(distance: Floats, start: float, end: Floats | float) -> Floats:
    """0 up to `start`, 1 from `end`, straight between; what rounding alone adds to `start` counts as 0."""
    return np.asarray(np.clip((distance - start - _ROUNDING) / np.maximum(end - start, _ROUNDING), 0, 1))

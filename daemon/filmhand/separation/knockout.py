"""The least film that can show a wanted colour on a garment: the `over` operator solved backwards (Porter and Duff 1984).

Where film covers the share a of the garment, the eye sees, in the space R^(1/n) in which areas add up,

    W = (1 - a) G + a F      so the film itself must have the colour      F = G + (W - G) / a.

The less film, the further F lies beyond W, seen from the garment: against a black garment ever lighter and stronger. The least a
is the one at which F is just printable. With strength s less than 1 the film is a = 1 - s (1 - a_least): no less than that.

Artwork that is itself half transparent, with opacity t, asks for (1 - t) G + t W = (1 - t a) G + t a F: the coverage is t a and
the film's colour F does not change. So the separation table needs no axis for opacity.

"Just printable" has two bounds. Film that misses W by more than `tight` (ΔE00 0.1, or what the ink model's inverse misses by
itself) is taken only where that saves much: the coverage found under the rule's tolerance must lie well below the one found
under the tight bound. On black, that is so for dark reds: dots of red are a hint too blue, and only solid film is exact.
"""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import between, to_mixing_space
from filmhand.colour.srgb import xyz_from_srgb
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]

_LEVELS: Final = 0.75 ** np.arange(17)
"""Coverages tried, from all to 1 %: there, 1 mm of bare garment lies between dots of 0.1 mm."""
_HALVINGS: Final = 5
_TIGHT: Final = 0.1
"""ΔE00 up to which a miss counts as none, if the ink model's own inverse is no less exact."""
_GAIN: Final = 0.3
"""How much less film makes a miss within the tolerance worth while without reserve."""
_CHECKED: Final = 0.98
"""Part of the coverage known to be right above which a smaller one is taken unseen."""
_EXACT_SHARE: Final = 99
"""Percent of colours in gamut that a model's inverse must give back within the miss that counts as none."""

_SOLID_FROM: Final = 0.04
"""Coverage this much short of 1, for each ΔE00 of the tight bound, is made 1: a highlight is solid, not full of pinholes."""


@dataclass(frozen=True)
class Ground:
    """The garment, XYZ (3,), and the film over it.

    `tight`: ΔE00 up to which a miss counts as none.
    """

    garment: Floats
    model: InkModel
    rules: ColourRules
    tight: float

    @classmethod
    def under(cls, garment: Floats, model: InkModel, rules: ColourRules) -> "Ground":
        """The ground for a garment, a printer and its colour rules."""
        return cls(garment, model, rules, max(_TIGHT, _own_miss(model, rules)))

    def film(self, wanted: Floats, coverage: Floats) -> Floats:
        """F (m, 3): the XYZ that film of a coverage (m,), above 0, must have to show wanted colours (m, 3) on the garment."""
        n = self.model.yule_nielsen
        bare = to_mixing_space(self.garment, n)
        return np.asarray(np.maximum(bare + (to_mixing_space(wanted, n) - bare) / coverage[:, None], 0) ** n)

    def inks(self, wanted: Floats, coverage: Floats) -> Floats:
        """Ink amounts (m, k) within that film."""
        return self.model.exact_inks_for(self.film(wanted, coverage), self.rules)

    def seen(self, inks: Floats, coverage: Floats) -> Floats:
        """XYZ (m, 3) of film with inks (m, k) and a coverage (m,) on the garment."""
        return between(self.garment, self.model.xyz(inks), coverage[:, None], n=self.model.yule_nielsen)

    def miss(self, wanted: Floats, coverage: Floats) -> Floats:
        """ΔE00 (m,) by which the best film of a coverage fails wanted colours."""
        shown = self.seen(self.inks(wanted, coverage), coverage)
        return difference(lab_from_xyz(shown), lab_from_xyz(wanted))


class Least(NamedTuple):
    """The least coverage (m,), above 0 to 1, and the ΔE00 (m,) by which solid film would miss the colours."""

    coverage: Floats
    solid_miss: Floats


def least_coverage(wanted: Floats, ground: Ground, allowed: Floats) -> Least:
    """The least coverage at which film can show wanted colours (m, 3), none of them the garment's.

    `allowed`: ΔE00 (m,) by which it may miss where that saves much film. Where no coverage can, the least at which film fails
    by hardly more than it must.
    """
    loose = np.maximum(allowed, ground.tight)
    misses = _misses(wanted, ground, loose)
    loose = np.maximum(loose, misses.min(axis=1) + ground.tight)
    least = _crossing(misses, loose)
    more = np.asarray(_LEVELS[_last_good(misses, loose)], np.float64)
    exact = _last_good(misses, np.full(len(wanted), ground.tight))
    can = exact >= 0
    more[can] = _refined(wanted[can], ground, exact[can])
    least = np.minimum(least, more)
    gain = more - least
    coverage = least + np.where(can, gain * np.maximum(0, 1 - gain / _GAIN), 0)
    coverage = _kept(coverage, more, loose, (wanted, ground))
    return Least(np.minimum(1, coverage / (1 - ground.tight * _SOLID_FROM)), misses[:, 0])


def _misses(wanted: Floats, ground: Ground, loose: Floats) -> Floats:
    """Misses (m, levels), going down the levels until the first that fails after one that worked; from there on infinite."""
    misses = np.full((len(wanted), len(_LEVELS)), np.inf)
    has_worked = np.zeros(len(wanted), np.bool_)
    left = np.arange(len(wanted))
    for level, coverage in enumerate(_LEVELS):
        misses[left, level] = ground.miss(wanted[left], np.full(len(left), coverage))
        good = misses[left, level] <= loose[left]
        has_worked[left[good]] = True
        left = left[good | ~has_worked[left]]
    return misses


def _last_good(misses: Floats, bound: Floats) -> NDArray[np.intp]:
    """The last level (m,) within the bound, -1 where there is none."""
    good = misses <= bound[:, None]
    return np.where(good.any(axis=1), misses.shape[1] - 1 - np.argmax(good[:, ::-1], axis=1), -1)


def _kept(coverage: Floats, more: Floats, bound: Floats, film: tuple[Floats, Ground]) -> Floats:
    """Coverage (m,) where it keeps the bound, and the coverage `more` that is known to where it does not.

    Mostly misses bend upward from level to level, so that the true one is smaller at the crossing. But where the nearest colour
    that film can print lies on another edge of its gamut, they jump.
    """
    wanted, ground = film
    some = np.flatnonzero(coverage < _CHECKED * more)
    fails = some[ground.miss(wanted[some], coverage[some]) > bound[some]]
    result = coverage.copy()
    result[fails] = more[fails]
    return result


def _crossing(misses: Floats, bound: Floats) -> Floats:
    """The coverage (m,) at which a miss, drawn straight from the last level that keeps the bound to the next, passes it."""
    last = _last_good(misses, bound)
    after = np.minimum(last + 1, len(_LEVELS) - 1)
    kept, passed = (np.take_along_axis(misses, level[:, None], axis=1)[:, 0] for level in (last, after))
    share = np.where(np.isfinite(passed) & (passed > kept), (bound - kept) / np.maximum(passed - kept, 1e-9), 0)
    return np.asarray(_LEVELS[last] + share * (_LEVELS[after] - _LEVELS[last]))


def _refined(wanted: Floats, ground: Ground, level: NDArray[np.intp]) -> Floats:
    """The least coverage (m,) between a level that keeps the tight bound and the next, which does not, that keeps it."""
    works = _LEVELS[level]
    fails = _LEVELS[np.minimum(level + 1, len(_LEVELS) - 1)]
    for _ in range(_HALVINGS):
        middle = np.sqrt(works * fails)
        good = ground.miss(wanted, middle) <= ground.tight
        works, fails = np.where(good, middle, works), np.where(good, fails, middle)
    return np.asarray(works)


def _own_miss(model: InkModel, rules: ColourRules) -> float:
    """ΔE00 within which the model's inverse gives back nearly all of what it prints for an even choice of sRGB colours."""
    steps = np.linspace(0, 255, 9).astype(np.uint8)
    wanted = xyz_from_srgb(np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3))
    printed = model.xyz(model.exact_inks_for(wanted, rules))
    again = model.xyz(model.exact_inks_for(printed, rules))
    return float(np.percentile(difference(lab_from_xyz(printed), lab_from_xyz(again)), _EXACT_SHARE))

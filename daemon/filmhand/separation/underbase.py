"""The white under each colour: full under light colours, less under dark ones where the ink model says that nobody will see.

White is counted in volume: 1 is one full layer. How a colour looks over less of it is the opacity's to say (colour/opacity.py).
At a node of the separation table with the coverage a and the film's colour F over the fullest white, the eye sees

    R^(1/n) = (1 - a) G^(1/n) + a (F share(w) / share(w_most))^(1/n)

and gets the least white w that changes R by no more than the rule's tolerance, and keeps R as near to the wanted colour as
knockout promised. A second layer is the same question asked further on: it is laid where one alone would be seen.

The model is not all: thin white under light colours shows grain, and wears sooner. So the first layer is whole under light
colours whatever the model says (their L* is our own choice, no source). And where knockout has spent its tolerance on the way to
the garment's own colour, thin white may not add to that; but no second layer is called for either.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.neugebauer import between
from filmhand.colour.opacity import Opacity
from filmhand.rules import UnderbaseRules
from filmhand.separation.axes import Axes
from filmhand.separation.gentle import under_slopes

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_LIGHT_L: Final = (45.0, 75.0)
"""L* of the film's colour up to which the tolerance alone decides, and from which the first layer is whole."""
_HALVINGS: Final = 8
"""White is found within 1/256 of what can be spared."""
_SLOPE: Final = 0.1 / 8
"""White that may be gained over one source value: 0.1 from an even node to the next (our own, no source)."""
_LEAST_LIGHT: Final = 1e-6


@dataclass(frozen=True, eq=False)
class Underbase:
    """White on one garment. `garment`: XYZ (3,) relative to the film white of the charts. Volumes, 1 = one full layer: `least`
    that any film has, `density` of the first layer where it is whole, `most` with the second. `tolerance`: ΔE00."""

    opacity: Opacity
    garment: Floats
    least: float
    density: float
    most: float
    tolerance: float

    @classmethod
    def of(cls, rules: UnderbaseRules, *, opacity: Opacity, garment: Floats, second_white: bool) -> "Underbase":
        """The white that a rule lays on a garment; `second_white`: the printer can lay a second layer."""
        density = rules.density / 100
        most = density + (rules.highlight / 100 if second_white else 0)
        return cls(opacity, garment, min(rules.least_density / 100, density), density, most, rules.tolerance)

    @cached_property
    def film_share(self) -> Floats:
        """What film keeps of the ink model's colours over the fullest white on this garment: a factor (3,) for X, Y and Z."""
        return np.maximum(self.opacity.share(self.most, garment=self.garment), _LEAST_LIGHT)

    @cached_property
    def garment_seen(self) -> Floats:
        """The garment's XYZ (3,) relative to the fullest white on it, which is the white that artwork means."""
        return self.garment / self.film_share

    def seen(self, film: Floats, coverage: Floats, white: Floats, *, n: float) -> Floats:
        """XYZ (m, 3), as `garment_seen`, of film of a coverage (m,) whose colours over the fullest white are `film` (m, 3), over
        white of a volume (m,)."""
        kept = self.opacity.share(white, garment=self.garment) / self.film_share
        return between(self.garment_seen, film * kept, coverage[:, None], n=n)


class Film(NamedTuple):
    """At m nodes: the film's colours over the fullest white (m, 3), its coverage (m,), and the wanted colours (m, 3).

    ΔE00 by which these may be missed, infinite where that does not count: `slack` (m,) over less than one layer, and `promised`
    at all. `n`: Yule and Nielsen's factor.
    """

    colours: Floats
    coverage: Floats
    wanted: Floats
    slack: Floats
    promised: float
    n: float


def least_white(film: Film, underbase: Underbase) -> Floats:
    """The least white (m,), in volume, that keeps the colours seen; the most everywhere at a tolerance of 0.

    Colours that are missed by more than they may be over the fullest white are not missed by more for want of it.
    """
    count = len(film.coverage)
    if underbase.tolerance == 0:
        return np.full(count, underbase.most)
    keeps = _Kept(film, underbase)
    one = np.full(count, underbase.density)
    is_enough = keeps(one, np.full(count, film.promised), np.arange(count))
    floor = np.interp(lab_from_xyz(film.colours)[:, 0], _LIGHT_L, (underbase.least, underbase.density))
    low, high = np.where(is_enough, floor, one), np.where(is_enough, one, underbase.most)
    allowed = np.where(is_enough, film.slack, film.promised)
    high = np.where(is_enough & keeps(low, allowed, np.arange(count)), low, high)
    left = np.flatnonzero(low < high)
    for _ in range(_HALVINGS):
        middle = (low[left] + high[left]) / 2
        good = keeps(middle, allowed[left], left)
        low[left], high[left] = np.where(good, low[left], middle), np.where(good, middle, high[left])
    return high


def evened(white: Floats, film: Bools, axes: Axes) -> Floats:
    """White (r, g, b) raised where it would rise faster than a slope from node to node, so that no contour shows in it.

    Nodes without film do not count, and take what their neighbours suggest.
    """
    if not film.any():
        return white
    raised = under_slopes(np.where(film, white, -np.inf), axes, _SLOPE)
    return np.asarray(np.maximum(raised, white[film].min()))


class _Kept:
    """Asks of some nodes (k,) whether white of a volume (k,) keeps their colours, and misses the wanted by what is allowed."""

    def __init__(self, film: Film, underbase: Underbase) -> None:
        self._film, self._underbase = film, underbase
        most = underbase.seen(film.colours, film.coverage, np.full(len(film.coverage), underbase.most), n=film.n)
        self._full, self._wanted = lab_from_xyz(most), lab_from_xyz(film.wanted)
        self._missed = difference(self._full, self._wanted)

    def __call__(self, white: Floats, allowed: Floats, nodes: NDArray[np.intp]) -> Bools:
        film = self._film
        seen = lab_from_xyz(self._underbase.seen(film.colours[nodes], film.coverage[nodes], white, n=film.n))
        is_near = difference(seen, self._full[nodes]) <= self._underbase.tolerance
        return np.asarray(is_near & (difference(seen, self._wanted[nodes]) <= np.maximum(allowed, self._missed[nodes])))

"""A smooth surface through scattered values that carry noise: Gaussian process regression, which geology calls kriging.

Krige 1951; in the form of Rasmussen and Williams 2006, "Gaussian Processes for Machine Learning", chapters 2 (prediction),
4 (Matérn's covariance, smoothness 5/2) and 5 (how far values reach and how noisy they are, by marginal likelihood). Away from
all points the surface is 0: what it is laid on is right there, as far as anyone knows.
"""

from dataclasses import dataclass
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.chunks import in_chunks
from filmhand.colour.compiled import compiled

Floats = NDArray[np.float64]

_REACHES: Final = (0.2, 0.3, 0.45, 0.7, 1.0, 1.5, 2.2)
"""Distances tried over which values stay alike, where the whole space is 1 wide."""
_NOISES: Final = 10.0 ** np.arange(-6, 1.6, 0.5)
"""Variances of the noise tried, as parts of the surface's own."""
_ENOUGH: Final = 700
"""Points from which reach and noise are judged well enough; the work grows with the cube of their number."""
_LEAST: Final = 1e-10
_PER_SQUARE: Final = 40
_FARTHEST: Final = 20.0
"""r, the distance times sqrt(5) / reach, at which nothing is left of the covariance."""


def _parabolas() -> Floats:
    """(rows, 3): in each fortieth of r squared, Matérn's covariance as a parabola through its ends and its middle."""
    square = np.arange(2 * int(_FARTHEST**2) * _PER_SQUARE + 1) / (2 * _PER_SQUARE)
    values = (1 + np.sqrt(square) + square / 3) * np.exp(-np.sqrt(square))
    start, middle, end = values[:-2:2], values[1::2], values[2::2]
    return np.stack([start, 4 * middle - 3 * start - end, 2 * start + 2 * end - 4 * middle], axis=1)


@dataclass(frozen=True, eq=False)
class Kriging:
    """A surface of q values over d dimensions.

    `points` (m, d); `weights` (m, q): what each point adds; `reach`: over which distance. `variances` (q,): of the surface;
    `noises` (q,): of the noise, as parts of these.
    """

    points: Floats
    weights: Floats
    reach: float
    variances: Floats
    noises: Floats

    @classmethod
    def through(cls, points: Floats, values: Floats, *, known: tuple[float, Floats] | None = None) -> Self:
        """The surface through values (m, q) at points (m, d). `known`: its reach and noises (q,), else the likeliest."""
        reach, noises = likeliest(points, values, enough=_ENOUGH)[1:] if known is None else known
        weights, variances = np.empty_like(values), np.empty(values.shape[1])
        covariance = _covariance(points, points, reach)
        for noise in np.unique(noises):
            alike = noises == noise
            weights[:, alike] = np.linalg.solve(covariance + (noise + _LEAST) * np.eye(len(points)), values[:, alike])
            variances[alike] = np.maximum((values[:, alike] * weights[:, alike]).mean(axis=0), _LEAST)
        return cls(points, weights, reach, variances, noises)

    @classmethod
    def nothing(cls, dimensions: int, count: int) -> Self:
        """A surface of `count` values that is 0 everywhere."""
        return cls(np.empty((0, dimensions)), np.empty((0, count)), 1.0, np.zeros(count), np.zeros(count))

    def __call__(self, points: Floats) -> Floats:
        """The surface (n, q) at points (n, d)."""
        at = np.ascontiguousarray(points)
        return in_chunks(lambda some: _surface(at[some], self.points, self.weights, self.reach, _PARABOLAS), len(at))

    @property
    def judged(self) -> tuple[float, Floats]:
        """Reach and noises, to be known of another surface."""
        return self.reach, self.noises

    @property
    def noise(self) -> Floats:
        """Standard deviation (q,) of the noise in the values."""
        return np.asarray(np.sqrt(self.noises * self.variances))

    def spread(self, points: Floats) -> Floats:
        """Standard deviation (n, q) of the surface about what it is thought to be: large where no point is near."""
        known = _covariance(self.points, self.points, self.reach)
        near = _covariance(self.points, points, self.reach)
        result = np.empty((len(points), len(self.noises)))
        for noise in np.unique(self.noises):
            gained = (near * np.linalg.solve(known + (noise + _LEAST) * np.eye(len(known)), near)).sum(axis=0)
            alike = self.noises == noise
            result[:, alike] = np.sqrt(np.maximum(1 - gained, 0)[:, None] * self.variances[alike])
        return result

    def left_out(self) -> Floats:
        """How far (m, q) each value lies from the surface through all others (Rasmussen and Williams, equation 5.12)."""
        covariance = _covariance(self.points, self.points, self.reach)
        result = np.empty_like(self.weights)
        for noise in np.unique(self.noises):
            inverse = np.linalg.inv(covariance + (noise + _LEAST) * np.eye(len(covariance)))
            alike = self.noises == noise
            result[:, alike] = self.weights[:, alike] / np.diag(inverse)[:, None]
        return result


def likeliest(points: Floats, values: Floats, *, enough: int) -> tuple[float, float, Floats]:
    """The log likelihood of values (m, q) at points (m, d), at the reach and for each value the noise (q,) that make it largest.

    Judged from `enough` of the points, the same ones each time, if there are more.
    """
    if len(points) > enough:
        some = np.random.default_rng(0).choice(len(points), enough, replace=False)
        points, values = points[some], values[some]
    best, reach, noises = -np.inf, _REACHES[-1], np.zeros(values.shape[1])
    for tried in _REACHES:
        spectrum, axes = np.linalg.eigh(_covariance(points, points, tried))
        shares = (axes.T @ values) ** 2
        # (noise, m): the spectrum with noise; the surface's variance is the likeliest for each, so only its logarithm is left
        noisy = np.maximum(spectrum, 0) + _NOISES[:, None]
        variance = np.maximum((shares.T[:, None, :] / noisy).mean(axis=2), _LEAST)
        likelihood = -0.5 * (len(points) * np.log(variance) + np.log(noisy).sum(axis=1))
        total = float(likelihood.max(axis=1).sum())
        if total > best:
            best, reach, noises = total, tried, _NOISES[likelihood.argmax(axis=1)]
    return best, reach, noises


def _covariance(first: Floats, second: Floats, reach: float) -> Floats:
    """Matérn's covariance (m, n) of smoothness 5/2 between points (m, d) and (n, d)."""
    return _matern(np.ascontiguousarray(first), np.ascontiguousarray(second), reach)


@compiled
def _matern(first: Floats, second: Floats, reach: float) -> Floats:
    result = np.empty((len(first), len(second)))
    scale = np.sqrt(5.0) / reach
    for i in range(len(first)):
        for j in range(len(second)):
            square = 0.0
            for d in range(first.shape[1]):
                square += (first[i, d] - second[j, d]) ** 2
            r = scale * np.sqrt(square)
            result[i, j] = (1 + r + r * r / 3) * np.exp(-r)
    return result


_PARABOLAS: Final = _parabolas()


@compiled
def _surface(at: Floats, points: Floats, weights: Floats, reach: float, parabolas: Floats) -> Floats:
    """As `_covariance(at, points) @ weights`, without keeping the covariance, and without its exponentials."""
    m, d, q = len(at), at.shape[1], weights.shape[1]
    result = np.zeros((m, q))
    scale = 5.0 / (reach * reach) * _PER_SQUARE
    for i in range(m):
        for j in range(len(points)):
            square = 0.0
            for axis in range(d):
                off = at[i, axis] - points[j, axis]
                square += off * off
            place = scale * square
            row = int(place)
            if row < len(parabolas):
                part = place - row
                alike = parabolas[row, 0] + part * (parabolas[row, 1] + part * parabolas[row, 2])
                for value in range(q):
                    result[i, value] += alike * weights[j, value]
    return result

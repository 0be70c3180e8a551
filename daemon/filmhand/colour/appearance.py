"""How a print looks on the garment, for previews: the ink model forward, mixed with the garment, as sRGB.

At a point where film covers the share a of the garment and carries the inks c,

    R^(1/n) = (1 - a) G^(1/n) + a Σ p_i(c) P_i^(1/n)       (neugebauer.py; knockout.py solves the same backwards)

Any ink model serves: its colours are asked for once on even steps of each ink, and mixed between them by Demichel's shares. How
far an ink is on its way from step to step is read off its own wedge, each of X, Y and Z for itself. For a model made of primaries
that is exact; for one with curves, wedges are, and mixtures nearly.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import srgb
from filmhand.colour.compiled import compiled
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import to_mixing_space

Bytes = NDArray[np.uint8]
Reals = NDArray[np.float32]
Floats = NDArray[np.float64]

_MOST_COLOURS: Final = 90_000
"""Colours asked of the model at most: 17 steps of four inks, 4 of eight."""
_MOST_STEPS: Final = 17
_FINE: Final = 16
"""Parts of a step in which an ink's wedge is followed."""
_LEAST_CHANGE: Final = 1e-3
"""Change from step to step, in the mixing space, below which a wedge says nothing of the way between them."""
_ENCODED: Final = np.rint(255 * srgb.encode(np.linspace(0, 1, 4096) ** 2)).astype(np.uint8)
"""sRGB values of linear light, by its square root in 4095 steps: the curve is too steep near black for even steps."""

_BAND_ROWS: Final = 256


class _Film(NamedTuple):
    """The ink model for the kernel.

    `colours`: (steps^k, 3) in the mixing space, the first ink running fastest. `ways`: (k, steps - 1, _FINE + 1, 3), for each ink
    and step how far its wedge is on the way to the next step, 0 to 1 in each channel, at even parts of it.
    """

    colours: Reals
    ways: Reals
    n: np.float32
    to_light: Reals


_films: Final[dict[str, _Film]] = {}
"""By the model's digest."""


def appearance(coverage: Reals, inks: Reals, *, garment: Floats, model: InkModel) -> Bytes:
    """sRGB (h, w, 3) of film on a garment; film white shows as 255, as colours are relative to it.

    `coverage`: (h, w) float32, share of the garment under film, 0 to 1. `inks`: (k, h, w) float32 in the model's order, share of
    full ink within the film, 0 to 1. `garment`: XYZ (D50) relative to film white, (3,), or (h, w, 3) for one that is not even.
    """
    n = model.yule_nielsen
    h, w = coverage.shape
    film = _film(model)
    even = garment.ndim == 1
    seen = np.empty((h, w, 3), np.uint8)
    for top in range(0, h, _BAND_ROWS):
        rows = slice(top, top + _BAND_ROWS)
        bare = to_mixing_space(garment if even else garment[rows], n).astype(np.float32)
        _render(coverage[rows], inks[:, rows], np.broadcast_to(bare, (*coverage[rows].shape, 3)), film, seen[rows])
    return seen


def _steps(inks: int) -> int:
    """Even steps of each ink, from none to full, that keep the number of colours within bounds."""
    steps = 2
    while (steps + 1) ** inks <= _MOST_COLOURS and steps < _MOST_STEPS:
        steps += 1
    return steps


def _film(model: InkModel) -> _Film:
    """The model on even steps of its inks; asked for once, as previews come in many bands."""
    if model.digest not in _films:
        steps, n = _steps(len(model.inks)), model.yule_nielsen
        grid = np.meshgrid(*[np.linspace(0, 1, steps)] * len(model.inks), indexing="ij")
        inks = np.stack(grid[::-1], axis=-1).reshape(-1, len(model.inks))
        colours = to_mixing_space(model.xyz(inks), n).astype(np.float32)
        _films[model.digest] = _Film(colours, _ways(model, steps), np.float32(n), srgb.FROM_XYZ.astype(np.float32))
    return _films[model.digest]


def _ways(model: InkModel, steps: int) -> Reals:
    """`ways` of a film: a wedge that hardly changes, or turns back, goes straight there."""
    count, fine = len(model.inks), (steps - 1) * _FINE
    wedges = np.linspace(0, 1, fine + 1)[:, None] * np.eye(count)[:, None]
    seen = to_mixing_space(model.xyz(wedges), model.yule_nielsen)
    parts = np.arange(steps - 1)[:, None] * _FINE + np.arange(_FINE + 1)
    seen = seen[:, parts]
    start, change = seen[:, :, :1], seen[:, :, -1:] - seen[:, :, :1]
    straight = np.abs(change) < _LEAST_CHANGE
    ways = np.where(straight, np.linspace(0, 1, _FINE + 1)[:, None], (seen - start) / np.where(straight, 1, change))
    return np.ascontiguousarray(np.clip(ways, 0, 1), np.float32)


@compiled
def _render(coverage: Reals, inks: Reals, bare: Reals, film: _Film, seen: Bytes) -> None:
    """Write sRGB to `seen` (h, w, 3); `bare`: (h, w, 3), the garment in the mixing space."""
    colours, ways, n, to_light = film
    count = inks.shape[0]
    about, places, shares = (
        np.empty((1 << count, 3), np.float32),
        np.empty(1 << count, np.int64),
        np.empty((count, 3), np.float32),
    )
    mixed, last = np.empty(3, np.float32), np.full(3, -1, np.float32)
    encoded = np.empty(3, np.uint8)
    for y in range(coverage.shape[0]):
        for x in range(coverage.shape[1]):
            a = coverage[y, x]
            for j in range(3):
                mixed[j] = bare[y, x, j]
            if a > 0:
                base, between = _cell(inks[:, y, x], ways, places, shares)
                for s in range(1 << between):
                    for j in range(3):
                        about[s, j] = colours[base + places[s], j]
                _mix(about, shares, between)
                for j in range(3):
                    mixed[j] += a * (about[0, j] - mixed[j])
            if mixed[0] != last[0] or mixed[1] != last[1] or mixed[2] != last[2]:
                _encode(mixed, n, to_light, encoded)
            for j in range(3):
                last[j], seen[y, x, j] = mixed[j], encoded[j]


@compiled
def _cell(inks: Reals, ways: Reals, places: NDArray[np.int64], shares: Reals) -> tuple[int, int]:
    """The row of the colour at or below an ink mix, and how many of its inks lie between two steps.

    `places` gets the ways from that row to all colours about the mix, each ink between steps doubling them; `shares` (k, 3) how
    far it is on its way in each channel.
    """
    steps = ways.shape[1] + 1
    places[0] = 0
    base, between, stride = 0, 0, 1
    for i in range(inks.shape[0]):
        if inks[i] > 0:
            at = min(inks[i], np.float32(1)) * np.float32(steps - 1)
            step = int(at)
            part = (at - np.float32(step)) * np.float32(_FINE)
            base += step * stride
            if part > 0:
                below, used = int(part), 1 << between
                for j in range(3):
                    low = ways[i, step, below, j]
                    shares[between, j] = low + (part - np.float32(below)) * (ways[i, step, below + 1, j] - low)
                for s in range(used):
                    places[used + s] = places[s] + stride
                between += 1
        stride *= steps
    return base, between


@compiled
def _mix(about: Reals, shares: Reals, between: int) -> None:
    """Mix colours (2^between, 3) by Demichel's shares, one ink after the other, into the first."""
    for i in range(between - 1, -1, -1):
        half, x, y, z = 1 << i, shares[i, 0], shares[i, 1], shares[i, 2]
        for s in range(half):
            about[s, 0] += x * (about[half + s, 0] - about[s, 0])
            about[s, 1] += y * (about[half + s, 1] - about[s, 1])
            about[s, 2] += z * (about[half + s, 2] - about[s, 2])


@compiled
def _encode(mixed: Reals, n: np.float32, to_light: Reals, encoded: Bytes) -> None:
    """sRGB (3,) of a colour (3,) in the mixing space."""
    x, y, z = mixed[0] ** n, mixed[1] ** n, mixed[2] ** n
    for j in range(3):
        light = to_light[j, 0] * x + to_light[j, 1] * y + to_light[j, 2] * z
        light = min(max(light, np.float32(0)), np.float32(1))
        encoded[j] = _ENCODED[int(np.sqrt(light) * np.float32(4095) + np.float32(0.5))]

"""How a print looks on the garment, for previews and proofs: the ink model forward, mixed with the garment, as sRGB.

At a point where film covers the share a of the garment and carries the inks c over white of the volume w,

    R^(1/n) = (1 - a) G^(1/n) + a T(w, G)^(1/n) Σ p_i(c) P_i^(1/n)       (neugebauer.py; knockout.py solves the same backwards)

with T the share of the film's colour that is left over so much white on that garment (Opacity.share). T^(1/n) is read off a table
for each garment, which is even in the root of w (the first white on black changes most) and straight between its steps. Film
whose white was pulled in from its edge is two films: T(0, G) where it has none, T(w, G) where it has.

Any ink model serves: its colours are asked for once on even steps of each ink, and mixed between them by Demichel's shares. How
far an ink is on its way from step to step is read off its own wedge, each of X, Y and Z for itself. For a model made of primaries
that is exact; for one with curves, wedges are, and mixtures nearly.
"""

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import srgb
from filmhand.colour.compiled import compiled
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import to_mixing_space
from filmhand.colour.opacity import Opacity

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

MOST_WHITE: Final = 2.0
"""Volume of white beyond which none is laid: two full layers."""
_WHITE_STEPS: Final = 2048
"""Between them colours are off by at most a tenth of an 8-bit step: any white and garment, n from 1 to 3 (measured)."""
_BAND_ROWS: Final = 256


class White(NamedTuple):
    """White that lies under part of the film alone. (h, w) float32 each.

    `volume`: where it lies, 1 one full layer, 2 two. `share`: of the film, how much has it, 0 to 1; the rest has none at all.
    """

    volume: Reals
    share: Reals


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


def appearance(
    coverage: Reals,
    inks: Reals,
    *,
    garments: Floats,
    model: InkModel,
    white: Reals | White | None = None,
    lies_on: NDArray[np.unsignedinteger] | None = None,
) -> Bytes:
    """sRGB (h, w, 3) of film on garments. 255 is the film white of the ink model's charts, so one layer on black is darker.

    `coverage`: (h, w) float32, share of the garment under film, 0 to 1. `inks`: (k, h, w) float32 in the model's order, share of
    full ink within the film, 0 to 1. `garments`: XYZ (g, 3), D50, relative to film white. `white`: (h, w) float32, volume of
    white under the film, evenly laid, 0 none, 1 one full layer, 2 two; None: one layer everywhere. `lies_on`: (h, w) uint8 or
    uint16, which of the garments lies there; None: the first. IndexError if there are not so many.
    """
    if lies_on is not None and lies_on.size and lies_on.max() >= len(garments):
        raise IndexError(f"garment {lies_on.max()} of {len(garments)}")
    n = model.yule_nielsen
    film = _film(model)
    bare = to_mixing_space(garments, n).astype(np.float32)
    kept = np.stack([_kept(model.opacity, n, tuple(garment)) for garment in garments.tolist()])
    one = np.broadcast_to(np.float32(1), coverage.shape)
    volume, share = white if isinstance(white, White) else (one if white is None else white, one)
    places = np.broadcast_to(np.uint8(0), coverage.shape) if lies_on is None else lies_on
    seen = np.empty((*coverage.shape, 3), np.uint8)
    for top in range(0, len(coverage), _BAND_ROWS):
        rows = slice(top, top + _BAND_ROWS)
        under = np.stack([volume[rows], share[rows]]), places[rows].astype(np.uint16)
        _render(coverage[rows], inks[:, rows], under, (bare, kept), film, seen[rows])
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


@lru_cache(maxsize=64)
def _kept(opacity: Opacity, n: float, garment: tuple[float, ...]) -> Reals:
    """What is left of a film's colour, in the mixing space, at even steps of white's root up to the most: (steps + 1, 3)."""
    volumes = MOST_WHITE * np.linspace(0, 1, _WHITE_STEPS + 1) ** 2
    return to_mixing_space(opacity.share(volumes, garment=np.array(garment)), n).astype(np.float32)


@compiled
def _render(
    coverage: Reals,
    inks: Reals,
    under: tuple[Reals, NDArray[np.uint16]],
    garments: tuple[Reals, Reals],
    film: _Film,
    seen: Bytes,
) -> None:
    """Write sRGB to `seen` (h, w, 3).

    `under`: volume of white and its share of the film, (2, h, w), and the garment's place, (h, w). `garments`: in the mixing
    space bare, (g, 3), and what each leaves of a film's colour, (g, steps + 1, 3).
    """
    (white, lies_on), (bare, kept), (colours, ways, n, to_light) = under, garments, film
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
            a, on = coverage[y, x], lies_on[y, x]
            for j in range(3):
                mixed[j] = bare[on, j]
            if a > 0:
                base, between = _cell(inks[:, y, x], ways, places, shares)
                for s in range(1 << between):
                    for j in range(3):
                        about[s, j] = colours[base + places[s], j]
                _mix(about, shares, between)
                step, part = _step(white[0, y, x], kept.shape[1] - 1)
                backed = white[1, y, x]
                for j in range(3):
                    left, none = kept[on, step, j], kept[on, 0, j]
                    left += part * (kept[on, step + 1, j] - left)
                    left = none + backed * (left - none)
                    mixed[j] += a * (about[0, j] * left - mixed[j])
            if mixed[0] != last[0] or mixed[1] != last[1] or mixed[2] != last[2]:
                _encode(mixed, n, to_light, encoded)
            for j in range(3):
                last[j], seen[y, x, j] = mixed[j], encoded[j]


@compiled
def _step(volume: np.float32, steps: int) -> tuple[int, np.float32]:
    """The step of `kept` at or below a volume of white, the last but one at most, and how far it is on its way to the next."""
    at = np.sqrt(min(max(volume / np.float32(MOST_WHITE), np.float32(0)), np.float32(1))) * np.float32(steps)
    step = min(int(at), steps - 1)
    return step, at - np.float32(step)


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

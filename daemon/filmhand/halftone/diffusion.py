"""Error diffusion: what a dot lays too much or too little is made good by its neighbours still to come.

Kernels as published: R. W. Floyd and L. Steinberg, "An adaptive algorithm for spatial greyscale", Proc. SID 17 (1976);
J. F. Jarvis, C. N. Judice and W. H. Ninke, "A survey of techniques for the display of continuous tone pictures on bilevel
displays", Computer Graphics and Image Processing 5 (1976); P. Stucki, "MECCA: a multiple-error correcting computation algorithm
for bilevel image hardcopy reproduction", IBM Research report RZ1060 (1981). Weights given from memory. Going to and fro
(serpentine): R. Ulichney, "Digital Halftoning", MIT Press 1987.

A row looks back at the rounding of the two rows above it, which is all that is carried from one band to the next. That part of
a row's sums does not wait for the row's own dots, so it is reckoned first, many dots at a time.
"""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone import lanes
from filmhand.halftone.bits import WORD, Words
from filmhand.rule_values import DiffusionKernel

_ROWS: Final = 2
"""Rows below a dot that the widest kernel reaches, and dots beside it."""
_FULL: Final = 255.0
_HALF: Final = 128
"""The greatest tone, of 255, that is nearer to none; Pillow's."""
_CHANCE: Final = 1024
"""Random roundings that bare places take in turn; each row begins elsewhere among them."""
_STEP: Final = 397
"""How much further than the row above."""

Singles = NDArray[np.float32]

_SHARES: Final = {
    DiffusionKernel.FLOYD_STEINBERG: (16, ((0, 0, 0, 7, 0), (0, 3, 5, 1, 0), (0, 0, 0, 0, 0))),
    DiffusionKernel.JARVIS_JUDICE_NINKE: (48, ((0, 0, 0, 7, 5), (3, 5, 7, 5, 3), (1, 3, 5, 3, 1))),
    DiffusionKernel.STUCKI: (42, ((0, 0, 0, 8, 4), (2, 4, 8, 4, 2), (1, 2, 4, 2, 1))),
}
"""The divisor, and by row (the dot's own first) the shares of the dots from two before it to two after it, as it goes."""


@dataclass(frozen=True, eq=False)
class Diffusion:
    """How an ink's tones are diffused.

    `amounts`: (256,) float64, the amount of ink for each tone, rising from 0 to 1. `sizes`: volumes of the drops as fractions
    of the largest, smallest first, the last 1. `serpentine`: rows go to and fro; else all go from left to right. `seed`: a number
    of the ink's own. Bare places hand on random roundings by it, of which the mean is none, so that two inks of one tone do not
    fall on the same dots, and a tone does not begin with a row of dots in step. 0: they hand on what they were handed.
    """

    kernel: DiffusionKernel
    serpentine: bool
    amounts: NDArray[np.float64]
    sizes: tuple[float, ...]
    seed: int = 0

    @property
    def plain(self) -> bool:
        """Whether it is the textbook's: Floyd and Steinberg's weights, left to right, straight, dot or no dot, nothing random.

        That is done in whole 255ths, as Pillow does (`tobilevel`), which loses up to 0.4 % of tone. Others lose nothing.
        """
        textbook = self.kernel is DiffusionKernel.FLOYD_STEINBERG and not self.serpentine
        straight = np.allclose(self.amounts, np.arange(256) / _FULL, rtol=0, atol=1e-9) and self.sizes == (1.0,)
        return textbook and straight and self.seed == 0


@dataclass(frozen=True, eq=False)
class Carried:
    """What one band hands to the next. `row`: rows done. `errors`: 2×(columns + 4) float32, 255ths that the last two rows have
    laid too little, those of row r in r mod 2."""

    errors: Singles
    row: int


def diffuse(tones: NDArray[np.uint8], *, by: Diffusion, carried: Carried | None) -> tuple[Words, Carried]:
    """Dots of an ink's tones (rows × 64·words uint8, 255 = full ink), and what the band below needs to go on.

    Gives levels×rows×words uint64, at least the first, second … drop of `by.sizes`, dot 0 in the lowest bit. `carried`: from the
    band above, None at the top; any division into bands gives the same dots. The textbook's (`Diffusion.plain`) is
    bit for bit what Pillow's `Image.convert("1")` does.
    """
    rows, columns = tones.shape
    chance = _chance(by)
    if carried is None:
        first = np.resize(chance, columns + 2 * _ROWS)
        carried = Carried(np.stack([first, np.roll(first, _STEP)]) if by.seed else np.zeros((_ROWS, first.size), np.float32), 0)
    errors = carried.errors.copy()
    levels = np.zeros((len(by.sizes), rows, columns // WORD), np.uint64)
    divisor, shares = _SHARES[by.kernel]
    if by.plain:
        _whole(np.ascontiguousarray(tones), errors, carried.row, np.array(shares, np.float32), levels)
    else:
        how = _How(
            taps=(np.array(shares) / divisor).astype(np.float32),
            amounts=(by.amounts * _FULL).astype(np.float32),
            drops=(np.array((0.0, *by.sizes)) * _FULL).astype(np.float32),
            serpentine=by.serpentine,
            chance=chance,
        )
        _fine(np.ascontiguousarray(tones), errors, carried.row, how, levels)
    return levels, Carried(errors, carried.row + rows)


class _How(NamedTuple):
    """A `Diffusion` as the kernels want it, amounts in 255ths. `chance`: _CHANCE random roundings, empty for none."""

    taps: Singles
    amounts: Singles
    drops: Singles
    serpentine: bool
    chance: Singles


def _chance(by: Diffusion) -> Singles:
    """Roundings of up to half the smallest drop either way."""
    if by.seed == 0:
        return np.empty(0, np.float32)
    half = _FULL * by.sizes[0] / 2
    drawn = np.random.default_rng(by.seed).permutation(_CHANCE)
    return (half * (2 * drawn + 1 - _CHANCE) / _CHANCE).astype(np.float32)


@compiled
def _fine(tones: NDArray[np.uint8], errors: Singles, row: int, how: _How, levels: Words) -> None:
    """Rows of dots, in fractions. `errors` is brought up to date, `levels` filled."""
    taps, amounts, drops, serpentine, chance = how
    wanted, numbers = np.empty(tones.shape[1], np.float32), np.empty(tones.shape[1], np.uint8)
    for y in range(tones.shape[0]):
        here, above = errors[(row + y) % _ROWS], errors[(row + y + 1) % _ROWS]
        back = serpentine and (row + y) % 2 == 1
        if tones[y].any():
            for x in range(wanted.size):
                wanted[x] = amounts[tones[y, x]]
            _gather(wanted, above, taps[1], back != serpentine)
            _gather(wanted, here, taps[2], back)
            _round(wanted, here, taps[0], drops, back, numbers)
            _pack(numbers, levels, y)
        elif chance.size == 0:
            here[:] = 0
        if chance.size:
            _take_chances(tones[y], here, chance, (row + y) * _STEP)


@compiled
def _whole(tones: NDArray[np.uint8], errors: Singles, row: int, taps: Singles, levels: Words) -> None:
    """The same in whole 255ths, every sum of 16ths cut towards zero and every tone kept within 0 to 255, as Pillow does."""
    sums, numbers = np.empty(tones.shape[1], np.float32), np.empty(tones.shape[1], np.uint8)
    for y in range(tones.shape[0]):
        here, above = errors[(row + y) % _ROWS], errors[(row + y + 1) % _ROWS]
        sums[:] = 0
        _gather(sums, above, taps[1], False)
        before = np.int64(0)
        for x in range(sums.size):
            share = np.int64(sums[x]) + 7 * before
            tone = np.int64(tones[y, x]) + (share >> 4 if share >= 0 else -(-share >> 4))
            tone = min(max(tone, np.int64(0)), np.int64(255))
            numbers[x] = tone > _HALF
            before = tone - np.int64(255) if tone > _HALF else tone
            here[x + _ROWS] = before
        _pack(numbers, levels, y)


@compiled
def _gather(sums: Singles, errors: Singles, taps: Singles, back: bool) -> None:
    """Add to each dot the shares of what a row above it, which went `back` or not, has laid too little."""
    a, b, c, d, e = taps[4], taps[3], taps[2], taps[1], taps[0]
    if back:
        a, b, d, e = e, d, b, a
    for x in range(sums.size):
        sums[x] += a * errors[x] + b * errors[x + 1] + c * errors[x + 2] + d * errors[x + 3] + e * errors[x + 4]


@compiled
def _round(wanted: Singles, errors: Singles, taps: Singles, drops: Singles, back: bool, numbers: NDArray[np.uint8]) -> None:
    """One row's drops, each the nearest to what is wanted and what the two dots before it have laid too little."""
    near, far = taps[3], taps[4]
    last, step = wanted.size - 1, -1 if back else 1
    most = len(drops) - 1
    first = (drops[0] + drops[1]) / np.float32(2)
    second = (drops[1] + drops[2]) / np.float32(2) if most > 1 else np.float32(np.inf)
    third = (drops[2] + drops[3]) / np.float32(2) if most > 2 else np.float32(np.inf)  # noqa: PLR2004
    one, two = np.float32(0), np.float32(0)
    x = last if back else 0
    for _ in range(wanted.size):
        value = (wanted[x] + far * two) + near * one
        number = (value > first) + np.int64(value > second) + np.int64(value > third)
        two, one = one, value - drops[number]
        errors[x + _ROWS] = one
        numbers[x] = number
        x += step


@compiled
def _take_chances(tones: NDArray[np.uint8], errors: Singles, chance: Singles, first: int) -> None:
    """Bare dots of a row hand on random roundings instead of their own."""
    for x in range(tones.size):
        if tones[x] == 0:
            errors[x + _ROWS] = chance[(first + x) % _CHANCE]


@compiled
def _pack(numbers: NDArray[np.uint8], levels: Words, y: int) -> None:
    """A row's drop numbers as words, level by level."""
    limits = np.empty(lanes.DOTS, np.uint8)
    for level in range(levels.shape[0]):
        limits[:] = level
        for k in range(levels.shape[2]):
            levels[level, y, k] = lanes.above(numbers, k * lanes.DOTS, limits, 0)

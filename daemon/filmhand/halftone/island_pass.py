"""One pass down a design's rows that finds its small islands and lets each grow or go.

Rows are read as runs of dots. A run joins the runs that it touches in the row above, by union and find (R. E. Tarjan, "Efficiency
of a good but not linear set union algorithm", J. ACM 22, 1975), and nothing is kept but the islands that reach the present row:
how large each is so far, and where one of its dots lies (as in D. G. Bailey and C. T. Johnston, "Single pass connected components
analysis", 2007). An island that ends is walked through dot by dot only if it is small. It is then lower than it has dots, so a
window of so many rows holds it: memory grows with the width and the least island, not with the length.

How many screened islands grow is settled as in error diffusion (R. W. Floyd and L. Steinberg, "An adaptive algorithm for spatial
greyscale", 1976): dots that were taken away too many, or laid too many, are owed to the islands near by. The threshold that such
an island must pass comes from a tile (threshold modulation, as in R. Ulichney, "Digital Halftoning", 1987), so that one by itself
grows with the right chance, and where there are many the tone is right however the tile and the screen fall together.
"""

from typing import Any, Final, NamedTuple

import numpy as np
from llvmlite import ir
from numba import types
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone.bits import WORD, Words
from filmhand.halftone.choke import Disc
from filmhand.halftone.lanes import operation
from filmhand.halftone.thresholds import Tile

_LARGE: Final = 0
"""The number of all islands that are known to be large enough."""
_TONES: Final = 255
_NEAR_ACROSS, _NEAR_DOWN = 2, 8
"""How wide a block of islands that owe each other dots is, and how far down it goes without one, in discs: by trial, such that
what is left to be owed at a tone's edge is little, and the islands that grow lie evenly."""
_MOVED: Final = (45, 83)
"""Rows and columns by which the tile's repeats are moved: any that have no factor in common with its sides."""

_Ints = NDArray[np.int64]


class Limit(NamedTuple):
    """What becomes of small islands.

    `least`: dots that an island must have; `disc` has so many. `grows`: whether small islands may grow; if not, all go.
    `outside`: whether islands at the array's edge are large. `chance`: thresholds; an island with screened dots grows if its dots
    and those owed near by are more than the threshold's 255th of the dots that the disc would add.
    """

    least: int
    disc: Disc
    chance: Tile
    grows: bool
    outside: bool


class _Planes(NamedTuple):
    """`dots`, `screened`, `out`: rows×words; `out` holds the discs so far, and the rows that no small island can reach now.

    `gone`: dots of small islands, a window of rows by row modulo its height. `island`: one's dots (y, x). `width`: dots in a row.
    """

    dots: Words
    screened: Words
    out: Words
    gone: Words
    island: _Ints
    width: int


class _Owed(NamedTuple):
    """What islands near by owe each other, by blocks of `across` columns.

    `dots`: taken away too many, float64. `row`: where the last small island in or beside the block lay; further off than `down`
    rows nothing is owed any more.
    """

    dots: NDArray[np.float64]
    row: _Ints
    across: int
    down: int


class _Runs(NamedTuple):
    """A row's runs of dots, `many[0]` of them, int64: from column `start` to before `end`, of the island with the number `of`."""

    start: _Ints
    end: _Ints
    of: _Ints
    many: _Ints


class _Islands(NamedTuple):
    """By an island's number, int64 each: the number it was joined to, or its own; its dots so far; where one of them lies;
    whether the present row has met it; and its number from the next row on."""

    joined: _Ints
    dots: _Ints
    y: _Ints
    x: _Ints
    met: _Ints
    next: _Ints


def settled(dots: Words, screened: Words, *, width: int, limit: Limit) -> Words:
    """The dots, rows×words, `width` in a row, without islands (4-connected) that are smaller than the limit.

    `screened`: rows×words, dots that a screen decided. No argument is changed.
    """
    return _settled(dots, screened, width, limit)


@operation
def _lowest(_context: Any, word: Any) -> Any:
    """int64, the place of the lowest 1 in a word that is not 0 (LLVM Language Reference, "llvm.cttz")."""

    def code(_context: Any, builder: Any, _signature: Any, args: Any) -> Any:
        return builder.cttz(args[0], ir.Constant(ir.IntType(1), 1))

    return types.int64(word), code


@compiled
def _settled(dots: Words, screened: Words, width: int, limit: Limit) -> Words:
    rows, words = dots.shape
    reach, across = limit.disc.size - 1, 2 * limit.disc[0] + 1
    late = limit.least + reach  # rows until no small island and no disc can reach a row any more
    gone, island = np.zeros((late + reach + 1, words), np.uint64), np.zeros((limit.least, 2), np.int64)
    planes = _Planes(dots, screened, np.zeros_like(dots), gone, island, width)
    blocks = width // (_NEAR_ACROSS * across) + 1
    owed = _Owed(np.zeros(blocks), np.full(blocks, -rows), _NEAR_ACROSS * across, _NEAR_DOWN * (2 * reach + 1))
    most = width // 2 + 1
    a, b, c = np.zeros((6, 2 * most + 1), np.int64), np.zeros((6, 2 * most + 1), np.int64), np.zeros((8, most), np.int64)
    islands, later = _Islands(a[0], a[1], a[2], a[3], a[4], a[5]), _Islands(b[0], b[1], b[2], b[3], b[4], b[5])
    above, here = _Runs(c[0], c[1], c[2], c[3]), _Runs(c[4], c[5], c[6], c[7])
    reaching = 0
    for y in range(rows + late):  # past the last row all islands end, and the window empties
        _read(dots[min(y, rows - 1)], width, here)
        if y >= rows:
            here.many[0] = 0
        _begin(islands, reaching, limit.least)
        _join(above, here, islands, reaching, y)
        if limit.outside:
            _join_outside(here, islands, width, y in (0, rows - 1))
        for number in range(1, reaching + 1):
            if islands.joined[number] == number and islands.met[number] == 0:
                _decide(planes, limit, owed, islands.y[number], islands.x[number])
        reaching = _carry(here, islands, later, limit.least)
        islands, later, above, here = later, islands, here, above
        if y >= late:
            _finish(planes, y - late)
    return planes.out


@compiled
def _read(row: NDArray[np.uint64], width: int, into: _Runs) -> None:
    """A row's runs. Each place where a dot follows a bare one, or the other way, is a bit to find."""
    start, end = into.start, into.end
    runs, inside, before = 0, False, np.uint64(0)
    for k in range(row.size):
        word = row[k]
        changes = word ^ ((word << np.uint64(1)) | before)
        before = word >> np.uint64(WORD - 1)
        while changes:
            if inside:
                end[runs] = WORD * k + _lowest(changes)
                runs += 1
            else:
                start[runs] = WORD * k + _lowest(changes)
            inside = not inside
            changes &= changes - np.uint64(1)
    if inside:
        end[runs] = width
        runs += 1
    into.many[0] = runs


@compiled
def _begin(islands: _Islands, reaching: int, least: int) -> None:
    """Before a row: the islands that reach it are joined to none, and not met yet."""
    islands.dots[_LARGE] = least
    for number in range(reaching + 1):
        islands.joined[number] = number
        islands.met[number] = 0


@compiled
def _join(above: _Runs, here: _Runs, islands: _Islands, reaching: int, y: int) -> None:
    """Give each run of the row its island: a new one, or that of all the runs it touches."""
    newest, first, runs_above = reaching, 0, above.many[0]
    for run in range(here.many[0]):
        start, end, mine = here.start[run], here.end[run], -1
        while first < runs_above and above.end[first] <= start:
            first += 1
        touched = first
        while touched < runs_above and above.start[touched] < end:
            of = above.of[touched]
            mine = _find(islands.joined, of) if mine < 0 else _unite(islands, mine, of)
            touched += 1
        if mine < 0:
            newest += 1
            mine = newest
            islands.joined[mine], islands.dots[mine], islands.y[mine], islands.x[mine] = mine, 0, y, start
        islands.dots[mine] += end - start
        islands.met[mine] = 1
        here.of[run] = mine


@compiled
def _join_outside(here: _Runs, islands: _Islands, width: int, whole_row: bool) -> None:
    """Runs at the array's edge are part of the large island outside."""
    for run in range(here.many[0]):
        if whole_row or here.start[run] == 0 or here.end[run] == width:
            _unite(islands, here.of[run], _LARGE)


@compiled
def _find(joined: _Ints, number: int) -> int:
    while joined[number] != number:
        joined[number] = joined[joined[number]]
        number = joined[number]
    return number


@compiled
def _unite(islands: _Islands, one: int, other: int) -> int:
    """Join two islands under the lower number, so that what is joined to a large one is large."""
    one, other = _find(islands.joined, one), _find(islands.joined, other)
    low, high = min(one, other), max(one, other)
    if low != high:
        islands.joined[high] = low
        islands.dots[low] += islands.dots[high]
        islands.met[low] |= islands.met[high]
    return low


@compiled
def _carry(here: _Runs, islands: _Islands, later: _Islands, least: int) -> int:
    """After a row: number anew the small islands that reach it, for the next row; how many there are."""
    reaching = 0
    for run in range(here.many[0]):
        number = _find(islands.joined, here.of[run])
        if islands.dots[number] >= least:
            here.of[run] = _LARGE
            continue
        if islands.met[number] == 1:  # its first run
            reaching += 1
            islands.met[number] = 2
            islands.next[number] = reaching
            later.dots[reaching], later.y[reaching], later.x[reaching] = (
                islands.dots[number],
                islands.y[number],
                islands.x[number],
            )
        here.of[run] = islands.next[number]
    return reaching


@compiled
def _decide(planes: _Planes, limit: Limit, owed: _Owed, y: int, x: int) -> None:
    """Mark the small island with a dot at (y, x) as gone; lay the disc instead if it grows, or with it if it is the artwork's."""
    dots, own = _walk(planes, y, x)
    if not limit.grows:
        return
    island = planes.island[:dots]
    y, x = _middle(island)
    if own:
        for place in range(dots):
            _lay_run(planes.out[island[place, 0]], island[place, 1], island[place, 1] + 1)
        _lay(planes, limit.disc, y, x)  # cut off at the array's edge, it joins the island to the disc further in
    reach, half = limit.disc.size - 1, limit.disc[0]
    inner_y, inner_x = min(max(y, reach), len(planes.out) - 1 - reach), min(max(x, half), planes.width - 1 - half)
    if own:
        _lay(planes, limit.disc, inner_y, inner_x)
        return
    lost, gained = _lost(planes, island), _gained(planes, limit.disc, inner_y, inner_x)
    due = _due(owed, y, x)
    if lost + due > _threshold(limit.chance, y, x) * gained:
        _lay(planes, limit.disc, inner_y, inner_x)
        lost -= gained
    _owe(owed, due + lost, x)


@compiled
def _due(owed: _Owed, y: int, x: int) -> float:
    """What is owed in the block of a place and beside it, less what is too far away."""
    block, due = x // owed.across, 0.0
    for near in range(max(0, block - 1), min(owed.dots.size, block + 2)):
        if abs(y - owed.row[near]) <= owed.down:
            due += owed.dots[near]
        owed.row[near] = y
    return due


@compiled
def _owe(owed: _Owed, dots: float, x: int) -> None:
    """Share what is owed among a block and those beside it."""
    first, last = max(0, x // owed.across - 1), min(owed.dots.size, x // owed.across + 2)
    owed.dots[first:last] = dots / (last - first)


@compiled
def _lost(planes: _Planes, island: _Ints) -> int:
    """Dots of an island that goes on which no disc lies."""
    lost = 0
    for place in range(len(island)):
        y, x = island[place, 0], island[place, 1]
        lost += not planes.out[y, x // WORD] >> np.uint64(x % WORD) & np.uint64(1)
    return lost


@compiled
def _gained(planes: _Planes, disc: Disc, y: int, x: int) -> int:
    """Dots that the disc would add to what is there now."""
    gained = 0
    for row in range(y - disc.size + 1, y + disc.size):
        half, gone = disc[abs(row - y)], planes.gone[row % len(planes.gone)]
        for column in range(x - half, x + half + 1):
            k = column // WORD
            dots = planes.out[row, k] | (planes.dots[row, k] & ~gone[k])
            gained += not dots >> np.uint64(column % WORD) & np.uint64(1)
    return gained


@compiled
def _threshold(chance: Tile, y: int, x: int) -> float:
    """The tile's threshold at a dot, 0 to 1. Its repeats are moved on, so that a screen's cells do not always meet the same."""
    height, width = chance.shape
    down, across = _MOVED
    return float((chance[(y + down * (x // width)) % height, (x + across * (y // height)) % width] + 0.5) / _TONES)


@compiled
def _walk(planes: _Planes, y: int, x: int) -> tuple[int, bool]:
    """List the dots of the small island with a dot at (y, x), and mark them as gone; how many, and whether none is screened."""
    dots, gone, island = planes.dots, planes.gone, planes.island
    one, own, seen, walked = np.uint64(1), True, 1, 0
    island[0, 0], island[0, 1] = y, x
    gone[y % gone.shape[0], x // WORD] |= one << np.uint64(x % WORD)
    while walked < seen:
        for step in range(4):
            y = island[walked, 0] + (step == 0) - (step == 1)
            x = island[walked, 1] + (step == 2) - (step == 3)  # noqa: PLR2004
            if not (0 <= y < dots.shape[0] and 0 <= x < planes.width):
                continue
            k, bit = x // WORD, one << np.uint64(x % WORD)
            if dots[y, k] & ~gone[y % gone.shape[0], k] & bit:
                gone[y % gone.shape[0], k] |= bit
                island[seen, 0], island[seen, 1] = y, x
                seen += 1
        y, x = island[walked, 0], island[walked, 1]
        own = own and not (planes.screened[y, x // WORD] >> np.uint64(x % WORD)) & one
        walked += 1
    return seen, own


@compiled
def _middle(island: _Ints) -> tuple[int, int]:
    """The dot of an island (n×2, y and x) that is nearest to the mean of all; of several, the first from the top left."""
    dots = len(island)
    sum_y, sum_x = island[:, 0].sum(), island[:, 1].sum()
    nearest, best = 0, np.inf
    for place in range(dots):
        y, x = island[place, 0], island[place, 1]
        off = float((dots * y - sum_y) ** 2 + (dots * x - sum_x) ** 2)  # whole numbers: nothing hangs on rounding
        if off < best or (off == best and (y, x) < (island[nearest, 0], island[nearest, 1])):
            nearest, best = place, off
    return int(island[nearest, 0]), int(island[nearest, 1])


@compiled
def _lay(planes: _Planes, disc: Disc, y: int, x: int) -> None:
    """Lay the disc about a dot, as far as the array goes."""
    for row in range(max(0, y - disc.size + 1), min(planes.out.shape[0], y + disc.size)):
        half = disc[abs(row - y)]
        _lay_run(planes.out[row], max(0, x - half), min(planes.width, x + half + 1))


@compiled
def _lay_run(row: NDArray[np.uint64], start: int, end: int) -> None:
    """Lay the dots of a row from `start` to before `end`."""
    for x in range(start, end):
        row[x // WORD] |= np.uint64(1) << np.uint64(x % WORD)


@compiled
def _finish(planes: _Planes, y: int) -> None:
    """Lay the dots of a row that are not gone, after all islands that have a dot in it have ended."""
    gone = planes.gone[y % planes.gone.shape[0]]
    for k in range(gone.size):
        planes.out[y, k] |= planes.dots[y, k] & ~gone[k]
        gone[k] = np.uint64(0)

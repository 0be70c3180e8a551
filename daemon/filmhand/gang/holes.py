"""Copies laid inside the holes of others: what lies in a ring or frame takes no film of its own.

Exact on the safe side: a copy is tried on a fine grid, on which a square counts as free only if all of it is. The largest copies
come first, each where it hugs what is there already. Smaller hosts are filled first, so that a filled ring may go into a frame.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from filmhand.gang.hollow import without_slits
from filmhand.gang.outline import Outline
from filmhand.gang.poses import allowed
from filmhand.gang.turn import turned
from filmhand.rules import GangRules

_FINEST_MM: Final = 0.3
_SQUARES_ALONG: Final = 480
_HALF_DIAGONAL: Final = 0.7072
_ARC: Final = 1.003
"""Round corners are drawn as short chords; this much farther out, they clear the arc (16 chords a quarter turn)."""
_HALF_A_HIT: Final = 0.5
_HUG_SQUARES: Final = 3
_TRIALS_A_SECOND: Final = 100
"""Trials of a copy at one rotation in one hole, for each second of the rule: they take about half of that time at most."""


@dataclass(frozen=True)
class Guest:
    """A copy inside a host: which one, where its upright picture's top left corner lies in the host's picture, and how turned."""

    index: int
    x_mm: float
    y_mm: float
    rotation_deg: float


def guests_in(outlines: Sequence[Outline], *, rules: GangRules) -> dict[int, tuple[Guest, ...]]:
    """By host (its place in `outlines`) the copies that lie inside it, the rule's gap from its film and from each other.

    No copy is in two hosts; a guest may be a host itself. Rotations are those that leave every allowed rotation of the host
    allowed for its guests too.
    """
    turns = _turns(allowed(rules))
    kinds: dict[Outline, list[int]] = {}
    for index, outline in enumerate(outlines):
        kinds.setdefault(outline, []).append(index)
    waiting = {outline: list(members) for outline, members in sorted(kinds.items(), key=lambda kind: -kind[0].taken_mm2(0.0))}
    trials = _Trials(rules.gap, turns, round(_TRIALS_A_SECOND * rules.seconds))
    result: dict[int, tuple[Guest, ...]] = {}
    for outline in reversed([outline for outline in waiting if outline.holes]):
        for host in kinds[outline]:
            laid = [guest for hole in range(len(outline.holes)) for guest in _laid(outline, hole, waiting, trials)]
            if laid:
                result[host] = tuple(laid)
    return result


class _Trials:
    """What is tried where, counted; and which kinds do not even fit a hole that is empty."""

    def __init__(self, gap_mm: float, turns: tuple[float, ...], most: int) -> None:
        self.gap_mm, self.turns, self.left = gap_mm, turns, most
        self.refused: set[tuple[Outline, int, Outline]] = set()


def _turns(angles: Sequence[float]) -> tuple[float, ...]:
    """The turns that carry the set of allowed rotations onto itself."""
    wanted = {round(angle, 6) % 360.0 for angle in angles}
    apart = sorted({round(angle - angles[0], 6) % 360.0 for angle in angles})
    return tuple(turn for turn in apart if {round(angle + turn, 6) % 360.0 for angle in wanted} == wanted)


def _laid(host: Outline, hole: int, waiting: dict[Outline, list[int]], trials: _Trials) -> list[Guest]:
    """Guests for one hole of one host, taken out of `waiting`, the largest first."""
    grid = _Grid.of(host, hole, trials.gap_mm)
    guests: list[Guest] = []
    if grid is None:
        return guests
    room = Polygon(host.holes[hole]).area
    for kind, members in waiting.items():
        if kind == host or (host, hole, kind) in trials.refused or kind.taken_mm2(0.0) > room:
            continue
        while members and trials.left > 0:
            found = grid.lay(kind, trials)
            if found is None:
                if not guests:
                    trials.refused.add((host, hole, kind))
                break
            guests.append(Guest(members.pop(0), *found))
    return guests


@dataclass(frozen=True)
class _Stamp:
    """A turned outline on squares. `squares`: rows × columns float32, 1 = touched; `x_mm`, `y_mm`: the first square's corner."""

    squares: NDArray[np.float32]
    x_mm: float
    y_mm: float
    ring: Polygon


class _Grid:
    """A hole on squares. `blocked`: rows × columns float32, 1 = not all of the square is free for a guest."""

    def __init__(self, blocked: NDArray[np.float32], start_mm: tuple[float, float], side_mm: float) -> None:
        self.blocked, self.start_mm, self.side_mm = blocked, start_mm, side_mm

    @classmethod
    def of(cls, host: Outline, hole: int, gap_mm: float) -> "_Grid | None":
        """A hole's grid; None where nothing is left of it inside the gap."""
        bare = _bare(host, hole, gap_mm)
        return None if bare is None else cls(bare.blocked.astype(np.float32), bare.start_mm, bare.side_mm)

    def lay(self, kind: Outline, trials: _Trials) -> tuple[float, float, float] | None:
        """Lay a copy where it hugs what is there: its origin and turn, or None; the squares it and its gap take are blocked."""
        best: tuple[float, _Stamp, int, int, float] | None = None
        for turn in trials.turns:
            stamp = _stamp(kind, turn, self.side_mm)
            if stamp.squares.shape[0] > self.blocked.shape[0] or stamp.squares.shape[1] > self.blocked.shape[1]:
                continue
            trials.left -= 1
            spot = self._spot(stamp)
            if spot is not None and (best is None or spot[0] > best[0]):
                best = (spot[0], stamp, spot[1], spot[2], turn)
        if best is None:
            return None
        _, stamp, row, column, turn = best
        x = self.start_mm[0] + column * self.side_mm - stamp.x_mm
        y = self.start_mm[1] + row * self.side_mm - stamp.y_mm
        reach = (trials.gap_mm + _HALF_DIAGONAL * self.side_mm) * _ARC
        around = shapely.transform(stamp.ring, lambda points: points + np.array([x, y])).buffer(reach, quad_segs=16)
        taken = _centres_in(around, self.blocked.shape, self.start_mm, self.side_mm)
        self.blocked = np.where(taken, np.float32(1), self.blocked)
        return x, y, turn

    def _spot(self, stamp: _Stamp) -> tuple[float, int, int] | None:
        """The free spot with the most blocked squares near the copy: their share, row and column of the stamp's first square."""
        hits = cv2.matchTemplate(self.blocked, stamp.squares, cv2.TM_CCORR)
        free = hits < _HALF_A_HIT
        if not free.any():
            return None
        near = cv2.dilate(np.pad(stamp.squares, _HUG_SQUARES), np.ones((2 * _HUG_SQUARES + 1,) * 2, np.uint8))
        hugs = cv2.matchTemplate(np.pad(self.blocked, _HUG_SQUARES, constant_values=1), near, cv2.TM_CCORR).round()
        row, column = np.unravel_index(int(np.argmax(np.where(free, hugs, -1.0))), free.shape)
        return float(hugs[row, column] / near.sum()), int(row), int(column)


@dataclass(frozen=True)
class _Bare:
    """A hole on squares, nothing in it yet. `blocked`: rows × columns bool; `start_mm`: the first square's corner."""

    blocked: NDArray[np.bool_]
    start_mm: tuple[float, float]
    side_mm: float


@lru_cache(maxsize=256)
def _bare(host: Outline, hole: int, gap_mm: float) -> _Bare | None:
    """Kept: insetting a hole costs more than all trials in it, and it is wanted again for each copy and each layout."""
    inner = without_slits(np.array(host.holes[hole])).buffer(-gap_mm * _ARC, quad_segs=16)
    if inner.is_empty:
        return None
    left, top, right, bottom = inner.bounds
    side = max(_FINEST_MM, max(right - left, bottom - top) / _SQUARES_ALONG)
    shape = int((bottom - top) / side) + 2, int((right - left) / side) + 2
    free = _centres_in(inner.buffer(-_HALF_DIAGONAL * side), shape, (left, top), side)
    return _Bare(~free, (left, top), side)


@lru_cache(maxsize=1024)
def _stamp(kind: Outline, turn: float, side_mm: float) -> _Stamp:
    ring = Polygon(turned(kind.ring(), turn))
    left, top, right, bottom = ring.bounds
    shape = int(np.ceil((bottom - top) / side_mm)), int(np.ceil((right - left) / side_mm))
    touched = _centres_in(ring.buffer(_HALF_DIAGONAL * side_mm * _ARC, quad_segs=16), shape, (left, top), side_mm)
    return _Stamp(touched.astype(np.float32), left, top, ring)


def _centres_in(
    region: shapely.Geometry, shape: tuple[int, int], start_mm: tuple[float, float], side_mm: float
) -> NDArray[np.bool_]:
    """Rows × columns bool: which squares' centres lie in a region."""
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.5
    shapely.prepare(region)
    inside: NDArray[np.bool_] = shapely.contains_xy(region, start_mm[0] + x * side_mm, start_mm[1] + y * side_mm)
    return inside

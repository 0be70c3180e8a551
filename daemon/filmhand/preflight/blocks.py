"""Blocks of 8×8 pixels in a square of tones, as strong JPEG compression (ITU-T T.81) leaves them."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

BLOCK: Final = 8

_LEAST_STEP: Final = 2.5
"""Levels: a straight step along a whole border that is seen in a smooth place (common practice, no source)."""

_ABOVE_WITHIN: Final = 1.5
"""How many times the largest such step inside the blocks beside it a border's is: more, and texture does not hide it."""

_MOST_CLIPPED: Final = 8.0
"""Levels: in finding the grid a larger step counts no more, for it is the picture's own."""

_LEAST_BORDERS: Final = 2
"""Borders, of its four, that must show for a block to show."""


def showing(square: NDArray[np.float32]) -> tuple[NDArray[np.bool_], float, tuple[int, int]]:
    """Which blocks of a square (n×n float32, levels) show, the share that would by chance, and the first one's top and left.

    A border shows where the step across it, over what the slopes on either side lead to expect (Minami, Zakhor, "An optimization
    approach for removing blocking effects in transform coding", IEEE TCSVT 5, 1995), exceeds the steps within the blocks (Wang,
    Sheikh, Bovik, "No-reference perceptual quality assessment of JPEG compressed images", ICIP 2002). What chance does is what is
    seen on a grid that lies in the middle of the blocks.
    """
    across, down = _excess(square), _excess(np.ascontiguousarray(square.T)).T
    left, top = _phase(across), _phase(down.T)
    shown = _blocks(across, down, top, left)
    chance = _blocks(across, down, (top + BLOCK // 2) % BLOCK, (left + BLOCK // 2) % BLOCK)
    return shown, float(chance.mean()), (top, left)


def at_scale(square: NDArray[np.float32], factor: float) -> NDArray[np.float32]:
    """A square (n×n float32, levels) as it was before it was enlarged."""
    if factor == 1:
        return square
    side = round(square.shape[0] / factor)
    return np.asarray(cv2.resize(square, (side, side), interpolation=cv2.INTER_AREA), np.float32)


def _excess(square: NDArray[np.float32]) -> NDArray[np.float32]:
    """How much the step from the pixel before exceeds the mean of the steps on either side of it: n×n float32, signed levels."""
    steps = np.diff(square, axis=1, prepend=square[:, :1])
    beside = np.zeros_like(steps)
    beside[:, 1:-1] = (steps[:, :-2] + steps[:, 2:]) / 2
    excess = steps - beside
    excess[:, :2] = excess[:, -1:] = 0
    return np.asarray(excess, np.float32)


def _phase(excess: NDArray[np.float32]) -> int:
    """The first column of pixels that begins a block: where columns eight apart step most."""
    columns = np.minimum(np.abs(excess), _MOST_CLIPPED).mean(axis=0)
    usable = len(columns) // BLOCK * BLOCK
    return int(np.argmax(columns[:usable].reshape(-1, BLOCK).mean(axis=0)))


def _blocks(across: NDArray[np.float32], down: NDArray[np.float32], top: int, left: int) -> NDArray[np.bool_]:
    """Which whole blocks of the grid from this corner show on at least two borders, per block."""
    side = across.shape[0]
    rows, columns = (side - top) // BLOCK, (side - left) // BLOCK
    part = np.s_[top : top + rows * BLOCK, left : left + columns * BLOCK]
    before, beside = _borders(across[part], rows, columns)
    above = _borders(down[part].T, columns, rows)
    return before.astype(np.int8) + beside + above[0].T + above[1].T >= _LEAST_BORDERS


def _borders(excess: NDArray[np.float32], rows: int, columns: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether each block's border with the one before it, and with the one after it, shows: rows×columns each."""
    # Means along the border: texture cancels, a border does not.
    steps = np.abs(excess.reshape(rows, BLOCK, columns, BLOCK).mean(axis=1))
    within = steps[:, :, 2:-1].max(axis=2)
    hiding = within.copy()
    hiding[:, 1:] = np.maximum(within[:, 1:], within[:, :-1])
    shows = (steps[:, :, 0] >= _LEAST_STEP) & (steps[:, :, 0] >= _ABOVE_WITHIN * hiding)
    after = np.zeros_like(shows)
    after[:, :-1] = shows[:, 1:]
    return shows, after

"""Where the nodes of a separation table lie along red, green and blue: evenly, and closer about the garment's own colour.

Even nodes lie at 0, 8, 16 … 248, 255: whole values, so that at a node the table is exact. About the garment's colour coverage
falls to nothing within a few values; nodes on either side of it keep the table from bridging the hole. Out of it the look rises
to full film's, and has a corner where it arrives: there lies one more node on either side. Even nodes close to these go.
"""

from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.source import xyz_of_source
from filmhand.rules import Intent
from filmhand.separation.wanted import Looks, Setting

Bytes = NDArray[np.uint8]
Axes = tuple[Bytes, Bytes, Bytes]

EVEN: Final[Bytes] = np.append(np.arange(0, 255, 8), 255).astype(np.uint8)
"""33 values."""
_REACH: Final = 8
_SPANS: Final = (8, 6, 5, 4, 3, 2, 1)
"""Values as far as which about the garment's all may be bare; between wider nodes it need not be."""
_DISTANCES: Final = range(18)
"""Values from the garment's at which is looked whether all about is bare, or full film's; the last stands for all beyond."""
_LEAST_RISE: Final = 4
"""Values from the last bare node to the first that may be full film's."""
_APART: Final = 2
"""Values that even nodes keep from those about the garment."""


def even_axes() -> Axes:
    """Even nodes on all three axes."""
    return EVEN, EVEN, EVEN


def axes_about_garment(setting: Setting, looks: Looks) -> Axes:
    """Even nodes, and on each axis one on either side of the garment's own value, as far off as all about it is left bare, and
    one as near as all about is full film's colour. If only that value itself is bare, it is a node."""
    own = _nearest_value(setting)
    share = looks.of(np.concatenate([_about(own, distance) for distance in _DISTANCES])).share.reshape(len(_DISTANCES), -1)
    bare = next((span for span in _SPANS if not share[span].any()), 0)
    full = next((end for end in _DISTANCES[bare + _LEAST_RISE :] if (share[end] == 1).all()), _DISTANCES[-1])
    red, green, blue = (_axis(int(value), bare, full) for value in own)
    return red, green, blue


def nodes(axes: Axes) -> Bytes:
    """The RGB values (m, 3) of all nodes, blue running fastest."""
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def _axis(own: int, bare: int, full: int) -> Bytes:
    """The nodes of one axis: about the garment's own value all is bare as far as `bare` off, and full film's from `full` on."""
    about = np.clip(own + np.array([-full, -bare, bare, full]), 0, 255)
    crowded = (np.abs(EVEN[:, None] - about) < _APART).any(axis=1)
    return np.union1d(EVEN[~crowded | np.isin(EVEN, (0, 255))], about).astype(np.uint8)


def _nearest_value(setting: Setting) -> Bytes:
    """The source value (3,) whose colour is nearest to the garment's: from the best even node, on to the best about it."""
    ways = np.stack(np.meshgrid(*[np.arange(-_REACH, _REACH + 1)] * 3), axis=-1).reshape(-1, 3)
    best = _nearest_of(nodes(even_axes()), setting)
    while True:
        nearer = _nearest_of(np.asarray(np.clip(best + ways, 0, 255), np.uint8), setting)
        if np.array_equal(nearer, best):
            return best
        best = nearer


def _nearest_of(values: Bytes, setting: Setting) -> Bytes:
    xyz = xyz_of_source(values, profile=setting.profile, intent=Intent.RELATIVE, bpc=False)
    off = ((np.cbrt(xyz) - np.cbrt(setting.garment)) ** 2).sum(axis=1)
    return np.array(values[int(np.argmin(off))], np.uint8)


def _about(own: Bytes, span: int) -> Bytes:
    """The value and its 26 neighbours at a distance of `span` (27, 3), no further than 0 and 255."""
    ways = np.array(list(product((-span, 0, span), repeat=3)))
    return np.asarray(np.clip(own + ways, 0, 255), np.uint8)

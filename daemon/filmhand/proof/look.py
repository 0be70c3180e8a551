"""What film, ink and white look like in a view: of means as the eye sees them, and of single dots exactly."""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.appearance import White, appearance
from filmhand.colour.model import InkModel
from filmhand.colour.srgb import FROM_XYZ, decode, encode, srgb_from_xyz
from filmhand.gang.composed import CONTINUOUS
from filmhand.proof.dots import Dots, Floats, Reals
from filmhand.proof.light_table import UnderFilm, light
from filmhand.proof.means import Means, averaged
from filmhand.proof.view import BACK, GARMENT, PRINT_SIDE
from filmhand.rules import is_white

Bytes = NDArray[np.uint8]

_LEAST: Final = np.float32(1e-6)
_LIGHT: Final[Floats] = decode(np.arange(256) / 255)
"""Linear light of sRGB values."""
_DARK, _PALE = 30.0, 255.0
"""The ground on which white is shown, and what full white is shown as; ink is shown black on white."""


def look(means: Means, view: str, *, model: InkModel) -> Bytes:
    """sRGB (h, w, 3) of means. `view`: as in view.py.

    A plane alone is shown in gray, as a plate is read: yellow on white could not be seen.
    """
    if view not in (GARMENT, PRINT_SIDE, BACK):
        return _plate(means.laid[view], view)
    inks = np.stack([_within(means.laid[ink], means.film) for ink in model.inks])
    volume = _volume({ink: _within(one, means.over_white) for ink, one in means.laid.items()}, model)
    share = _within(means.over_white, means.film)
    if view == GARMENT:
        white = White(volume.astype(np.float32), share)
        return appearance(means.film, inks, garments=means.garments, model=model, white=white, lies_on=means.lies_on)
    over_white = appearance(np.ones_like(means.film), inks, garments=model.opacity.film_white[None], model=model)
    under = UnderFilm(volume, share.astype(np.float64))
    return _shown(light(means.film.astype(np.float64), _LIGHT[over_white], under, opacity=model.opacity, from_back=view == BACK))


def look_of_dots(dots: Dots, view: str, *, model: InkModel) -> Bytes:
    """sRGB (h, w, 3), a pixel a dot: each dot's own overprint over white, or over the bare garment, or the garment.

    Nothing is averaged and nothing runs together. At 8 bits, where a dot may be any tone of any ink, means of single dots.
    """
    if dots.bits == CONTINUOUS:
        return look(averaged(dots, (1, 1)), view, model=model)
    if view not in (GARMENT, PRINT_SIDE, BACK):
        return _plate(dots.shares[view][dots.planes[view]], view)
    kinds, where = _kinds(dots)
    return _colours(kinds, view, model=model)[where]


def _kinds(dots: Dots) -> tuple[Dots, NDArray[np.intp]]:
    """The different dots there are, as a window of one row, and which of them each dot (h, w) is."""
    code = dots.lies_on.astype(np.int64)
    for plane in dots.planes.values():
        code = code << dots.bits | plane
    found, where = np.unique(code, return_inverse=True)
    lowest = len(dots.planes) - 1
    planes = {
        ink: (found[None] >> dots.bits * (lowest - place) & (1 << dots.bits) - 1).astype(np.uint8)
        for place, ink in enumerate(dots.planes)
    }
    lies_on = (found[None] >> dots.bits * len(dots.planes)).astype(np.uint8)
    return Dots(dots.bits, planes, dots.shares, dots.garments, lies_on), where.reshape(code.shape)


def _colours(kinds: Dots, view: str, *, model: InkModel) -> Bytes:
    """sRGB (m, 3) of kinds of dots, by the ink model itself."""
    shares = {ink: kinds.shares[ink][plane[0]].astype(np.float64) for ink, plane in kinds.planes.items()}
    film = np.asarray(np.any([plane[0] > 0 for plane in kinds.planes.values()], axis=0))
    colour, volume = model.xyz(np.stack([shares[ink] for ink in model.inks], axis=-1)), _volume(shares, model)
    if view != GARMENT:
        white = UnderFilm(volume, np.ones_like(volume))
        return _shown(light(film.astype(np.float64), colour @ FROM_XYZ.T, white, opacity=model.opacity, from_back=view == BACK))
    lies_on = kinds.lies_on[0]
    seen = kinds.garments[lies_on]
    for place, garment in enumerate(kinds.garments):
        on = film & (lies_on == place)
        seen[on] = colour[on] * model.opacity.share(volume[on], garment=garment)
    return srgb_from_xyz(seen)


def _volume(amounts: Mapping[str, NDArray[np.floating]], model: InkModel) -> Floats:
    """White laid, 1 = one full layer, of the amounts of all planes: first and second white together."""
    whites = [model.opacity.volume_for(one) for ink, one in amounts.items() if is_white(ink)]
    return np.asarray(sum(whites))


def _within(part: Reals, whole: Reals) -> Reals:
    return np.asarray(np.minimum(part / np.maximum(whole, _LEAST), 1), np.float32)


def _plate(share: Reals, plane: str) -> Bytes:
    gray = _DARK + (_PALE - _DARK) * share if is_white(plane) else 255 * (1 - share)
    return np.repeat(np.rint(gray).astype(np.uint8)[..., None], 3, axis=-1)


def _shown(linear: Floats) -> Bytes:
    return np.rint(255 * encode(np.clip(linear, 0, 1))).astype(np.uint8)

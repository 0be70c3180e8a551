"""Going over a sheet, or a part of it, in bands: never more of it is held than a band, however long it is."""

import math
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np

from filmhand.colour.model import InkModel
from filmhand.proof.delivered import Box, DeliveredSheet
from filmhand.proof.look import Bytes, look
from filmhand.proof.magnified import dots_beyond
from filmhand.proof.means import Means, averaged, blended
from filmhand.proof.picture import Scale, picture
from filmhand.proof.view import is_flipped as shown_flipped

_BAND_DOTS: Final = 1 << 23
"""Dots of a plane in a band that becomes means."""
_BAND_PIXELS: Final = 1 << 20
"""Pixels in a band that shows dots."""
_REACH: Final = 3.0
"""Standard deviations beyond which blending brings nothing in."""


def means_in_bands(sheet: DeliveredSheet, box: Box, *, scale: Scale, is_flipped: bool) -> Iterator[Means]:
    """Means of a part of a sheet as the eye blends them, from the top down. `scale.is_mean`."""
    (across, down), blend = scale.block, scale.blend_px(sheet.resolution)
    width, height = scale.size(box.width, box.height)
    halo = 1 + math.ceil(_REACH * blend[0]), 1 + math.ceil(_REACH * blend[1])
    rows = max(1, _BAND_DOTS // ((width + 2 * halo[0]) * across * down))

    def band(top: int) -> Means:
        some = min(rows, height - top)
        inner = Box(box.left, box.top + top * down, width * across, some * down)
        dots = sheet.dots(inner.grown(halo[0] * across, halo[1] * down), is_flipped=is_flipped)
        return blended(averaged(dots, scale.block), blend).cropped((*halo, *halo))

    workers = os.cpu_count() or 1
    with ThreadPoolExecutor(workers, "proof") as pool:
        tops = range(0, height, rows)
        for first in range(0, len(tops), workers):
            yield from pool.map(band, tops[first : first + workers])


def picture_in_bands(sheet: DeliveredSheet, box: Box, view: str, *, scale: Scale, model: InkModel) -> Iterator[Bytes]:
    """Rows of the picture of a part of a sheet, as `view` shows it, from the top down."""
    flipped = shown_flipped(view, mirrored=sheet.facts.mirrored)
    if scale.is_mean:
        for means in means_in_bands(sheet, box, scale=scale, is_flipped=flipped):
            yield look(means, view, model=model)
        return
    margin = dots_beyond(model) if scale.magnified > 1 else 0
    edge = margin * scale.magnified
    rows = max(1, _BAND_PIXELS // (box.width * scale.magnified**2))
    for top in range(0, box.height, rows):
        part = box.rows(top, min(top + rows, box.height)).grown(margin, margin)
        seen = picture(sheet.dots(part, is_flipped=flipped), view, scale=scale, model=model)
        yield np.ascontiguousarray(seen[edge : len(seen) - edge, edge : seen.shape[1] - edge])

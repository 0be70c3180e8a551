"""The preview of a sheet: how it will look on the garments, from the very dots that are printed, right-reading.

A pixel of the preview is a block of dots. The share of the block that carries film, of that film the share each ink covers, and
the white under it, go through the printer's colour model over the garment of the piece that lies there.

White is missing under film for two reasons, and they look different. Thin white is scattered evenly: its dots spread, and what
they hide of the garment together the white's wedge shows. White pulled in from an edge is missing all in one place: there colour
lies on bare garment, and its area mixes with the rest. Counts of white cannot tell the one from the other; those of film within
the choke can. Where nobody counted it, white that a block lacks is taken as thin where film covers the block wholly, and as
pulled in from an edge where it does not.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.appearance import White, appearance
from filmhand.colour.model import InkModel
from filmhand.colour.srgb import srgb_from_xyz, xyz_of_hex
from filmhand.delivery.png import PngWriter
from filmhand.rules import WHITE, is_white

WIDEST: Final = 1200
"""Pixels across, at most."""

_LEAST: Final = 1 / 255
"""Dots in the faintest block of continuous tone."""

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Ground:
    """The garment under one piece: its box on the sheet in dots, right and bottom not included."""

    left: int
    top: int
    right: int
    bottom: int
    garment: str


@dataclass(frozen=True)
class View:
    """What a preview shows. `garment` lies wherever no piece's `grounds` box does; the later of two boxes wins."""

    width: int
    length: int
    resolution: tuple[int, int]
    mirrored: bool
    model: InkModel
    garment: str
    grounds: tuple[Ground, ...]


class PreviewBuilder:
    """Makes the preview band by band. `render` may be called from any thread, `append` takes its results from the top down."""

    def __init__(self, path: Path, view: View, *, group: int) -> None:
        """`group`: dots across that the counts given to `render` are of."""
        self._view = view
        self._groups = -(-view.width // (group * WIDEST))
        self.block = group * self._groups, self._groups_down(view, group)
        pixels = -(-view.width // self.block[0]), -(-view.length // self.block[1])
        resolution = view.resolution[0] / self.block[0], view.resolution[1] / self.block[1]
        self._png = PngWriter(path, width=pixels[0], height=pixels[1], resolution=resolution)
        self._size = pixels
        colours = list(dict.fromkeys([view.garment, *(box.garment for box in view.grounds)]))
        self._grounds = [(box, colours.index(box.garment)) for box in view.grounds]
        self._xyz = np.stack([xyz_of_hex(colour) for colour in colours])
        self._rgb = srgb_from_xyz(self._xyz)

    def __enter__(self) -> Self:
        self._png.__enter__()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._png.__exit__(kind, error, trace)

    def render(self, top: int, film: Floats, inks: Mapping[str, Floats], *, choked: Floats | None = None) -> NDArray[np.uint8]:
        """Rows of the preview, h×w×3 uint8 sRGB, from counts of a band that begins at row `top` of blocks.

        `film`: h × groups float32, dots of film in so many dots across and a block down; `inks`: the same by plane, each ink of
        the model, W, and W2 where there is one; `choked`: the same of film within the choke, where white may lie; None: guessed.
        """
        garment = self._garments(top, len(film))
        film = self._together(film)
        if film.any():
            dots = self._dots_in_blocks(top, len(film))
            laid = {plane: self._together(count) for plane, count in inks.items()}
            room = np.where(film < dots, laid[WHITE], film) if choked is None else self._together(choked)
            shares = np.stack([_share(laid[ink], film) for ink in self._view.model.inks])
            picture = appearance(
                film / dots,
                shares,
                garments=self._xyz,
                model=self._view.model,
                white=White(self._volume(laid, room), _share(room, film)),
                lies_on=garment,
            )
        else:
            picture = self._rgb[garment]
        return picture[:, ::-1] if self._view.mirrored else picture

    def append(self, picture: NDArray[np.uint8]) -> None:
        """Write what `render` made."""
        self._png.append(np.ascontiguousarray(picture))

    def _volume(self, laid: Mapping[str, Floats], room: Floats) -> Floats:
        """Volume of white where there is room for it, from its dots: one layer, or two by both whites, at most."""
        volume_for = self._view.model.opacity.volume_for
        whites = [volume_for(_share(dots, room)) for plane, dots in laid.items() if is_white(plane)]
        return np.asarray(sum(whites), np.float32)

    def _together(self, counts: Floats) -> Floats:
        """Counts by groups into counts by blocks."""
        wanted = self._size[0] * self._groups
        fitted = counts[:, :wanted] if counts.shape[1] >= wanted else np.pad(counts, ((0, 0), (0, wanted - counts.shape[1])))
        return np.asarray(fitted.reshape(len(counts), -1, self._groups).sum(axis=2))

    def _dots_in_blocks(self, top: int, rows: int) -> Floats:
        """How many dots each block has: fewer at the right and the lower edge."""
        across = np.minimum(self.block[0], self._view.width - np.arange(self._size[0]) * self.block[0])
        down = np.minimum(self.block[1], self._view.length - np.arange(top, top + rows) * self.block[1])
        return np.asarray(down[:, None] * across[None], np.float32)

    def _garments(self, top: int, rows: int) -> NDArray[np.uint16]:
        """Which garment lies under each pixel, h×w: places in `_xyz` and `_rgb`."""
        across, down = self.block
        garment = np.zeros((rows, self._size[0]), np.uint16)
        for box, colour in self._grounds:
            first, last = box.top // down - top, -(-box.bottom // down) - top
            if last > 0 and first < rows:
                garment[max(first, 0) : last, box.left // across : -(-box.right // across)] = colour
        return garment

    @staticmethod
    def _groups_down(view: View, group: int) -> int:
        """Rows of dots in a block, so that a pixel of the preview is square on the film, or nearly."""
        across = group * -(-view.width // (group * WIDEST))
        return max(1, round(across * view.resolution[1] / view.resolution[0]))


def _share(part: Floats, whole: Floats) -> Floats:
    """Of dots (h, w), how many are in a part of them: 0 to 1."""
    return np.asarray(np.minimum(part / np.maximum(whole, _LEAST), 1), np.float32)

"""A source's rows as upright RGB and straight alpha: alpha un-multiplied, colour through its profile, orientation honoured."""

from collections.abc import Callable
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork import profile
from filmhand.artwork.source import Alpha, Colour, Source, bands

Pixels = NDArray[np.uint8]
Value = TypeVar("Value", bound=np.generic)

# EXIF 2.32 tag 0x0112: how to bring each stored orientation upright.
_UPRIGHT: Final[dict[int, Callable[[NDArray[Any]], NDArray[Any]]]] = {
    2: lambda p: p[:, ::-1],
    3: lambda p: p[::-1, ::-1],
    4: lambda p: p[::-1],
    5: lambda p: p.transpose(1, 0, 2),
    6: lambda p: p.transpose(1, 0, 2)[:, ::-1],
    7: lambda p: p.transpose(1, 0, 2)[::-1, ::-1],
    8: lambda p: p.transpose(1, 0, 2)[::-1],
}
_WHITES: Final = {Colour.GRAY: (255,), Colour.RGB: (255,) * 3, Colour.CMYK: (0,) * 4, Colour.LAB: (255, 128, 128)}
_SIDEWAYS: Final = frozenset((5, 6, 7, 8))


def to_rgba(source: Source, reading: profile.Reading) -> Pixels:
    """All pixels as stored: h×w×4 uint8, straight alpha, 255 = opaque. RGB stays in an RGB profile's space, else it is sRGB."""
    convert = _to_rgb(source.colour, reading)
    unmixed = _unmixed(source)
    colours = source.colour.channels
    pixels = np.empty((source.height_px, source.width_px, 4), np.uint8)
    for top, bottom in bands(source.height_px):
        rows = source.rows(top, bottom)
        band = pixels[top:bottom]
        if source.alpha is Alpha.NONE:
            band[..., 3] = 255
        else:
            band[..., 3] = rows[..., colours]
        stored = rows[..., :colours]
        band[..., :3] = convert(unmixed(stored, band[..., 3]))
    return pixels


def upright(pixels: NDArray[Value], orientation: int) -> NDArray[Value]:
    """h×w×n pixels as they are meant to be seen, for an EXIF orientation; the array itself where they are already."""
    turn = _UPRIGHT.get(orientation)
    return pixels if turn is None else np.ascontiguousarray(turn(pixels))


def upright_ppi(ppi: tuple[float, float] | None, orientation: int) -> tuple[float, float] | None:
    """Resolution across and down as it is once the picture stands upright."""
    return ppi[::-1] if ppi is not None and orientation in _SIDEWAYS else ppi


def straight(colours: Pixels, alpha: Pixels) -> Pixels:
    """Colours (h×w×n uint8) that were multiplied by alpha (h×w uint8), divided by it again, rounded; black where alpha is 0."""
    divisor = np.maximum(alpha, 1).astype(np.uint16)[..., None]
    wide = colours.astype(np.uint16) * 255
    wide += divisor // 2
    wide //= divisor
    return np.minimum(wide, 255).astype(np.uint8)


def _unmixed(source: Source) -> Callable[[Pixels, Pixels], Pixels]:
    """From stored colours and alpha to the colours alone."""
    if source.alpha is Alpha.ASSOCIATED:
        return straight
    if source.alpha is Alpha.ON_WHITE:
        return lambda colours, alpha: off_white(colours, alpha, _WHITES[source.colour])
    return lambda colours, _: colours


def off_white(colours: Pixels, alpha: Pixels, white: tuple[int, ...]) -> Pixels:
    """Colours (h×w×n uint8) that lie on white (n values) with alpha (h×w uint8), without it, rounded; white where alpha is 0."""
    ground = np.array(white, np.int32)
    divisor = np.maximum(alpha, 1).astype(np.int32)[..., None]
    away = (colours.astype(np.int32) - ground) * 510 + divisor  # half the divisor more, both doubled: rounds to nearest
    return np.clip(ground + away // (2 * divisor), 0, 255).astype(np.uint8)


def _to_rgb(colour: Colour, reading: profile.Reading) -> Callable[[Pixels], Pixels]:
    """From the source's colour channels to RGB (or to what broadcasts to it)."""
    if colour is Colour.CMYK:
        return profile.cmyk_to_srgb(reading.profile)
    if colour is Colour.LAB:
        return profile.lab_to_srgb()
    if colour is Colour.GRAY and reading.profile is not None and reading.profile_colour is Colour.GRAY:
        table = profile.gray_to_srgb(reading.profile)
        return lambda gray: table[gray[..., 0]]
    return lambda colours: colours

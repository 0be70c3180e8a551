"""Pictures for the note: the artwork on the garment, with numbered outlines where findings are; and how it was before mending.

The numbers are the note's.
"""

from typing import Final

import imagecodecs
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from filmhand.artwork.model import Artwork
from filmhand.artwork.profile import rgb_to_srgb
from filmhand.artwork.resample import resampled
from filmhand.preflight.finding import Box, Report, Severity, numbered

MOST_PX: Final = 1200
_BORDER_PX: Final = 36
_SMALL_PX: Final = 560
"""A smaller picture is shown enlarged by whole numbers, its pixels seen as they are."""

_LINE: Final = 1 / 260
"""Width of an outline, as a fraction of the picture's longer side: still seen on a telephone."""

_STAND_OFF: Final = 3.2
"""How far an outline's outer side stands off its place, in widths of it: the smallest speck is still seen inside."""

_BADGE: Final = 1 / 38
"""Radius of a number's disc, likewise."""

_COLOURS: Final = {Severity.WARN: "#b45f06", Severity.HOLD: "#7a3db8", Severity.REJECT: "#c3162a"}
_LIGHT, _DARK = "#ffffff", "#000000"

Point = tuple[float, float]
Sides = tuple[float, float, float, float]
"""Left, top, right, bottom."""


def marked_picture(artwork: Artwork, report: Report, *, garment: str) -> bytes:
    """A PNG, at most 1200 pixels wide and high, of the artwork over the garment's colour ("#rrggbb"), places outlined."""
    shown = _shown(artwork.pixels, artwork.profile)
    canvas = _on_garment(shown, garment)
    draw = ImageDraw.Draw(canvas)
    unit = max(canvas.size) * _LINE
    marks = [
        (number, _COLOURS[finding.severity], _on_canvas(box, shown, _STAND_OFF * unit))
        for number, finding in numbered(report.findings)
        if number is not None
        for box in finding.where
    ]
    for _, colour, sides in reversed(marks):
        _outline(draw, sides, colour, unit)
    radius = max(canvas.size) * _BADGE
    taken: list[Point] = []
    for number, colour, (left, top, _, _) in marks:
        place = _free_place((left - 0.7 * radius, top - 0.7 * radius), taken, radius, canvas.width)
        taken.append(place)
        _badge(draw, place, (str(number), colour), radius)
    return _png(canvas)


def picture_before(pixels: NDArray[np.uint8], *, garment: str, profile: bytes | None = None) -> bytes:
    """A PNG like `marked_picture`'s, without marks, of `Artwork.before`.

    `pixels`: h×w×4 uint8, RGB and alpha, straight, in the space of `profile`, which is the artwork's.
    """
    return _png(_on_garment(_shown(pixels, profile), garment))


def _png(canvas: Image.Image) -> bytes:
    return bytes(imagecodecs.png_encode(np.asarray(canvas)))


def _on_garment(shown: Image.Image, garment: str) -> Image.Image:
    canvas = Image.new("RGB", (shown.width + 2 * _BORDER_PX, shown.height + 2 * _BORDER_PX), garment)
    canvas.paste(shown, (_BORDER_PX, _BORDER_PX), shown)
    return canvas


def _shown(pixels: NDArray[np.uint8], profile: bytes | None) -> Image.Image:
    """Pixels with alpha as sRGB, at a size for looking at."""
    rows, columns = pixels.shape[:2]
    longest = max(rows, columns)
    scale = min(1.0, (MOST_PX - 2 * _BORDER_PX) / longest)
    width, height = max(1, int(columns * scale)), max(1, int(rows * scale))
    picture = Image.fromarray(resampled(pixels, width, height))
    if profile is not None:
        alpha = picture.getchannel("A")
        picture = rgb_to_srgb(picture.convert("RGB"), profile).convert("RGBA")
        picture.putalpha(alpha)
    times = max(1, _SMALL_PX // longest)
    return picture.resize((width * times, height * times), Image.Resampling.NEAREST) if times > 1 else picture


def _on_canvas(box: Box, shown: Image.Image, room: float) -> Sides:
    """An outline around a place, standing off it by `room`."""
    left, top = _BORDER_PX + box.left * shown.width, _BORDER_PX + box.top * shown.height
    right, bottom = left + box.width * shown.width, top + box.height * shown.height
    return left - room, top - room, right + room, bottom + room


def _outline(draw: ImageDraw.ImageDraw, sides: Sides, colour: str, unit: float) -> None:
    """A coloured line between a light and a dark one, so that it is seen on any ground."""
    left, top, right, bottom = sides
    line = max(2, round(unit))
    for outside, ink in ((2, _DARK), (1, _LIGHT), (0, colour)):
        frame = (left - outside, top - outside, right + outside, bottom + outside)
        draw.rounded_rectangle(frame, radius=2 * unit + outside, outline=ink, width=line + 2 * outside)


def _badge(draw: ImageDraw.ImageDraw, centre: Point, label: tuple[str, str], radius: float) -> None:
    x, y = centre
    text, colour = label
    for grown, ink in ((3, _DARK), (2, _LIGHT), (0, colour)):
        r = radius + grown
        draw.ellipse((x - r, y - r, x + r, y + r), fill=ink)
    draw.text((x, y), text, fill=_LIGHT, font=ImageFont.load_default(size=1.3 * radius), anchor="mm")


def _free_place(wanted: Point, taken: list[Point], radius: float, width: int) -> Point:
    """Where a badge goes: outside its outline's upper left corner, or as far right, then down, as others leave room."""
    step, least = 2 * radius + 8, radius + 4
    x, y = max(wanted[0], least), max(wanted[1], least)
    while any(abs(x - other[0]) < step and abs(y - other[1]) < step for other in taken):
        x += step
        if x > width - least:
            x, y = max(wanted[0], least), y + step
    return x, y

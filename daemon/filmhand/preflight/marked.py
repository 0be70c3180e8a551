"""The marked picture: the artwork on the garment, with numbered outlines where findings are. The numbers are the note's."""

from typing import Final

import imagecodecs
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from filmhand.artwork.model import Artwork
from filmhand.artwork.profile import rgb_to_srgb
from filmhand.artwork.resample import resampled
from filmhand.preflight.finding import Box, Report, Severity, numbered

MOST_PX: Final = 1200
_BORDER_PX: Final = 36
_SMALL_PX: Final = 560
"""A smaller picture is shown enlarged by whole numbers, its pixels seen as they are."""

_RADIUS: Final = 15
_ROOM: Final = 6
"""How far outlines stand off what they mark."""

_COLOURS: Final = {Severity.WARN: "#b45f06", Severity.HOLD: "#7a3db8", Severity.REJECT: "#c3162a"}
_LIGHT, _DARK = "#ffffff", "#000000"

Point = tuple[float, float]


def marked_picture(artwork: Artwork, report: Report, *, garment: str) -> bytes:
    """A PNG, at most 1200 pixels wide and high, of the artwork over the garment's colour ("#rrggbb"), places outlined."""
    shown = _shown(artwork)
    canvas = Image.new("RGB", (shown.width + 2 * _BORDER_PX, shown.height + 2 * _BORDER_PX), garment)
    canvas.paste(shown, (_BORDER_PX, _BORDER_PX), shown)
    draw = ImageDraw.Draw(canvas)
    marks = [
        (number, _COLOURS[finding.severity], _on_canvas(box, shown))
        for number, finding in numbered(report.findings)
        if number is not None
        for box in finding.where
    ]
    for _, colour, sides in reversed(marks):
        _outline(draw, sides, colour)
    taken: list[Point] = []
    for number, colour, (left, top, _, _) in marks:
        place = _free_place((left, top), taken, canvas.width)
        taken.append(place)
        _badge(draw, place, str(number), colour)
    return bytes(imagecodecs.png_encode(np.asarray(canvas)))


def _shown(artwork: Artwork) -> Image.Image:
    """The artwork as sRGB with alpha, at a size for looking at."""
    longest = max(artwork.width_px, artwork.height_px)
    scale = min(1.0, (MOST_PX - 2 * _BORDER_PX) / longest)
    width, height = max(1, int(artwork.width_px * scale)), max(1, int(artwork.height_px * scale))
    picture = Image.fromarray(resampled(artwork.pixels, width, height))
    if artwork.profile is not None:
        alpha = picture.getchannel("A")
        picture = rgb_to_srgb(picture.convert("RGB"), artwork.profile).convert("RGBA")
        picture.putalpha(alpha)
    times = max(1, _SMALL_PX // longest)
    return picture.resize((width * times, height * times), Image.Resampling.NEAREST) if times > 1 else picture


def _on_canvas(box: Box, shown: Image.Image) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of an outline around a place."""
    left, top = _BORDER_PX + box.left * shown.width, _BORDER_PX + box.top * shown.height
    right, bottom = left + box.width * shown.width, top + box.height * shown.height
    return left - _ROOM, top - _ROOM, right + _ROOM, bottom + _ROOM


def _outline(draw: ImageDraw.ImageDraw, sides: tuple[float, float, float, float], colour: str) -> None:
    """A coloured line between a light and a dark one, so that it is seen on any ground."""
    left, top, right, bottom = sides
    for inset, width, ink in ((-3, 9, _DARK), (-2, 7, _LIGHT), (0, 3, colour)):
        frame = (left + inset, top + inset, right - inset, bottom - inset)
        draw.rounded_rectangle(frame, radius=8 - inset, outline=ink, width=width)


def _badge(draw: ImageDraw.ImageDraw, centre: Point, text: str, colour: str) -> None:
    x, y = centre
    for grown, ink in ((3, _DARK), (2, _LIGHT), (0, colour)):
        r = _RADIUS + grown
        draw.ellipse((x - r, y - r, x + r, y + r), fill=ink)
    draw.text((x, y), text, fill=_LIGHT, font=ImageFont.load_default(size=19), anchor="mm")


def _free_place(wanted: Point, taken: list[Point], width: int) -> Point:
    """Where a badge goes: at its outline's upper left corner, or as far to the right, then down, as others leave room."""
    step = 2 * _RADIUS + 8
    x, y = max(wanted[0], _RADIUS + 4), max(wanted[1], _RADIUS + 4)
    while any(abs(x - other[0]) < step and abs(y - other[1]) < step for other in taken):
        x += step
        if x > width - step:
            x, y = max(wanted[0], _RADIUS + 4), y + step
    return x, y

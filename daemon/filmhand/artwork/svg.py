"""SVG and SVGZ, drawn by resvg on nothing: no network, no other files, no scripts; as fine as the print needs and no finer."""

import contextlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from resvg import render, usvg

from filmhand.artwork.drawing import Area, Page, drawn
from filmhand.artwork.limit import too_many_pixels
from filmhand.artwork.mapped import mapped
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.pillow import pixel_limit
from filmhand.artwork.refusal import damaged, unreadable
from filmhand.artwork.svg_fonts import UNNAMED, let_stand_in, missing_fonts, stand_in
from filmhand.artwork.svg_safe import MOST_PARTS, Safety, made_safe
from filmhand.artwork.svg_size import PX_MM, SvgSize, raster_ppis, size_of_svg
from filmhand.artwork.svg_text import tree_of, unpacked
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity, passed_above
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase, Words

_BAND_PX: Final = 32_000_000
"""Pixels drawn at a time: each band goes through a PNG, which is how the library hands pixels over."""

SIZE: Final = "size"
MISSING: Final = "svg_missing"
BROWSER: Final = "svg_browser"
MOVING: Final = "pages"
FONTS: Final = "fonts"

_CANNOT_DRAW: Final = Phrase("cannot be drawn")
_NO_SIZE: Final = Phrase("says no size that can be drawn")
_TOO_MANY: Final = Phrase("The drawing copies its parts so often that it cannot be drawn: more than {most:,} parts.")
_TOO_MANY_ADVICE: Final = Phrase("Please send it as a PDF, or as a PNG with a transparent background.")
_MISSING: Final = Phrase(
    "{count} of the drawing's pictures or parts are not in the file itself, or not in a way we can read; they are left out."
)
_MISSING_ADVICE: Final = Phrase("Please embed all pictures in the drawing instead of linking them, or export a PDF.")
_BROWSER: Final = Phrase("{count} parts of the drawing can be drawn only by a web browser; they are left out.")
_BROWSER_ADVICE: Final = Phrase("Please turn them into shapes, or export a PDF.")
_MOVING: Final = Phrase("The drawing moves; it is printed as it stands before it does.")
_FONTS: Final = Phrase("The drawing's lettering asks for fonts that it does not hold: {names}; other letters are drawn instead.")
_FONTS_ADVICE: Final = Phrase("Please turn all lettering into outlines (curves, paths), or export a PDF with its fonts inside.")
_NO_FONT: Final = Phrase("one that is not named")
_PIXELS: Final = Phrase(
    "The drawing gives its size only in pixels, and nobody ordered another. At 96 pixels an inch it is "
    "{width_mm:.0f} × {height_mm:.0f} mm; some programs mean 72, which makes it a third larger."
)
_PIXELS_ADVICE: Final = Phrase("Please state the printed width.")


@dataclass(frozen=True)
class _Opened:
    """A drawing ready to be drawn. `raster_ppi`: of the coarsest picture in it, at its own size."""

    tree: usvg.Tree
    size: SvgSize
    raster_ppi: float | None
    findings: tuple[Finding, ...]


class _CannotDrawError(Exception):
    """The library gave up on the drawing."""


def open_svg(path: Path, *, ticket: Ticket, rule: Rule, printer: Printer) -> Artwork | Finding:
    """Draw an SVG that `fault_of_svg` found whole, or the finding that says why it cannot be drawn."""
    with mapped(path) as data:
        text = unpacked(data)
    if isinstance(text, Phrase):
        return damaged(Kind.SVG.value, text)
    try:
        opened = _opened(tree_of(text), ticket=ticket, rule=rule, printer=printer)
        if isinstance(opened, Finding):
            return opened
        whole = Area(0.0, 0.0, opened.size.width_px, opened.size.height_px)
        page = Page(whole, PX_MM, lambda area, scale: _draw(opened.tree, area, scale), Kind.SVG)
        result = drawn(page, ticket=ticket, rule=rule, printer=printer)
    except (_CannotDrawError, ElementTree.ParseError):
        return damaged(Kind.SVG.value, _CANNOT_DRAW)
    findings = (*opened.findings, *result.findings)
    return Artwork(result.pixels, None, (result.ppi, result.ppi), Kind.SVG, findings, opened.raster_ppi)


def _opened(root: ElementTree.Element, *, ticket: Ticket, rule: Rule, printer: Printer) -> _Opened | Finding:
    safety = made_safe(root)
    if safety.parts > MOST_PARTS:
        return unreadable(_TOO_MANY(most=MOST_PARTS), _TOO_MANY_ADVICE())
    faults = (too_many_pixels(*pixels, rule=rule, printer=printer) for pixels in safety.pictures.values())
    fault = next((fault for fault in faults if fault is not None), None)
    if fault is not None:
        return fault
    size = size_of_svg(root)
    if size is None:
        return damaged(Kind.SVG.value, _NO_SIZE)
    options = usvg.Options.default()
    options.load_system_fonts()
    installed = options.list_fonts()
    missing = missing_fonts(root, installed)
    family = stand_in(installed)
    if family is not None:
        options.font_family = family
        let_stand_in(root, family)
    raster_ppi = min(raster_ppis(root, size, safety.pictures), default=None)
    root.set("width", f"{size.width_px:.9g}")
    root.set("height", f"{size.height_px:.9g}")
    findings = (*_safety_findings(safety), *_font_findings(missing, rule), *_size_findings(size, ticket, rule))
    with _drawing():
        tree = usvg.Tree.from_str(ElementTree.tostring(root, "unicode"), options)
    return _Opened(tree, size, raster_ppi, findings)


def _draw(tree: usvg.Tree, area: Area, scale: float) -> NDArray[np.uint8]:
    """An area with `scale` pixels a CSS pixel: h×w×4 uint8 RGBA, straight alpha, on nothing."""
    width, height = (max(1, round(side * scale)) for side in (area.width, area.height))
    across, down = width / area.width, height / area.height  # whole pixels from edge to edge
    pixels = np.empty((height, width, 4), np.uint8)
    step = max(1, _BAND_PX // width)
    for top in range(0, height, step):
        rows = min(step, height - top)
        # As the library's transform goes: (xx, xy, x0, yx, yy, y0).
        transform = (across, 0.0, -area.left * across, 0.0, down, -area.top * down - top)
        with _drawing():
            packed = render(tree, transform, bg_size=(width, rows))
        with pixel_limit(None), Image.open(io.BytesIO(packed), formats=("PNG",)) as band:
            pixels[top : top + rows] = np.asarray(band)
    return pixels


@contextlib.contextmanager
def _drawing() -> Iterator[None]:
    """The library's errors, and its panics (which are no `Exception`), as one of ours."""
    try:
        yield
    except (ValueError, RuntimeError) as problem:
        raise _CannotDrawError from problem
    except BaseException as problem:
        if type(problem).__name__ != "PanicException":
            raise
        raise _CannotDrawError from problem


def _safety_findings(safety: Safety) -> Iterator[Finding]:
    for name, count, seen, advice in (
        (MISSING, safety.missing, _MISSING, _MISSING_ADVICE),
        (BROWSER, safety.foreign, _BROWSER, _BROWSER_ADVICE),
    ):
        if count:
            yield Finding(name, Severity.HOLD, seen(count=count), advice(), float(count), 0.0)
    if safety.moving:
        yield Finding(MOVING, Severity.NOTE, _MOVING())


def _font_findings(missing: tuple[str, ...], rule: Rule) -> Iterator[Finding]:
    passed = passed_above(rule.preflight.fonts, len(missing))
    if passed is not None:
        names: Words | str = ", ".join(name for name in missing if name != UNNAMED) or _NO_FONT()
        yield Finding(FONTS, passed[0], _FONTS(names=names), _FONTS_ADVICE(), float(len(missing)), passed[1], "fonts")


def _size_findings(size: SvgSize, ticket: Ticket, rule: Rule) -> Iterator[Finding]:
    said = (ticket.width, ticket.height, rule.size.width, rule.size.height)
    if not size.is_real and all(value is None for value in said):
        message = _PIXELS(width_mm=size.width_px * PX_MM, height_mm=size.height_px * PX_MM)
        yield Finding(SIZE, Severity.HOLD, message, _PIXELS_ADVICE())

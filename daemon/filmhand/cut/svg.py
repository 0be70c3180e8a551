"""Cut paths as SVG 1.1 (W3C Recommendation, second edition, 2011), in mm of the delivered TIFF.

The page is the film. Its edge is not drawn: a cutter would cut it.
"""

from collections.abc import Mapping, Sequence
from typing import Final
from xml.etree import ElementTree

from filmhand.cut.contour import Ring
from filmhand.cut.numbers import number, points
from filmhand.cut.paths import CutPath
from filmhand.gang.sheet import Sheet

_SPACE: Final = "http://www.w3.org/2000/svg"
_LINE_MM: Final = 0.1


def svg_of(paths: Sequence[CutPath], *, sheet: Sheet, orders: Mapping[str, str]) -> bytes:
    """One path a copy, its title the order (by job; the job itself where none is known) and the copy."""
    width, length = number(sheet.film_width_mm), number(sheet.length_mm)
    root = ElementTree.Element(
        "svg",
        {"xmlns": _SPACE, "version": "1.1", "width": f"{width}mm", "height": f"{length}mm", "viewBox": f"0 0 {width} {length}"},
    )
    ElementTree.SubElement(root, "title").text = _plain(sheet.name)
    group = ElementTree.SubElement(
        root, "g", {"id": "cut", "fill": "none", "stroke": "#000000", "stroke-width": number(_LINE_MM)}
    )
    for count, path in enumerate(paths, 1):
        line = ElementTree.SubElement(group, "path", {"id": f"cut-{count}", "d": " ".join(map(_closed, path.rings))})
        piece = f", piece {path.part}" if path.part else ""
        ElementTree.SubElement(line, "title").text = _plain(f"{orders.get(path.job, path.job)}, copy {path.copy}{piece}")
    ElementTree.indent(root)
    text: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _closed(ring: Ring) -> str:
    return "M" + " ".join([f"{x},{y}" for x, y in points(ring)]) + "Z"


def _plain(text: str) -> str:
    """Text without the characters that XML 1.0 section 2.2 has no room for."""
    return "".join(sign for sign in text if sign in "\t\n\r" or sign.isprintable())

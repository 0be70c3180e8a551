"""An SVG made safe to draw: nothing that points out of the file, nothing that moves or runs; and what was left out, counted."""

import base64
import binascii
import io
import re
from dataclasses import dataclass, field
from typing import Final
from urllib.parse import unquote_to_bytes
from xml.etree.ElementTree import Element

from PIL import Image

from filmhand.artwork.pillow import DECODING_ERRORS, pixel_limit
from filmhand.artwork.svg_text import SVG

_XLINK: Final = "{http://www.w3.org/1999/xlink}href"
_HREFS: Final = ("href", _XLINK)
_PICTURES: Final = (SVG + "image", SVG + "feImage")
_SCRIPT: Final = SVG + "script"
_FOREIGN: Final = SVG + "foreignObject"
_SWITCH: Final = SVG + "switch"
_USE: Final = SVG + "use"
_MOVING: Final = frozenset(SVG + name for name in ("animate", "animateTransform", "animateMotion", "animateColor", "set"))

_DATA: Final = re.compile(r"\s*data:image/(?:png|jpeg|jpg|gif|webp)((?:;[^,;]*)*),(.*)", re.DOTALL | re.IGNORECASE)

MOST_PARTS: Final = 2_000_000
"""Most elements that may be drawn, copies (`use`) counted: a few nested copies of copies can ask for billions."""


@dataclass
class Safety:
    """What was seen and done. `pictures`: pixel size of each picture inside, by its element."""

    missing: int = 0
    """Pictures and parts that the file only points to, or that cannot be read."""
    foreign: int = 0
    """Parts that only a web browser draws."""
    moving: int = 0
    pictures: dict[Element, tuple[int, int]] = field(default_factory=dict)
    parts: int = 0
    """Elements drawn, copies counted."""


def made_safe(root: Element) -> Safety:
    """Change a drawing's elements in place so that nothing outside the file is asked for, and say what was left out."""
    safety = Safety()
    _clean(root, safety, in_switch=False)
    safety.parts = _parts_drawn(root)
    return safety


def _clean(parent: Element, safety: Safety, *, in_switch: bool) -> None:
    for child in list(parent):
        if not isinstance(child.tag, str) or child.tag == _SCRIPT:
            parent.remove(child)
        elif child.tag == _FOREIGN:
            safety.foreign += 0 if in_switch else 1  # In a switch, another part stands in for it.
            parent.remove(child)
        elif child.tag in _MOVING:
            safety.moving += 1
            parent.remove(child)
        elif child.tag in _PICTURES and not _is_inside(child, safety):
            safety.missing += 1
            parent.remove(child)
        else:
            _cut_links(child, safety)
            _clean(child, safety, in_switch=child.tag == _SWITCH or in_switch)


def _is_inside(picture: Element, safety: Safety) -> bool:
    """Whether a picture's pixels are in the file, in a format we know."""
    address = _address(picture)
    if address.startswith("#"):
        return picture.tag != SVG + "image"  # A filter may draw another part of the drawing.
    size = _size_of(address)
    if size is None:
        return False
    safety.pictures[picture] = size
    return True


def _address(element: Element) -> str:
    return next((element.attrib[name].strip() for name in _HREFS if name in element.attrib), "")


def _size_of(address: str) -> tuple[int, int] | None:
    found = _DATA.match(address)
    if found is None:
        return None
    options, text = found.groups()
    try:
        data = base64.b64decode(unquote_to_bytes(text)) if "base64" in options.lower() else unquote_to_bytes(text)
        with pixel_limit(None), Image.open(io.BytesIO(data), formats=("PNG", "JPEG", "GIF", "WEBP")) as picture:
            return picture.size
    except (*DECODING_ERRORS, binascii.Error):
        return None


def _cut_links(element: Element, safety: Safety) -> None:
    """Addresses other than of parts of the drawing itself are taken off; a copy of what lies elsewhere is missing."""
    if element.tag in _PICTURES:
        return
    for name in _HREFS:
        if name in element.attrib and not element.attrib[name].strip().startswith("#"):
            del element.attrib[name]
            safety.missing += 1 if element.tag == _USE else 0


def _parts_drawn(root: Element) -> int:
    """How many elements are drawn, each copy counted with all that it copies; past MOST_PARTS, some number beyond."""
    by_name = {element.attrib["id"]: element for element in root.iter() if "id" in element.attrib}
    known: dict[Element, int] = {}

    def count(element: Element, within: frozenset[Element]) -> int:
        if element in known:
            return known[element]
        if element in within:
            return 1  # A copy of itself is drawn by nobody.
        target = by_name.get(_address(element).lstrip("#")) if element.tag == _USE else None
        total = 1
        for part in (*element, *(() if target is None else (target,))):
            total = min(MOST_PARTS + 1, total + count(part, within | {element}))
        known[element] = total
        return total

    try:
        return count(root, frozenset())
    except RecursionError:  # Copies of copies of copies, a thousand deep.
        return MOST_PARTS + 1

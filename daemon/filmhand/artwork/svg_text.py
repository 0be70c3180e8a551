"""An SVG's text: unpacked within limits, well-formed to its end, its declarations harmless. Nothing outside the file is read."""

import re
import zlib
from typing import Final
from xml.etree import ElementTree
from xml.parsers import expat

from filmhand.artwork.hole import Bytes
from filmhand.words import Phrase

_MOST_TEXT: Final = 64 << 20
"""More bytes than this are no drawing by hand or program, but a bomb, or a photo that had better come by itself."""

_MOST_DEPTH: Final = 200  # elements within elements; what draws them calls itself for each
_GZIP: Final = b"\x1f\x8b"

# XML 1.0 productions 71 to 76: <!ENTITY name "text"> and <!ENTITY name SYSTEM "address">.
_ENTITY: Final = re.compile(rb"""<!ENTITY\s+(%\s+)?([^\s%"']+)\s+(SYSTEM|PUBLIC|"[^"]*"|'[^']*')""")

SVG: Final = "{http://www.w3.org/2000/svg}"

_CUT: Final = Phrase("stops before its last part is closed")
_PACKED: Final = Phrase("is packed, and its packing is broken")
_LARGE: Final = Phrase("holds more text than any drawing needs")
_DEEP: Final = Phrase("has parts within parts without end")
_UNFOLDS: Final = Phrase("holds declarations that unfold without end")
_OUTSIDE: Final = Phrase("asks for declarations from outside the file")


def fault_of_svg(data: Bytes) -> Phrase | None:
    """What is wrong with an SVG's text, as a clause; None if it is well-formed to its end and safe to read."""
    text = unpacked(data)
    if isinstance(text, Phrase):
        return text
    return _fault_of_declarations(text) or _fault_of_form(text)


def unpacked(data: Bytes) -> bytes | Phrase:
    """The text of an SVG, or of an SVGZ (SVG 2 appendix on media types: packed by gzip); or what is wrong."""
    if data[:2] != _GZIP:
        return _LARGE if len(data) > _MOST_TEXT else bytes(data)
    inflater = zlib.decompressobj(wbits=31)
    try:
        text = inflater.decompress(bytes(data), _MOST_TEXT)
    except zlib.error:
        return _PACKED
    if inflater.unconsumed_tail:
        return _LARGE
    return text if inflater.eof else _PACKED


def tree_of(text: bytes) -> ElementTree.Element:
    """The elements of a text that `fault_of_svg` found no fault with, each in the namespace of SVG if it stands in none."""
    root = ElementTree.fromstring(text)
    for element in root.iter():
        if isinstance(element.tag, str) and not element.tag.startswith("{"):
            element.tag = SVG + element.tag
    return root


def _fault_of_declarations(text: bytes) -> Phrase | None:
    """Drawing programs declare short names for long addresses, which is harmless; entities of entities are bombs."""
    plain = text.decode("utf-16", "replace").encode() if text[:2] in (b"\xff\xfe", b"\xfe\xff") else text
    grown = 0
    for is_parameter, name, value in _ENTITY.findall(plain):
        if value in (b"SYSTEM", b"PUBLIC"):
            return _OUTSIDE
        if is_parameter or b"&" in value.replace(b"&#", b"") or b"<" in value:
            return _UNFOLDS
        grown += len(value) * plain.count(b"&" + name + b";")
    return _UNFOLDS if grown > _MOST_TEXT else None


class _TooDeepError(ValueError):
    """Elements within elements without end."""


def _fault_of_form(text: bytes) -> Phrase | None:
    depth = 0

    def start(_name: str, _attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > _MOST_DEPTH:
            raise _TooDeepError

    def end(_name: str) -> None:
        nonlocal depth
        depth -= 1

    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = start, end
    try:
        parser.Parse(text, True)
    except _TooDeepError:
        return _DEEP
    except (expat.ExpatError, ValueError, LookupError):  # LookupError: an encoding that nobody knows
        return _CUT if parser.ErrorByteIndex >= len(text.rstrip()) - 1 else Phrase("cannot be read as XML to its end")
    return None

"""Whether a PDF holds a font that it uses (ISO 32000-2 section 9.9)."""

import re
from typing import Any, Final

from filmhand.artwork.pdf_objects import entry, items, name, printable

_PROGRAMS: Final = ("/FontFile", "/FontFile2", "/FontFile3")
_SUBSET: Final = re.compile(r"^[A-Z]{6}\+")  # section 9.9.2
_UNNAMED: Final = "?"


def missing_font(font: Any) -> str | None:
    """The name of a font whose letters the file does not hold; None of one that it holds.

    The fourteen standard fonts count too where they are not held: others are drawn in their place. A Type 3 font's letters are
    drawings in the file.
    """
    if name(entry(font, "/Subtype")) == "Type3":
        return None
    holder = next(iter(items(entry(font, "/DescendantFonts"))), font)
    if any(entry(holder, "/FontDescriptor", program) is not None for program in _PROGRAMS):
        return None
    written = name(entry(font, "/BaseFont")) or name(entry(holder, "/FontDescriptor", "/FontName"))
    return printable(_SUBSET.sub("", written)) or _UNNAMED

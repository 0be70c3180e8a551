"""The colorants that a PDF's colour spaces name (ISO 32000-2 section 8.6)."""

from typing import Any, Final

from filmhand.artwork.pdf_objects import entry, items, name

PROCESS: Final = frozenset({"Cyan", "Magenta", "Yellow", "Black"})
NO_INK: Final = frozenset({"All", "None"})
"""Separation /All is for register marks and /None paints nothing: section 8.6.6.4."""

_DEEPEST: Final = 8  # Spaces within spaces: a pattern's, of an indexed one's, of a separation, is three.

_SHORT: Final = {"G": "DeviceGray", "RGB": "DeviceRGB", "CMYK": "DeviceCMYK", "I": "Indexed"}  # Inline images: section 8.9.7


def space_of(value: Any, resources: Any) -> Any:
    """A colour space as an operator or an image names it: the array or the name that it stands for."""
    named = entry(resources, "/ColorSpace", value)
    return value if named is None else named


def family_of(space: Any) -> str:
    """The family's name: "DeviceCMYK", "Separation", "ICCBased" and so on; an empty text where it is none."""
    family = name(space) or name(next(iter(items(space)), None))
    return _SHORT.get(family, family)


def inked_space(space: Any, resources: Any) -> Any:
    """The Separation or DeviceN space that a space is, also beneath an Indexed or Pattern one; None where it is none."""
    for _ in range(_DEEPEST):
        space = space_of(space, resources)
        family, parts = family_of(space), items(space)
        if family in {"Separation", "DeviceN"}:
            return space
        if family not in {"Indexed", "Pattern"} or len(parts) < 2:  # noqa: PLR2004 -- the family and what lies beneath
            return None
        space = parts[1]
    return None


def colorants_of(space: Any, resources: Any) -> tuple[str, ...]:
    """Names of the colorants of a Separation or DeviceN space, also beneath an Indexed or Pattern one; of others none."""
    inked = inked_space(space, resources)
    parts = items(inked)
    if len(parts) < 2:  # noqa: PLR2004 -- the family and its names
        return ()
    return (name(parts[1]),) if family_of(inked) == "Separation" else tuple(name(part) for part in items(parts[1]))


def is_plain_cmyk(space: Any, resources: Any) -> bool:
    """Whether colours are CMYK without a profile, also beneath an Indexed space."""
    space = space_of(space, resources)
    parts = items(space)
    if family_of(space) == "Indexed" and len(parts) > 1:
        space = space_of(parts[1], resources)
    return family_of(space) == "DeviceCMYK"

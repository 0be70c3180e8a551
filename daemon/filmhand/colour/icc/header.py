"""What bytes say they are: the fields of an ICC profile's header that tell what it is for (ICC.1:2010 section 7.2)."""

from dataclasses import dataclass
from typing import Final

_CLASS, _SPACE, _LEADS_TO, _MARK = slice(12, 16), slice(16, 20), slice(20, 24), slice(36, 40)
_HEADER_BYTES: Final = 128


@dataclass(frozen=True)
class Kind:
    """Class ('prtr' output, 'mntr' display, 'scnr' input, 'spac' colour space, 'link' device link, …), the space of the values it
    is given, and the space that these lead to: of a link that of other values, else the profile connection space."""

    device_class: bytes
    space: bytes
    leads_to: bytes


OUTPUT: Final = b"prtr"
LINK: Final = b"link"
COLOURED: Final = frozenset({b"scnr", b"mntr", OUTPUT, b"spac"})
"""Classes whose values mean colours."""


def kind_of(content: bytes) -> Kind | None:
    """What an ICC profile is; None where the bytes are none."""
    if len(content) < _HEADER_BYTES or content[_MARK] != b"acsp":
        return None
    return Kind(content[_CLASS], content[_SPACE], content[_LEADS_TO])

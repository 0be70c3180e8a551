"""Tags of an ICC profile other than tables, and the file around them (ICC.1:2010 sections 7 to 10)."""

import hashlib
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.icc.lut import words
from filmhand.rules import Intent

Floats = NDArray[np.float64]

_HEADER_BYTES: Final = 128
_VERSION: Final = 0x04300000
"""4.3: the profile version of ICC.1:2010."""
_FRACTION: Final = 65536
"""s15Fixed16Number: 65536 stands for 1 (section 4.6)."""
_NAME_BYTES: Final = 32
_NUMBERS: Final = {Intent.PERCEPTUAL: 0, Intent.RELATIVE: 1, Intent.SATURATION: 2, Intent.ABSOLUTE: 3}
_NOT_IN_ID: Final = ((44, 48), (64, 68), (84, 100))
"""Flags, rendering intent and the profile ID itself count as 0 for the profile ID (section 7.2.18)."""


@dataclass(frozen=True)
class Header:
    """What a header says: class, space of the values and of what these lead to (signatures), intent, date of making."""

    kind: bytes
    space: bytes
    leads_to: bytes
    intent: Intent
    created: datetime


def profile(header: Header, tags: Mapping[bytes, bytes]) -> bytes:
    """The whole profile. Tags with the same content share it, as section 7.3.1 lets them."""
    at = _HEADER_BYTES + 4 + 12 * len(tags)
    places: dict[bytes, int] = {}
    rows, contents = [], []
    for signature, content in tags.items():
        if content not in places:
            places[content] = at
            contents.append(content + bytes(-len(content) % 4))
            at += len(contents[-1])
        rows.append(struct.pack(">4sII", signature, places[content], len(content)))
    body = struct.pack(">I", len(tags)) + b"".join(rows) + b"".join(contents)
    return _with_id(_header(header, _HEADER_BYTES + len(body)) + body)


def text(said: str) -> bytes:
    """A `multiLocalizedUnicodeType` with one text, in English."""
    encoded = said.encode("utf-16-be")
    return struct.pack(">4sIII2s2sII", b"mluc", 0, 1, 12, b"en", b"US", len(encoded), 28) + encoded


def xyz(values: Floats) -> bytes:
    """An `XYZType` of one colour (3,)."""
    return struct.pack(">4sI", b"XYZ ", 0) + _fixed(values)


def colorants(names: Sequence[str], lab: Floats) -> bytes:
    """A `colorantTableType`: names of at most 31 letters, and the CIELAB (n, 3) of each full colorant, relative to white.

    In the 16-bit coding of section 6.3.4.2: the older one is lut16Type's and namedColor2Type's alone.
    """
    rows = b"".join(
        name.encode("ascii")[: _NAME_BYTES - 1].ljust(_NAME_BYTES, b"\0") + words(encoded_lab(colour)).astype(">u2").tobytes()
        for name, colour in zip(names, lab, strict=True)
    )
    return struct.pack(">4sII", b"clrt", 0, len(names)) + rows


def encoded_lab(lab: Floats) -> Floats:
    """CIELAB (..., 3) as 0 to 1 (section 6.3.4.2): L* over 0 to 100, a* and b* over -128 to 127."""
    return np.asarray(np.clip((lab + np.array([0, 128, 128])) / [100, 255, 255], 0, 1))


def _header(header: Header, size: int) -> bytes:
    """The 128 bytes of section 7.2; maker, model, flags, attributes, creator and profile ID are 0."""
    facts = struct.pack(">3I", size, 0, _VERSION) + header.kind + header.space + header.leads_to
    date = struct.pack(">6H4s", *header.created.utctimetuple()[:6], b"acsp")
    return facts + date + bytes(24) + struct.pack(">I", _NUMBERS[header.intent]) + _fixed(D50_WHITE) + bytes(48)


def _with_id(content: bytes) -> bytes:
    counted = bytearray(content)
    for start, end in _NOT_IN_ID:
        counted[start:end] = bytes(end - start)
    start, end = _NOT_IN_ID[-1]
    return content[:start] + hashlib.md5(counted, usedforsecurity=False).digest() + content[end:]


def _fixed(values: Floats) -> bytes:
    return np.rint(np.asarray(values) * _FRACTION).astype(">i4").tobytes()

"""Writing TIFF planes as their rows come: every ink's strip of a band is appended to its file, nothing is kept but offsets.

TIFF 6.0 (1992); BigTIFF as libtiff 4 defines it. Strips come first, the directory last, the header's offset to it at the end:
a file that was cut short has no directory, and no reader takes it for whole. docs/decisions/0003-own-tiff-writer.md says why
this is not tifffile's writer.
"""

import struct
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Final, Self

from filmhand.delivery.strips import CODES, MOST_GROWTH
from filmhand.rules import HIGHLIGHT, Compression, Ink

SOFTWARE: Final = "filmhand"
_LARGEST_CLASSIC: Final = (1 << 32) - 1
_ROOM: Final = 1 << 20
"""Bytes left for directory and padding when it is decided whether offsets fit 32 bits."""
_KNOWN_COLOURS: Final = 4
"""Colour channels of Separated that libtiff counts by itself; the further inks are declared as extra samples, unspecified."""

# Field types of TIFF 6.0 section 2; LONG8 is BigTIFF's.
_ASCII, _SHORT, _LONG, _RATIONAL, _LONG8 = 2, 3, 4, 5, 16
_SIZES: Final = {_ASCII: 1, _SHORT: 2, _LONG: 4, _RATIONAL: 8, _LONG8: 8}
_FORMATS: Final = {_SHORT: "H", _LONG: "I", _LONG8: "Q"}

Values = bytes | list[int]


@dataclass(frozen=True)
class TiffFacts:
    """What the directory says. `inks`: letters, one a plane, in file order. `document`: the sheet's name."""

    width: int
    length: int
    bits: int
    inks: tuple[str, ...]
    resolution: tuple[int, int]
    compression: Compression
    rows_per_strip: int
    document: str

    @property
    def bytes_per_row(self) -> int:
        """Of one plane, uncompressed."""
        return -(-self.width * self.bits // 8)

    @property
    def is_big(self) -> bool:
        """Whether it could pass the 4 GiB of classic offsets."""
        return self.bytes_per_row * self.length * len(self.inks) * MOST_GROWTH + _ROOM > _LARGEST_CLASSIC

    @property
    def names(self) -> tuple[str, ...]:
        """The inks' names, as InkNames says them."""
        return tuple(ink_name(letter) for letter in self.inks)


def ink_name(plane: str) -> str:
    """The name of an ink's plane, by its letter; of the second white, "White 2"."""
    return "White 2" if plane == HIGHLIGHT else Ink(plane).name.capitalize()


class TiffWriter:
    """An open file that takes strips, each plane's from the top down, the planes in any order."""

    def __init__(self, path: Path, facts: TiffFacts) -> None:
        self._facts = facts
        self._offsets: list[list[int]] = [[] for _ in facts.inks]
        self._sizes: list[list[int]] = [[] for _ in facts.inks]
        self._file: BinaryIO = path.open("wb", buffering=0)
        self._at = self._file.write(struct.pack("<2sHHHQ", b"II", 43, 8, 0, 0) if facts.is_big else b"II*\0\0\0\0\0")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None) -> None:
        if kind is None:
            self.finish()
        self._file.close()

    def append(self, plane: int, strip: bytes) -> None:
        """Add a plane's next strip, compressed."""
        self._offsets[plane].append(self._at)
        self._sizes[plane].append(len(strip))
        self._write(strip if len(strip) % 2 == 0 else strip + b"\0")  # offsets are even: TIFF 6.0 section 7

    def finish(self) -> None:
        """Write the directory, then its offset into the header."""
        directory = self._at
        self._write(_directory(self._fields(), at=directory, is_big=self._facts.is_big))
        self._file.seek(8 if self._facts.is_big else 4)
        self._file.write(struct.pack("<Q" if self._facts.is_big else "<I", directory))

    def _write(self, data: bytes) -> None:
        view = memoryview(data)
        while view:
            count = self._file.write(view)
            self._at += count
            view = view[count:]

    def _fields(self) -> dict[int, tuple[int, Values]]:
        """Tag by tag: the type and the values. Numbers in comments are sections of TIFF 6.0."""
        facts, long = self._facts, _LONG8 if self._facts.is_big else _LONG
        planes = len(facts.inks)
        several = planes > 1
        fields: dict[int, tuple[int, Values]] = {
            256: (_LONG, [facts.width]),
            257: (_LONG, [facts.length]),
            258: (_SHORT, [facts.bits] * planes),
            259: (_SHORT, [CODES[facts.compression]]),
            262: (_SHORT, [5 if several else 0]),  # Separated (16); WhiteIsZero (3): a dot is 1
            269: (_ASCII, _text(facts.document)),  # DocumentName (12)
            273: (long, [offset for plane in self._offsets for offset in plane]),
            277: (_SHORT, [planes]),
            278: (_LONG, [facts.rows_per_strip]),
            279: (long, [size for plane in self._sizes for size in plane]),
            282: (_RATIONAL, _ratio(facts.resolution[0])),
            283: (_RATIONAL, _ratio(facts.resolution[1])),
            284: (_SHORT, [2 if several else 1]),  # planes one after the other (7)
            296: (_SHORT, [2]),  # inches
            305: (_ASCII, _text(SOFTWARE)),
            332: (_SHORT, [2]),  # InkSet: not CMYK, the names say (16)
            333: (_ASCII, b"".join(_text(name) for name in facts.names)),
            334: (_SHORT, [planes]),  # NumberOfInks
        }
        if not several:
            fields[285] = (_ASCII, _text(facts.names[0]))  # PageName (12), for readers that show no ink names
        if planes > _KNOWN_COLOURS:
            fields[338] = (_SHORT, [0] * (planes - _KNOWN_COLOURS))  # ExtraSamples (18)
        return fields


def _directory(fields: dict[int, tuple[int, Values]], *, at: int, is_big: bool) -> bytes:
    """An image file directory that will lie at an offset; what does not fit its entries follows it."""
    entry, inline = (20, 8) if is_big else (12, 4)
    head = struct.pack("<Q" if is_big else "<H", len(fields))
    after = at + len(head) + entry * len(fields) + inline
    entries, tail = b"", b""
    for tag, (kind, values) in sorted(fields.items()):
        data = values if isinstance(values, bytes) else struct.pack(f"<{len(values)}{_FORMATS[kind]}", *values)
        entries += struct.pack("<HHQ" if is_big else "<HHI", tag, kind, len(data) // _SIZES[kind])
        if len(data) <= inline:
            entries += data.ljust(inline, b"\0")
        else:
            entries += struct.pack("<Q" if is_big else "<I", after + len(tail))
            tail += data + b"\0" * (-len(data) % 8)
    return head + entries + bytes(inline) + tail


def _text(text: str) -> bytes:
    """ASCII, ended by a NUL; what ASCII has not is a question mark."""
    return text.encode("ascii", "replace") + b"\0"


def _ratio(value: int | Fraction) -> bytes:
    return struct.pack("<II", Fraction(value).numerator, Fraction(value).denominator)

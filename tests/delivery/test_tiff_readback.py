"""Reading back: whole sheets pass with their digests, and whatever is not as composed is found."""

import hashlib
from dataclasses import replace
from pathlib import Path
from zlib import crc32

import numpy as np
import pytest

from filmhand.delivery.readback import read_back
from filmhand.delivery.strips import encode
from filmhand.delivery.tiff import TiffFacts, TiffWriter
from filmhand.errors import MachineError
from filmhand.gang.composed import Composed
from filmhand.rules import Compression

INKS = ("C", "M", "Y", "K", "W", "W2")


def sheet(folder: Path, *, bits: int = 1, compression: Compression = Compression.LZW, one_file: bool = False) -> Composed:
    """A small composed sheet of random samples."""
    width, length = 300, 200
    samples = np.random.default_rng(0).integers(0, 1 << bits, (len(INKS), length, width)).astype(np.uint8)
    rows = [range(top, min(top + 64, length)) for top in range(0, length, 64)]
    packed = np.packbits(np.unpackbits(samples[..., None], axis=-1)[..., 8 - bits :].reshape(len(INKS), length, -1), axis=-1)
    files = [("s.tif", INKS)] if one_file else [(f"s_{ink}.tif", (ink,)) for ink in INKS]
    for name, inks in files:
        with TiffWriter(folder / name, TiffFacts(width, length, bits, inks, (720, 600), compression, 64, "s")) as tiff:
            for plane, ink in enumerate(inks):
                for part in rows:
                    tiff.append(plane, encode(np.ascontiguousarray(packed[INKS.index(ink), part]), compression))
    (folder / "preview.png").write_bytes(b"a picture")
    counts = {
        ink: (int(one.sum()),) if bits == 8 else tuple(int(n) for n in np.bincount(one.ravel(), minlength=1 << bits)[1:])
        for ink, one in zip(INKS, samples, strict=True)
    }
    checks = {
        ink: crc32(b"".join(crc32(one[part]).to_bytes(4, "little") for part in rows))
        for ink, one in zip(INKS, packed, strict=True)
    }
    names = tuple(name for name, _ in files)
    return Composed("s", names, "preview.png", INKS, bits, (720, 600), width, length, counts, checks, {}, 0)


@pytest.mark.parametrize(("bits", "compression"), list(zip((1, 2, 8, 1), Compression, strict=True)))
@pytest.mark.parametrize("one_file", [False, True])
def test_a_whole_sheet(tmp_path: Path, bits: int, compression: Compression, one_file: bool) -> None:
    """Every file's SHA-256, as hashlib has it."""
    composed = sheet(tmp_path, bits=bits, compression=compression, one_file=one_file)
    digests = read_back(tmp_path, composed)
    assert set(digests) == {*composed.files, "preview.png"}
    for name, digest in digests.items():
        assert digest == hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()


def test_one_dot_less(tmp_path: Path) -> None:
    """One bit turned in one strip."""
    composed = sheet(tmp_path, compression=Compression.NONE)
    data = bytearray((tmp_path / "s_Y.tif").read_bytes())
    data[5000] ^= 0x10
    (tmp_path / "s_Y.tif").write_bytes(data)
    with pytest.raises(MachineError, match="Y has"):
        read_back(tmp_path, composed)


def test_a_dot_in_another_place(tmp_path: Path) -> None:
    """As many dots as were laid, two of them moved."""
    composed = sheet(tmp_path, compression=Compression.NONE)
    data = bytearray((tmp_path / "s_Y.tif").read_bytes())
    data[5000:5064] = data[5000:5064][::-1]
    (tmp_path / "s_Y.tif").write_bytes(data)
    with pytest.raises(MachineError, match="not where they were laid"):
        read_back(tmp_path, composed)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"width_dots": 301}, "width is 300, not 301"),
        ({"length_dots": 199}, "length"),
        ({"bits": 8}, "bits a sample"),
        ({"resolution": (720, 720)}, "resolution"),
        ({"inks": ("M", "C", "Y", "K", "W")}, "ink names is Cyan, not Magenta"),
    ],
)
def test_another_sheet(tmp_path: Path, change: dict[str, object], message: str) -> None:
    """The directory is held against what was composed."""
    composed = sheet(tmp_path)
    with pytest.raises(MachineError, match=message):
        read_back(tmp_path, replace(composed, **change))  # type: ignore[arg-type]


@pytest.mark.parametrize("cut", [100, 4000])
def test_a_file_cut_short(tmp_path: Path, cut: int) -> None:
    """Bytes lost at the end, where the directory is, or nearly all of them."""
    composed = sheet(tmp_path)
    data = (tmp_path / "s_C.tif").read_bytes()
    (tmp_path / "s_C.tif").write_bytes(data[:-cut])
    with pytest.raises(MachineError, match=r"s_C\.tif"):
        read_back(tmp_path, composed)


def test_a_file_missing(tmp_path: Path) -> None:
    """One ink's file is not there."""
    composed = sheet(tmp_path)
    (tmp_path / "s_W.tif").unlink()
    with pytest.raises(MachineError, match=r"s_W\.tif"):
        read_back(tmp_path, composed)


@pytest.mark.parametrize("compression", [Compression.LZW, Compression.DEFLATE, Compression.PACKBITS])
def test_damaged_strips(tmp_path: Path, compression: Compression) -> None:
    """Any byte of a compressed strip changed: found, by the decoder or by the counts, never a crash."""
    composed = sheet(tmp_path, compression=compression)
    whole = (tmp_path / "s_K.tif").read_bytes()
    for at in range(20, 2000, 90):
        (tmp_path / "s_K.tif").write_bytes(whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :])
        with pytest.raises(MachineError):
            read_back(tmp_path, composed)

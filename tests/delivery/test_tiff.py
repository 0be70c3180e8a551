"""TIFFs of our own writer as others read them: tifffile, Pillow, libtiff's tiffinfo, ImageMagick."""

import shutil
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image

from filmhand.delivery.strips import encode
from filmhand.delivery.tiff import TiffFacts, TiffWriter
from filmhand.rules import Compression

WIDTH, LENGTH = 1001, 130

needs_tiffinfo = pytest.mark.skipif(shutil.which("tiffinfo") is None, reason="needs tiffinfo (Debian libtiff-tools)")
needs_convert = pytest.mark.skipif(shutil.which("convert") is None, reason="needs convert (Debian imagemagick)")

COMBINATIONS = [
    (inks, bits, compression)
    for inks in (("C",), ("W2",), ("C", "M", "Y", "K", "W"), ("C", "M", "Y", "K", "R", "G", "B", "O", "W", "W2"))
    for bits, compression in zip((1, 2, 8, 1), Compression, strict=True)
]


def facts(inks: tuple[str, ...], bits: int, compression: Compression) -> TiffFacts:
    """A small sheet's."""
    return TiffFacts(WIDTH, LENGTH, bits, inks, (720, 1440), compression, 64, "sheet-7")


def write(path: Path, about: TiffFacts) -> NDArray[np.uint8]:
    """Random samples, inks×rows×columns; written strip by strip, each ink's as it comes."""
    samples = np.random.default_rng(1).integers(0, 1 << about.bits, (len(about.inks), LENGTH, WIDTH)).astype(np.uint8)
    samples[:, 20:100, 30:900] = 0
    bit_planes = np.unpackbits(samples[..., None], axis=-1)[..., 8 - about.bits :].reshape(len(about.inks), LENGTH, -1)
    packed = np.packbits(bit_planes, axis=-1)
    with TiffWriter(path, about) as tiff:
        for top in range(0, LENGTH, about.rows_per_strip):
            for plane, rows in enumerate(packed):
                part = np.ascontiguousarray(rows[top : top + about.rows_per_strip])
                tiff.append(plane, encode(part, about.compression))
    return samples


@pytest.mark.parametrize(("inks", "bits", "compression"), COMBINATIONS)
def test_tifffile_reads_it(tmp_path: Path, inks: tuple[str, ...], bits: int, compression: Compression) -> None:
    """Every sample, and the directory: resolution, names, document."""
    path = tmp_path / "a.tif"
    samples = write(path, facts(inks, bits, compression))
    assert np.array_equal(tifffile.imread(path).reshape(samples.shape), samples)
    with tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
        assert page.get_resolution("inch") == (720, 1440)
        assert page.photometric == (0 if len(inks) == 1 else 5)
        assert page.tags["DocumentName"].value == "sheet-7"
        assert page.tags["Software"].value == "filmhand"
        assert page.tags["NumberOfInks"].value == len(inks)
        assert ("White 2" in str(page.tags["InkNames"].value).split("\0")) == ("W2" in inks)


@pytest.mark.outside
@needs_tiffinfo
@pytest.mark.parametrize(("inks", "bits", "compression"), COMBINATIONS)
def test_tiffinfo_has_nothing_to_say(tmp_path: Path, inks: tuple[str, ...], bits: int, compression: Compression) -> None:
    """libtiff reads the directory and every strip (-D) without a warning, and names the inks."""
    path = tmp_path / "a.tif"
    write(path, facts(inks, bits, compression))
    told = subprocess.run(["tiffinfo", "-D", path], capture_output=True, text=True, check=True)
    assert told.stderr == ""
    names = {"C": "Cyan", "M": "Magenta", "Y": "Yellow", "K": "Black", "R": "Red", "G": "Green", "B": "Blue", "O": "Orange"}
    names |= {"W": "White", "W2": "White 2"}
    assert f"Ink Names: {', '.join(names[ink] for ink in inks)}\n" in told.stdout
    assert "Resolution: 720, 1440 pixels/inch" in told.stdout
    assert f"NumberOfInks: {len(inks)}" in told.stdout
    assert "InkSet: 2" in told.stdout
    kind = "min-is-white" if len(inks) == 1 else "separated"
    assert f"Photometric Interpretation: {kind}" in told.stdout


@pytest.mark.parametrize("compression", Compression)
def test_pillow_counts_the_same_dots(tmp_path: Path, compression: Compression) -> None:
    """A 1-bit plane in Pillow, which shows dots dark: so many of them."""
    samples = write(tmp_path / "a.tif", facts(("W",), 1, compression))
    with Image.open(tmp_path / "a.tif") as picture:
        assert picture.mode == "1"
        assert picture.info["dpi"] == (720, 1440)
        assert (~np.asarray(picture)).sum() == samples.sum()


@pytest.mark.parametrize("bits", [2, 8])
def test_pillow_reads_drop_sizes_and_tones(tmp_path: Path, bits: int) -> None:
    """2 and 8 bits in Pillow, which spreads them over 0 to 255 and shows full ink dark."""
    samples = write(tmp_path / "a.tif", facts(("W",), bits, Compression.LZW))[0]
    with Image.open(tmp_path / "a.tif") as picture:
        assert np.array_equal(255 - np.asarray(picture), samples * (255 // ((1 << bits) - 1)))


@pytest.mark.outside
@needs_convert
@pytest.mark.parametrize("bits", [1, 8])
@pytest.mark.parametrize("compression", [Compression.LZW, Compression.DEFLATE])
def test_imagemagick_reads_it(tmp_path: Path, bits: int, compression: Compression) -> None:
    """ImageMagick, through libtiff: the same samples, dots dark. (ImageMagick 6 shows 2 bits a sample the wrong way round.)"""
    samples = write(tmp_path / "a.tif", facts(("K",), bits, compression))[0]
    told = subprocess.run(["convert", tmp_path / "a.tif", "-depth", "8", "gray:-"], capture_output=True, check=True)
    gray = np.frombuffer(told.stdout, np.uint8).reshape(samples.shape)
    assert np.array_equal(255 - gray, samples * (255 // ((1 << bits) - 1)))


@pytest.mark.parametrize(
    ("inks", "bits", "length", "big"),
    [(5, 8, 50_505, True), (5, 8, 30_000, False), (1, 1, 283_465, False), (5, 1, 283_465, True), (5, 1, 141_732, False)],
)
def test_big_when_it_must_be(inks: int, bits: int, length: int, big: bool) -> None:
    """600 mm at 720 dpi is 17008 dots: five 8-bit inks pass 4 GiB at 50505 rows; LZW may grow by half, so it is big sooner."""
    about = TiffFacts(17008, length, bits, ("C", "M", "Y", "K", "W")[:inks], (720, 720), Compression.LZW, 64, "s")
    assert about.is_big is big


def test_big_tiff_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same small sheet written as BigTIFF (version 43): tifffile reads it, and tiffinfo if it is there, without a word."""
    monkeypatch.setattr(TiffFacts, "is_big", True)
    samples = write(tmp_path / "a.tif", facts(("C", "M", "Y", "K", "W"), 1, Compression.LZW))
    assert struct.unpack("<2sH", (tmp_path / "a.tif").read_bytes()[:4]) == (b"II", 43)
    assert np.array_equal(tifffile.imread(tmp_path / "a.tif"), samples)
    if shutil.which("tiffinfo"):
        told = subprocess.run(["tiffinfo", "-D", tmp_path / "a.tif"], capture_output=True, text=True, check=True)
        assert told.stderr == ""


def test_a_file_cut_short_has_no_directory(tmp_path: Path) -> None:
    """What was left unfinished by an error is not a TIFF that anyone opens."""
    with pytest.raises(RuntimeError, match="power"), TiffWriter(tmp_path / "a.tif", facts(("C",), 1, Compression.NONE)) as tiff:
        tiff.append(0, bytes(64 * 126))
        raise RuntimeError("power")
    with pytest.raises((tifffile.TiffFileError, IndexError)), tifffile.TiffFile(tmp_path / "a.tif") as tiff:
        tiff.pages[0].asarray()

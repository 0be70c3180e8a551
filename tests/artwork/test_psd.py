"""PSD and PSB: the merged picture as psd-tools and Pillow read it, its transparency taken off the white it is laid on."""

import io
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field

import imagecodecs
import numpy as np
import pytest
from artwork_files import opened_whole
from PIL import Image, ImageCms

from filmhand.artwork.kind import kind_of
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.whole_psd import fault_of_psd
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule

psd_tools = pytest.importorskip("psd_tools", reason="needs psd-tools, which reads the same files its own way")

Opener = Callable[..., Artwork | Finding]

WHOLE = Rule.model_validate({"title": "t", "size": {"trim": False}})
GRAY, INDEXED, RGB, CMYK, MULTICHANNEL, DUOTONE, LAB = 1, 2, 3, 4, 7, 8, 9


@dataclass
class Made:
    """A PSD to be written as Adobe's file format specification (2019) says. `planes`: n×h×w, uint8 or uint16, as stored."""

    planes: np.ndarray
    mode: int = RGB
    compression: int = 1
    is_large: bool = False
    layers: int = 0
    """Layer count as stored; negative where the first extra channel is the merged picture's transparency."""
    resources: dict[int, bytes] = field(default_factory=dict)
    palette: bytes = b""

    def bytes(self) -> bytes:
        """The file."""
        channels, height, width = self.planes.shape
        bits = self.planes.dtype.itemsize * 8
        long = ">Q" if self.is_large else ">I"
        header = struct.pack(">4sH6xHIIHH", b"8BPS", 2 if self.is_large else 1, channels, height, width, bits, self.mode)
        blocks = b"".join(
            b"8BIM" + struct.pack(">H", number) + b"\0\0" + struct.pack(">I", len(data)) + data + bytes(len(data) % 2)
            for number, data in self.resources.items()
        )
        return b"".join(
            (
                *(header, struct.pack(">I", len(self.palette)), self.palette),
                *(struct.pack(">I", len(blocks)), blocks),
                self._layers(long, bits),
                *(struct.pack(">H", self.compression), self._picture()),
            )
        )

    def _layers(self, long: str, bits: int) -> bytes:
        if not self.layers:
            return struct.pack(long, 0)
        count = abs(self.layers)
        # An empty layer: no rows or columns, no channels, normal mode, no masks, ranges or name.
        record = struct.pack(">4iH", 0, 0, 0, 0, 0) + b"8BIMnorm\xff\0\0\0" + struct.pack(">III4x", 12, 0, 0)
        info = struct.pack(">h", self.layers) + record * count
        info += bytes(-len(info) % 4)
        if bits == 8:
            body = struct.pack(long, len(info)) + info + struct.pack(">I", 0)
        else:  # then the layers stand in a block of their own
            body = struct.pack(long, 0) + struct.pack(">I", 0) + b"8BIMLr16" + struct.pack(long, len(info)) + info
        return struct.pack(long, len(body)) + body

    def _picture(self) -> bytes:
        rows = self.planes.astype(self.planes.dtype.newbyteorder(">")).reshape(-1, self.planes.shape[2])
        if self.compression == 0:
            return rows.tobytes()
        if self.compression == 1:
            packed = [imagecodecs.packbits_encode(row.tobytes()) for row in rows]
            form = ">I" if self.is_large else ">H"
            return b"".join(struct.pack(form, len(row)) for row in packed) + b"".join(packed)
        values = self.planes.reshape(-1, self.planes.shape[2]).copy()
        if self.compression == 3:
            values[:, 1:] -= self.planes.reshape(-1, self.planes.shape[2])[:, :-1]
        return zlib.compress(values.astype(values.dtype.newbyteorder(">")).tobytes())


def _noise(channels: int, seed: int = 1, depth: type = np.uint8) -> np.ndarray:
    rng = np.random.default_rng(seed)
    coarse = rng.integers(0, 256, (channels, 30, 10), dtype=np.uint8).repeat(5, axis=2)  # runs and single values
    return coarse.astype(depth) * (257 if depth is np.uint16 else 1) if depth is np.uint16 else coarse


def _checks(artwork: Artwork) -> dict[str, Severity]:
    return {finding.check: finding.severity for finding in artwork.findings}


@pytest.mark.parametrize("is_large", [False, True])
@pytest.mark.parametrize("compression", [0, 1])
@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_rgb_as_psd_tools_reads_it(opened: Opener, is_large: bool, compression: int, depth: type) -> None:
    """Raw and run-length, 8 and 16 bits, PSD and PSB: psd-tools' own reading of the same bytes, value for value."""
    data = Made(_noise(3, depth=depth), compression=compression, is_large=is_large).bytes()
    artwork = opened_whole(opened(data, rule=WHOLE))
    theirs = psd_tools.PSDImage.open(io.BytesIO(data))
    assert theirs.version == (2 if is_large else 1)
    assert np.array_equal(artwork.pixels[..., :3], np.rint(theirs.numpy("color") * 255))
    assert artwork.kind is Kind.PSD
    assert ("depth" in _checks(artwork)) is (depth is np.uint16)


@pytest.mark.parametrize("compression", [2, 3])
@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_zip_compression(opened: Opener, compression: int, depth: type) -> None:
    """Deflated, plain and as differences: what was written comes back."""
    planes = _noise(3, depth=depth)
    artwork = opened_whole(opened(Made(planes, compression=compression).bytes(), rule=WHOLE))
    assert np.array_equal(artwork.pixels[..., :3], np.moveaxis(_noise(3), 0, -1))


@pytest.mark.parametrize("mode", [GRAY, RGB])
@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_transparency_is_taken_off_white(opened: Opener, mode: int, depth: type) -> None:
    """Stored colour = alpha × colour + (1 - alpha) × white comes back within what 8 bits keep: half a step of 255 / alpha, twice.

    The sign is the negative layer count. Ours agrees with psd-tools', which takes white off too, to the same precision.
    """
    rng = np.random.default_rng(2)
    count = 1 if mode == GRAY else 3
    colours = rng.integers(0, 256, (count, 40, 50)).astype(float)
    alpha = np.arange(2000).reshape(1, 40, 50) % 256
    stored = np.concatenate((colours * alpha / 255 + 255 - alpha, alpha))
    planes = np.rint(stored * (257 if depth is np.uint16 else 1)).astype(depth)
    data = Made(planes, mode=mode, layers=-1).bytes()
    artwork = opened_whole(opened(data, rule=WHOLE))
    assert np.array_equal(artwork.pixels[..., 3], alpha[0])
    seen = alpha[0] > 0
    off = np.abs(artwork.pixels[..., :count] - np.moveaxis(colours, 0, -1))[seen]
    assert np.all(off <= 0.51 * 255 / alpha[0][seen][:, None] + 0.51)
    if mode == RGB and depth is np.uint8:
        theirs = np.asarray(psd_tools.PSDImage.open(io.BytesIO(data)).topil().convert("RGBA")).astype(int)
        assert np.all(np.abs(theirs[..., :3] - artwork.pixels[..., :3])[seen] <= 255 / alpha[0][seen][:, None] + 1)


def test_transparency_that_is_not_laid_on_white_is_left_as_it_is(opened: Opener) -> None:
    """Some programs store straight colours: dark under low alpha, which nothing laid on white can be."""
    planes = np.full((4, 40, 50), 20, np.uint8)
    planes[3] = np.arange(2000).reshape(40, 50) % 256
    artwork = opened_whole(opened(Made(planes, layers=-1).bytes(), rule=WHOLE))
    assert np.all(artwork.pixels[..., :3] == 20)


def test_an_extra_channel_without_the_sign_is_no_transparency(opened: Opener) -> None:
    """A saved selection or a spot colour: layer count positive, or no layers."""
    for layers in (0, 2):
        artwork = opened_whole(opened(Made(_noise(4), layers=layers).bytes(), rule=WHOLE))
        assert np.all(artwork.pixels[..., 3] == 255)
        assert _checks(artwork)["alpha"] is Severity.WARN


def test_cmyk_is_stored_inverted(opened: Opener) -> None:
    """0 is full ink: Pillow's reading of the same bytes, plainly converted; nothing under transparency is no ink."""
    data = Made(_noise(4), mode=CMYK).bytes()
    inks = np.asarray(Image.open(io.BytesIO(data))).astype(float) / 255
    artwork = opened_whole(opened(data, rule=WHOLE))
    assert np.abs(artwork.pixels[..., :3] - 255 * (1 - inks[..., :3]) * (1 - inks[..., 3:])).max() <= 0.51
    assert artwork.source_ink is not None
    half = np.full((5, 20, 20), 255, np.uint8)
    half[1], half[4] = 128, 127  # magenta laid on no ink with alpha one half
    pixels = opened_whole(opened(Made(half, mode=CMYK, layers=-1).bytes(), rule=WHOLE)).pixels
    assert np.abs(pixels[9, 9].astype(int) - (255, 0, 255, 127)).max() <= 1


def test_indexed_with_a_clear_index(opened: Opener) -> None:
    """Colours from the palette, resource 1047 naming the clear one."""
    indices = np.random.default_rng(4).integers(0, 4, (1, 20, 30), dtype=np.uint8)
    table = np.random.default_rng(5).integers(0, 256, (3, 256), dtype=np.uint8)
    made = Made(indices, mode=INDEXED, palette=table.tobytes(), resources={1047: struct.pack(">H", 2)})
    artwork = opened_whole(opened(made.bytes(), rule=WHOLE))
    assert np.array_equal(artwork.pixels[..., :3], table.T[indices[0]])
    assert np.array_equal(artwork.pixels[..., 3] == 0, indices[0] == 2)
    assert np.array_equal(np.asarray(Image.open(io.BytesIO(made.bytes())).convert("RGB")), artwork.pixels[..., :3])


def test_bitmap(opened: Opener) -> None:
    """One bit a pixel, 1 = black, rows padded to bytes: psd-tools reads the same (Pillow the other way round)."""
    bits = np.random.default_rng(6).integers(0, 2, (20, 30), dtype=np.uint8)
    rows = np.packbits(bits, axis=1)
    made = Made(rows[None], mode=0, compression=0).bytes()
    data = made[:18] + struct.pack(">IHH", 30, 1, 0) + made[26:]
    artwork = opened_whole(opened(data, rule=WHOLE))
    assert np.array_equal(artwork.pixels[..., 0], 255 * (1 - bits))
    theirs = psd_tools.PSDImage.open(io.BytesIO(data)).topil()
    assert np.array_equal(np.asarray(theirs.convert("L")), artwork.pixels[..., 0])


def test_resolution_and_profile(opened: Opener) -> None:
    """Resources 1005 (16.16 fixed point, pixels an inch) and 1039, as psd-tools names them."""
    icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    resolution = struct.pack(">IHHIHH", 300 << 16, 2, 2, (150 << 16) + 0x8000, 1, 1)
    data = Made(_noise(3), resources={1005: resolution, 1039: icc}).bytes()
    artwork = opened_whole(opened(data, rule=WHOLE, ticket=Ticket()))
    assert artwork.ppi == (300, 150.5)
    assert artwork.profile == icc
    assert not artwork.findings
    theirs = psd_tools.PSDImage.open(io.BytesIO(data)).image_resources
    assert theirs.get_data(1005).horizontal >> 16 == 300


@pytest.mark.parametrize(
    ("made", "words", "advice"),
    [
        (Made(_noise(3), layers=2, resources={1057: struct.pack(">IB", 1, 0) + bytes(12)}), "no merged picture", "compatibility"),
        (Made(_noise(3), mode=MULTICHANNEL), "ink channels", "RGB"),
        (Made(np.zeros((3, 4, 4), np.uint32)), "32 bits", "RGB"),
    ],
)
def test_what_cannot_be_printed_says_what_to_send(opened: Opener, made: Made, words: str, advice: str) -> None:
    """Saved without its merged picture (resource 1057), separations, 32 bits."""
    finding = opened(made.bytes())
    assert isinstance(finding, Finding)
    assert finding.severity is Severity.REJECT
    assert words in str(finding.message)
    assert advice in str(finding.advice)


WHOLE_FILES = {
    "run-length": Made(_noise(4), layers=-1),
    "raw": Made(_noise(3) | 1, compression=0),
    "large": Made(_noise(3), is_large=True),
    "deflated": Made(_noise(3), compression=2),
}


@pytest.mark.parametrize("name", WHOLE_FILES)
def test_cut_anywhere_is_caught(opened: Opener, name: str) -> None:
    """Cut at 60 places: the check of structure says so, or for a deflated picture the decoder."""
    data = WHOLE_FILES[name].bytes()
    assert fault_of_psd(data) is None
    assert isinstance(opened(data), Artwork)
    for length in np.linspace(30, len(data) - 1, 60).astype(int).tolist():
        assert kind_of(data[:length]) is Kind.PSD
        result = opened(data[:length])
        assert isinstance(result, Finding), length
        assert name == "deflated" or fault_of_psd(data[:length]) is not None


@pytest.mark.parametrize("name", WHOLE_FILES)
def test_changed_bytes_never_raise(opened: Opener, name: str) -> None:
    """Two hundred copies of each with a few bytes changed, half of them in the head: an artwork or a rejection."""
    rng = np.random.default_rng(len(name))
    data = WHOLE_FILES[name].bytes()
    narrow = Rule.model_validate({"title": "t", "gang": {"max_length": "100 mm"}})
    for _ in range(200):
        changed = bytearray(data)
        for place in (*rng.integers(0, len(data), 2), *rng.integers(4, 80, 2)):
            changed[place] = rng.integers(0, 256)
        result = opened(bytes(changed), rule=narrow)
        assert isinstance(result, Artwork) or result.severity is Severity.REJECT

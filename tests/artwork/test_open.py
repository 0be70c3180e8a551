"""Every format opens to the same pixels, or to a finding that says what to send instead."""

import io
import zlib
from collections.abc import Callable
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from artwork_files import encoded, opened_whole, tiff
from PIL import Image, ImageCms

from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.open import open_artwork
from filmhand.errors import MachineError
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

Opener = Callable[..., Artwork | Finding]

WHOLE = Rule.model_validate({"title": "test", "size": {"trim": False}})


def _checks(artwork: Artwork) -> set[str]:
    return {finding.check for finding in artwork.findings}


def test_trimmed_to_the_motif(opened: Opener, crest: Image.Image) -> None:
    """Transparent borders go; the pixels inside stay as they were (Pillow's getbbox names the same box)."""
    artwork = opened_whole(opened(encoded(crest, "PNG")))
    assert np.array_equal(artwork.pixels, np.asarray(crest.crop(crest.getchannel("A").getbbox())))


def test_stray_traces_do_not_count_as_motif(opened: Opener, crest: Image.Image) -> None:
    """Alpha of 7 in a corner (less than 3 %) is not seen and does not widen the box; alpha of 8 does."""
    for alpha, width in ((7, 100), (8, 110)):
        traced = crest.copy()
        traced.putpixel((0, 0), (0, 0, 0, alpha))
        assert opened_whole(opened(encoded(traced, "PNG"))).width_px == width


@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("PNG", {}),
        ("WEBP", {"lossless": True, "exact": True}),
        ("TIFF", {}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("TIFF", {"compression": "tiff_deflate"}),
        ("TIFF", {"compression": "packbits"}),
    ],
)
def test_straight_alpha_comes_through_unchanged(opened: Opener, form: str, options: dict[str, object]) -> None:
    """RGBA of every value, written by Pillow without loss, is read value for value."""
    values = np.random.default_rng(1).integers(0, 256, (40, 60, 4), dtype=np.uint8)
    artwork = opened_whole(opened(encoded(Image.fromarray(values), form, **options), rule=WHOLE))
    assert np.array_equal(artwork.pixels, values)
    assert artwork.kind == {"PNG": Kind.PNG, "WEBP": Kind.WEBP, "TIFF": Kind.TIFF}[form]


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA"])
@pytest.mark.parametrize("form", ["PNG", "TIFF"])
def test_every_mode_is_read_as_pillow_shows_it(opened: Opener, crest: Image.Image, mode: str, form: str) -> None:
    """1-bit, gray, indexed and colour, with and without alpha."""
    data = encoded(crest.convert(mode), form)
    artwork = opened_whole(opened(data, rule=WHOLE))
    assert np.array_equal(artwork.pixels, np.asarray(Image.open(io.BytesIO(data)).convert("RGBA")))


def test_a_transparent_colour_or_index_is_transparent(opened: Opener, crest: Image.Image) -> None:
    """PNG's tRNS chunk, for indexed and for true colour (ISO/IEC 15948 section 11.3.2)."""
    indexed = crest.convert("RGB").quantize(8)
    black = indexed.getpixel((0, 0))
    for data in (
        encoded(indexed, "PNG", transparency=black),
        encoded(crest.convert("RGB"), "PNG", transparency=(0, 0, 0)),
    ):
        alpha = opened_whole(opened(data, rule=WHOLE)).pixels[..., 3]
        assert alpha[0, 0] == 0
        assert alpha[45, 60] == 255


@pytest.mark.parametrize("channels", [1, 2, 3, 4])
def test_16_bits_are_rounded_to_8(opened: Opener, channels: int) -> None:
    """v / 257 rounded, for every 16-bit value, not the upper byte: from PNG and from TIFF; and said."""
    deep = np.arange(65536, dtype=np.uint16).reshape(256, 256)[..., None].repeat(channels, axis=2)
    if channels in (2, 4):
        deep[..., -1] = deep[::-1, ::-1, -1]  # Colours that are equal to alpha everywhere would be multiplied ones.
    expected = np.rint(np.arange(65536) / 257).astype(np.uint8).reshape(256, 256)
    photometric = "minisblack" if channels <= 2 else "rgb"
    options = {"extrasamples": ["unassalpha"]} if channels in (2, 4) else {}
    options |= {"planarconfig": "contig"} if channels > 1 else {}
    for data in (imagecodecs.png_encode(deep), tiff(deep.squeeze(), photometric=photometric, **options)):
        artwork = opened_whole(opened(data, rule=WHOLE))
        assert np.array_equal(artwork.pixels[..., 0], expected)
        assert np.array_equal(artwork.pixels[..., 3], expected[::-1, ::-1] if channels in (2, 4) else np.full_like(expected, 255))
        assert "depth" in _checks(artwork)


@pytest.mark.parametrize("planar", ["contig", "separate"])
@pytest.mark.parametrize("tile", [None, (16, 32)])
@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_tiff_layouts_all_give_the_same(opened: Opener, planar: str, tile: tuple[int, int] | None, depth: type) -> None:
    """Stripped, tiled, interleaved and planar, with alpha."""
    values = np.random.default_rng(2).integers(0, 256, (50, 70, 4), dtype=np.uint8)
    stored = values.astype(depth) * (257 if depth is np.uint16 else 1)
    stored = np.moveaxis(stored, -1, 0) if planar == "separate" else stored
    data = tiff(stored, photometric="rgb", planarconfig=planar, tile=tile, extrasamples=["unassalpha"], compression="zlib")
    assert np.array_equal(opened_whole(opened(data, rule=WHOLE)).pixels, values)


def test_associated_alpha_is_divided_out(opened: Opener) -> None:
    """Colour multiplied by alpha (TIFF 6.0 section 18) comes back within what 8 bits keep: half a step of 255 / alpha."""
    rng = np.random.default_rng(3)
    colour = rng.integers(0, 256, (64, 64, 3)).astype(float)
    alpha = rng.integers(1, 256, (64, 64, 1)).astype(float)
    stored = np.concatenate((np.rint(colour * alpha / 255), alpha), axis=2).astype(np.uint8)
    artwork = opened_whole(opened(tiff(stored, photometric="rgb", extrasamples=["assocalpha"]), rule=WHOLE))
    off = np.abs(artwork.pixels[..., :3] - colour)
    assert np.all(off <= 0.5 * 255 / alpha + 0.5)
    assert np.array_equal(artwork.pixels[..., 3:], alpha)


def test_an_unnamed_extra_channel_is_left_out_and_said(opened: Opener) -> None:
    """TIFF 6.0: ExtraSamples 0 is unspecified data, a spot channel or a saved selection."""
    values = np.random.default_rng(4).integers(0, 256, (20, 20, 4), dtype=np.uint8)
    artwork = opened_whole(opened(tiff(values, photometric="rgb", extrasamples=["unspecified"]), rule=WHOLE))
    assert np.all(artwork.pixels[..., 3] == 255)
    assert "alpha" in _checks(artwork)


def test_white_is_zero_is_turned_over(opened: Opener) -> None:
    """TIFF photometric 0."""
    values = np.arange(256, dtype=np.uint8).reshape(16, 16)
    artwork = opened_whole(opened(tiff(values, photometric="miniswhite"), rule=WHOLE))
    assert np.array_equal(artwork.pixels[..., 1], 255 - values)


@pytest.mark.parametrize(
    ("values", "options", "words"),
    [
        (np.full((8, 8, 3), 1.5, np.float32), {"photometric": "rgb"}, "floating-point"),
        (np.full((8, 8, 3), np.nan, np.float32), {"photometric": "rgb"}, "floating-point"),
        (np.zeros((8, 8), np.int16), {"photometric": "minisblack"}, "cannot be printed"),
        (np.zeros((8, 8), np.uint32), {"photometric": "minisblack"}, "32 bits"),
        (np.zeros((8, 8, 3), np.uint8), {"photometric": "itulab"}, "photometric 10"),
        (np.zeros((8, 8, 6), np.uint8), {"photometric": "separated", "extratags": [(332, 3, 1, 2, True)]}, "6 inks"),
    ],
)
def test_tiffs_that_are_no_picture_are_refused(
    opened: Opener, values: np.ndarray, options: dict[str, object], words: str
) -> None:
    """Light beyond white, signed, 32-bit, ITU Lab and multi-ink TIFFs get a finding that says what to send."""
    finding = opened(tiff(values, **options))
    assert isinstance(finding, Finding)
    assert finding.severity is Severity.REJECT
    assert words in str(finding.message)
    assert "RGB" in str(finding.advice)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("form", ["PNG", "JPEG", "WEBP", "TIFF"])
def test_orientation_is_honoured(opened: Opener, orientation: int, form: str) -> None:
    """All eight of EXIF 2.32, in every format: upright as Pillow's own exif_transpose makes it, resolution turned along."""
    picture = Image.fromarray(np.random.default_rng(6).integers(0, 256, (24, 40), dtype=np.uint8)).resize((80, 48)).convert("RGB")
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"PNG": {}, "JPEG": {"quality": 100, "subsampling": 0}, "WEBP": {"lossless": True}, "TIFF": {}}[form]
    upright = np.asarray(_transposed(picture, orientation))
    artwork = opened_whole(opened(encoded(picture, form, exif=exif, dpi=(200, 300), **options), rule=WHOLE))
    assert artwork.pixels[..., :3].shape == upright.shape
    assert np.abs(artwork.pixels[..., :3].astype(int) - upright).max() <= (6 if form == "JPEG" else 0)
    if artwork.ppi is not None:
        assert artwork.ppi == pytest.approx((300, 200) if orientation >= 5 else (200, 300), rel=1e-3)


def _transposed(picture: Image.Image, orientation: int) -> Image.Image:
    """EXIF 2.32 table of tag 0x0112, by Pillow's transposes."""
    turns = [None, *(Image.Transpose(number) for number in (0, 3, 1, 5, 4, 6, 2))]  # in the order 1, 2, … 8
    turn = turns[orientation - 1]
    return picture if turn is None else picture.transpose(turn)


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "EPS"),
        (b"\xc5\xd0\xd3\xc6" + bytes(40), "EPS"),
        (b"%!PS-Adobe-3.0\r\n%%Creator: Adobe Illustrator(R) 8.0\n", "AI"),
        (b"gimp xcf v011\0", "XCF"),
        (b"\0\0\0\x18ftypheic" + bytes(20), "HEIC"),
        (b"\0\0\0\x18ftypisom" + bytes(20), "video"),
        (b"PK\3\4" + bytes(40), "ZIP"),
        (b"Dear printer,\nplease print this.\n", "text"),
        (b"", "empty"),
        (bytes(5000), "never arrived"),
        (b"\x8f\x02\x11" * 30, "unknown"),
    ],
)
def test_other_kinds_are_named_and_told_what_to_send(opened: Opener, data: bytes, name: str) -> None:
    """Known by content; the advice names what can be opened."""
    finding = opened(data)
    assert isinstance(finding, Finding)
    assert (finding.check, finding.severity) == ("readable", Severity.REJECT)
    assert name in str(finding.message)
    assert "PNG" in str(finding.advice)
    assert "PDF" in str(finding.advice)


def test_a_bomb_is_refused_before_it_is_decoded(tmp_path: Path, crest: Image.Image) -> None:
    """Pixels beyond film width × greatest length × resolution: a PNG that says 200,000 × 100,000, in millimetres."""
    data = bytearray(encoded(crest, "PNG"))
    data[16:24] = (200_000).to_bytes(4, "big") + (100_000).to_bytes(4, "big")
    data[29:33] = zlib.crc32(data[12:29]).to_bytes(4, "big")
    path = tmp_path / "bomb"
    path.write_bytes(data)
    printer = Printer.model_validate({"name": "p", "film_width": "600 mm"})
    rule = Rule.model_validate({"title": "t", "gang": {"max_length": "5 m"}})
    finding = open_artwork(path, ticket=Ticket(), rule=rule, printer=printer)
    assert isinstance(finding, Finding)
    assert "7,056 × 3,528 mm" in str(finding.message)  # 25.4 mm × 200,000 / 720 and half of it
    assert "600 × 5,000 mm" in str(finding.message)


@pytest.mark.parametrize("form", ["PNG", "JPEG", "WEBP", "TIFF"])
def test_pillows_own_limit_does_not_count(opened: Opener, crest: Image.Image, form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Large legal art opens: Pillow's limit is put aside while a file is opened, and is afterwards what it was."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 100)
    picture = crest.convert("RGB") if form == "JPEG" else crest
    compression = {"compression": "group4"} if form == "TIFF" else {}
    assert isinstance(opened(encoded(picture.convert("1") if compression else picture, form, **compression)), Artwork)
    assert Image.MAX_IMAGE_PIXELS == 100


def test_animations_give_their_first_picture_and_say_so(opened: Opener, crest: Image.Image) -> None:
    """APNG, animated WebP, TIFF of several pages."""
    other = Image.new("RGBA", crest.size, (0, 255, 0, 255))
    for form in ("PNG", "WEBP", "TIFF"):
        options = {"lossless": True} if form == "WEBP" else {}
        artwork = opened_whole(opened(encoded(crest, form, save_all=True, append_images=[other], **options)))
        assert tuple(artwork.pixels[35, 50]) == (200, 30, 40, 255)
        assert "pages" in _checks(artwork)


@pytest.mark.parametrize(("form", "stated"), [("PNG", (300, 150)), ("JPEG", (300, 150)), ("TIFF", (300, 150))])
def test_stated_resolution(opened: Opener, crest: Image.Image, form: str, stated: tuple[int, int]) -> None:
    """What the file states is kept; where it states none there is none, though Pillow invents 72 for some JPEGs."""
    picture = crest.convert("RGB")
    assert opened_whole(opened(encoded(picture, form, dpi=stated))).ppi == pytest.approx(stated, rel=1e-3)
    exif = Image.Exif()
    exif[0x010E] = "a title, no resolution"
    assert opened_whole(opened(encoded(picture, "JPEG", exif=exif))).ppi is None


def test_nobody_says_the_size(opened: Opener, crest: Image.Image) -> None:
    """Neither ticket, rule nor file: held. Any of them: not."""
    bare = encoded(crest, "PNG")
    assert any(f.check == "size" and f.severity is Severity.HOLD for f in opened_whole(opened(bare, ticket=Ticket())).findings)
    sized = Rule.model_validate({"title": "t", "size": {"width": "90 mm"}})
    for data, rule, ticket in (
        (bare, None, Ticket.model_validate({"height": "5 cm"})),
        (bare, sized, Ticket()),
        (encoded(crest, "PNG", dpi=(300, 300)), None, Ticket()),
    ):
        assert "size" not in _checks(opened_whole(opened(data, rule=rule, ticket=ticket)))


def test_a_file_that_cannot_be_read_is_ours(tmp_path: Path, printer: Printer) -> None:
    """A missing file is no customer's fault: MachineError with a next step."""
    with pytest.raises(MachineError) as caught:
        open_artwork(tmp_path / "gone.png", ticket=Ticket(), rule=WHOLE, printer=printer)
    assert caught.value.next_step


def test_a_broken_profile_or_exif_does_not_refuse_the_file(opened: Opener, crest: Image.Image) -> None:
    """A damaged profile is ignored and said; damaged EXIF says nothing."""
    broken = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()[:200]
    artwork = opened_whole(opened(encoded(crest, "PNG", icc_profile=broken, exif=b"Exif\0\0II*\0\xff\xff\xff\xff")))
    assert artwork.profile is None
    assert [f.severity for f in artwork.findings if f.check == "profile"] == [Severity.WARN]

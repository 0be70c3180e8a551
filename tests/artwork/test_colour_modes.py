"""Colour modes: read to the right pixels, and what is odd about them said."""

from collections.abc import Callable
from pathlib import Path

import cv2
import imagecodecs
import numpy as np
import pytest
from artwork_files import encoded, opened_whole, tiff
from PIL import Image, ImageCms, ImageDraw, ImageFilter

from filmhand.artwork.model import Artwork
from filmhand.artwork.premultiplied import is_premultiplied
from filmhand.artwork.rgba import off_white
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule

Opener = Callable[..., Artwork | Finding]

WHOLE = Rule.model_validate({"title": "t", "size": {"trim": False}})
PROFILES = Path("/usr/share/color/icc")


def _found(artwork: Artwork, check: str) -> Finding:
    return next(finding for finding in artwork.findings if finding.check == check)


@pytest.mark.parametrize("form", [np.float16, np.float32, np.float64])
@pytest.mark.parametrize("photometric", ["rgb", "minisblack"])
def test_floating_point_from_black_to_white_is_read(opened: Opener, form: type, photometric: str) -> None:
    """0 to 1 becomes 0 to 255, to half a level and the format's own precision; a little beyond is cut off; it is said."""
    values = np.linspace(-0.005, 1.005, 64 * 64 * 3).reshape(64, 64, 3)
    values = values if photometric == "rgb" else values[..., 0]
    pixels = opened_whole(opened(tiff(values.astype(form), photometric=photometric), rule=WHOLE))
    expected = 255 * np.clip(values, 0, 1).reshape(64, 64, -1)
    assert np.abs(pixels.pixels[..., : expected.shape[2]] - expected).max() <= 0.5 + 255 * 2**-11
    assert _found(pixels, "depth").severity is Severity.WARN


def _lab_to_srgb(lab: np.ndarray) -> np.ndarray:
    """CIELAB of D50 to sRGB, 0 to 255: CIE 15 for XYZ, ICC.1:2010 for D50, Bradford's matrix to D65, IEC 61966-2-1."""
    fy = (lab[..., 0] + 16) / 116
    f = np.stack((fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200), axis=-1)
    xyz = np.where(f > 6 / 29, f**3, (f - 4 / 29) * 3 * (6 / 29) ** 2) * (0.9642, 1.0, 0.8249)
    # XYZ (D50) to linear sRGB, Bradford-adapted: published to seven digits on Lindbloom's pages of RGB/XYZ matrices.
    to_rgb = [[3.1338561, -1.6168667, -0.4906146], [-0.9787684, 1.9161415, 0.0334540], [0.0719453, -0.2289914, 1.4052427]]
    linear = np.clip(xyz @ np.array(to_rgb).T, 0, 1)
    return 255 * np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize("depth", [8, 16])
@pytest.mark.parametrize("photometric", ["cielab", "icclab"])
def test_cielab_becomes_srgb(opened: Opener, depth: int, photometric: str) -> None:
    """TIFF 6.0 section 23, and the variant with offset a* and b*: within two levels of the published formulas, inside sRGB."""
    lightness, a, b = np.meshgrid(np.arange(30, 80, 5), np.arange(-20, 25, 5), np.arange(-20, 25, 5), indexing="ij")
    lab = np.stack((lightness, a, b), axis=-1).reshape(10, -1, 3)
    if depth == 8:
        lightness, step, form = np.rint(lab[..., :1] * 2.55), 1, np.uint8
    else:
        lightness, step, form = np.rint(lab[..., :1] * (652.80 if photometric == "icclab" else 655.35)), 256, np.uint16
    offset = 128 * step if photometric == "icclab" else 0
    stored = np.concatenate((lightness, (lab[..., 1:] * step + offset) % (256 * step)), axis=-1).astype(form)
    artwork = opened_whole(opened(tiff(stored, photometric=photometric), rule=WHOLE))
    if depth == 8:
        lab = lab.astype(float)
        lab[..., :1] = lightness / 2.55
    expected = _lab_to_srgb(lab.astype(float))
    inside = (expected > 1).all(axis=-1) & (expected < 254).all(axis=-1)
    assert inside.mean() > 0.9
    assert np.abs(artwork.pixels[..., :3] - expected)[inside].max() <= 2
    assert artwork.profile is None
    assert not artwork.findings if depth == 8 else artwork.findings


def test_pillow_writes_the_same_cielab(opened: Opener) -> None:
    """A LAB picture saved by Pillow (libtiff's photometric 8) comes back as LittleCMS shows it."""
    lab = np.random.default_rng(1).integers(60, 190, (20, 20, 3), dtype=np.uint8)
    picture = Image.fromarray(lab, "LAB")
    lab_profile, srgb, exact = ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), ImageCms.Flags.NOOPTIMIZE
    transform = ImageCms.buildTransform(lab_profile, srgb, "LAB", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC, exact)
    shown = np.asarray(ImageCms.applyTransform(picture, transform))
    artwork = opened_whole(opened(encoded(picture, "TIFF"), rule=WHOLE))
    assert np.abs(artwork.pixels[..., :3].astype(int) - shown).max() <= 1


@pytest.mark.parametrize("marked", [True, False])
def test_cmyk_jpeg_as_libjpeg_turbo_has_it(opened: Opener, marked: bool) -> None:
    """The inks as imagecodecs' libjpeg decodes them, turned over where the Adobe marker says so (libjpeg.txt)."""
    inks = np.random.default_rng(2).integers(0, 256, (6, 8, 4), dtype=np.uint8).repeat(16, axis=0).repeat(16, axis=1)
    data = encoded(Image.fromarray(inks, "CMYK"), "JPEG", quality=98, subsampling=0)
    if not marked:
        at = data.find(b"\xff\xee")
        data = data[:at] + data[at + 2 + int.from_bytes(data[at + 2 : at + 4], "big") :]
    raw = imagecodecs.jpeg8_decode(data, colorspace="CMYK", outcolorspace="CMYK").astype(float)
    stored = (255 - raw if marked else raw) / 255
    expected = 255 * (1 - stored[..., :3]) * (1 - stored[..., 3:])
    artwork = opened_whole(opened(data, rule=WHOLE))
    assert np.abs(artwork.pixels[..., :3] - expected).max() <= 3
    assert artwork.source_ink is not None


def test_gray_with_alpha_and_one_bit_as_opencv_reads_them(opened: Opener, crest: Image.Image) -> None:
    """LA and 1-bit PNG by OpenCV's own decoder."""
    for mode in ("LA", "1"):
        data = encoded(crest.convert(mode), "PNG")
        theirs = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
        pixels = opened_whole(opened(data, rule=WHOLE)).pixels
        gray = cv2.cvtColor(theirs, cv2.COLOR_BGR2GRAY) if theirs.ndim == 3 else theirs
        assert np.array_equal(pixels[..., 0], gray)
        assert np.array_equal(pixels[..., 3], theirs[..., 3] if theirs.ndim == 3 else np.full_like(gray, 255))


def _drawn(colour: tuple[int, int, int], glow: bool) -> np.ndarray:
    """A ring and lettering strokes in one colour with smooth edges, or as a wide glow: h×w×4 uint8, straight."""
    mask = Image.new("L", (400, 300))
    pen = ImageDraw.Draw(mask)
    pen.ellipse((40, 30, 260, 250), outline=255, width=30)
    pen.line((300, 20, 350, 280), fill=255, width=12)
    mask = mask.filter(ImageFilter.GaussianBlur(12 if glow else 1))
    pixels = np.empty((300, 400, 4), np.uint8)
    pixels[..., :3] = colour
    pixels[..., 3] = np.asarray(mask)
    return pixels


def _multiplied(pixels: np.ndarray) -> np.ndarray:
    """Colours times alpha, rounded: Porter and Duff 1984's premultiplied colour."""
    result = pixels.copy()
    result[..., :3] = np.rint(pixels[..., :3].astype(float) * pixels[..., 3:] / 255)
    return result


COLOURS = [(255, 255, 255), (200, 30, 40), (0, 90, 160), (250, 220, 0), (90, 90, 90), (30, 30, 30), (0, 0, 0)]


@pytest.mark.parametrize("glow", [False, True])
@pytest.mark.parametrize("colour", COLOURS)
def test_multiplied_alpha_is_told_from_straight(opened: Opener, colour: tuple[int, int, int], glow: bool) -> None:
    """Straight drawings of any colour are left as they are, dark ones too; multiplied ones come back, and it is said.

    A colour that 8 bits kept as m of alpha a is known to half a step of 255 / a.
    """
    pixels = _drawn(colour, glow)
    straight = opened_whole(opened(encoded(Image.fromarray(pixels), "PNG"), rule=WHOLE))
    assert np.array_equal(straight.pixels, pixels)
    assert not any(finding.check == "alpha" for finding in straight.findings)
    multiplied = opened_whole(opened(encoded(Image.fromarray(_multiplied(pixels)), "PNG"), rule=WHOLE))
    seen = pixels[..., 3] > 0
    is_said = any(finding.check == "alpha" for finding in multiplied.findings)
    assert is_said or max(colour) < 128
    if is_said:
        off = np.abs(multiplied.pixels[..., :3] - pixels[..., :3].astype(float))[seen]
        assert np.all(off <= 0.5 * 255 / pixels[seen][:, 3:] + 0.51)
        assert _found(multiplied, "alpha").severity is Severity.WARN


def test_mixed_drawings_and_photographs(photo: Image.Image) -> None:
    """A bright drawing with a black shadow beside it, a photograph faded out: straight is straight, multiplied is multiplied."""
    shadow, front = (
        Image.fromarray(np.roll(_drawn((0, 0, 0), glow=True), 20, axis=(0, 1))),
        Image.fromarray(_drawn((240, 60, 0), glow=False)),
    )
    both = np.asarray(Image.alpha_composite(shadow, front))
    faded = np.asarray(photo.resize((400, 300)).convert("RGBA")).copy()
    faded[..., 3] = np.linspace(0, 255, 400)[None, :].astype(np.uint8)
    for pixels in (both, faded):
        assert not is_premultiplied(pixels)
        assert is_premultiplied(_multiplied(pixels))
    panel = _drawn((100, 90, 60), glow=False)
    panel[20:280, 20:380] = (100, 90, 60, 128)  # darker than its alpha, and straight: its smooth edges tell
    assert not is_premultiplied(panel)
    opaque = np.asarray(photo.convert("RGBA"))
    assert not is_premultiplied(opaque)


def test_white_is_taken_off_exactly() -> None:
    """All colours and alphas: c·a + 255·(1 - a) without rounding error gives c back; transparent becomes white."""
    alpha, colour = np.meshgrid(np.arange(256), np.arange(256))
    stored = np.rint((colour * alpha + 255 * (255 - alpha)) / 255).astype(np.uint8)
    taken = off_white(stored[..., None], alpha.astype(np.uint8), (255,))[..., 0]
    assert np.all(taken[:, 0] == 255)
    assert np.all(np.abs(taken[:, 1:] - colour[:, 1:].astype(float)) <= 0.5 * 255 / alpha[:, 1:] + 0.5)


def _of_class(mark: bytes) -> bytes:
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    profile[12:16] = mark
    return bytes(profile)


@pytest.mark.parametrize(
    ("mark", "severity", "words"), [(b"prtr", Severity.WARN, "printer"), (b"scnr", Severity.NOTE, "scanner"), (b"mntr", None, "")]
)
def test_profiles_of_devices_are_followed_and_said(
    opened: Opener, crest: Image.Image, mark: bytes, severity: Severity | None, words: str
) -> None:
    """Profile classes of ICC.1:2010 section 7.2.5 on an RGB picture."""
    artwork = opened_whole(opened(encoded(crest, "PNG", icc_profile=_of_class(mark))))
    assert [finding.severity for finding in artwork.findings] == ([] if severity is None else [severity])
    assert artwork.profile is not None
    assert all(words in str(finding.message) for finding in artwork.findings)


@pytest.mark.outside
@pytest.mark.skipif(not (PROFILES / "ghostscript").is_dir(), reason="needs the profiles of Debian libgs-common")
def test_odd_tones_are_noted_and_working_spaces_are_not(opened: Opener, crest: Image.Image) -> None:
    """Linear light (scRGB) is odd; sRGB, Adobe RGB (1998) and ROMM RGB are not: their files as Debian ships them."""
    for name, gamma in (("scrgb", 1.0), ("srgb", None), ("a98", None), ("rommrgb", None)):
        icc = (PROFILES / "ghostscript" / f"{name}.icc").read_bytes()
        artwork = opened_whole(opened(encoded(crest, "PNG", icc_profile=icc)))
        assert bool(artwork.findings) is (gamma is not None), name
        assert all("gamma 1.0" in str(finding.message) for finding in artwork.findings)


def test_a_screens_own_profile_is_said(opened: Opener, crest: Image.Image) -> None:
    """A profile whose blue curve is bent, as calibrations bend them: R = G = B is no gray there."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    count = int.from_bytes(profile[128:132], "big")
    entries = {bytes(profile[132 + 12 * n : 136 + 12 * n]): 136 + 12 * n for n in range(count)}
    curve = b"curv" + bytes(4) + (1).to_bytes(4, "big") + (int(1.4 * 256)).to_bytes(2, "big") + bytes(2)
    profile[entries[b"bTRC"] : entries[b"bTRC"] + 8] = len(profile).to_bytes(4, "big") + len(curve).to_bytes(4, "big")
    profile += curve
    profile[:4] = len(profile).to_bytes(4, "big")
    artwork = opened_whole(opened(encoded(crest, "PNG", icc_profile=bytes(profile))))
    assert [(finding.check, finding.severity) for finding in artwork.findings] == [("profile", Severity.WARN)]
    assert "screen" in str(artwork.findings[0].message)


def test_a_gray_profile_in_a_colour_picture_is_said(opened: Opener, crest: Image.Image) -> None:
    """It is left aside, with a warning."""
    gray = Path(PROFILES / "ghostscript" / "default_gray.icc")
    if not gray.is_file():
        pytest.skip("needs default_gray.icc (Debian libgs-common)")
    artwork = opened_whole(opened(encoded(crest, "PNG", icc_profile=gray.read_bytes())))
    assert artwork.profile is None
    assert "not made for RGB" in str(_found(artwork, "profile").message)

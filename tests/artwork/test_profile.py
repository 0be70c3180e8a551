"""Embedded ICC profiles: honoured, converted by LittleCMS, or ignored with a warning."""

import io
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile
from artwork_files import encoded
from PIL import Image, ImageCms

from filmhand.artwork.model import Artwork
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule

Opener = Callable[..., Artwork | Finding]

WHOLE = Rule.model_validate({"title": "test", "size": {"trim": False}})
PROFILES = Path("/usr/share/color/icc/ghostscript")
CMYK = PROFILES / "default_cmyk.icc"
GRAY = PROFILES / "default_gray.icc"

needs_profiles = pytest.mark.skipif(not CMYK.is_file(), reason="needs default_cmyk.icc (Debian libgs-common)")
needs_transicc = pytest.mark.skipif(shutil.which("transicc") is None, reason="needs transicc (Debian liblcms2-utils)")

INKS = np.array(
    [
        *([0, 0, 0, 0], [255, 0, 0, 0], [0, 255, 0, 0], [0, 0, 255, 0], [0, 0, 0, 255], [255, 255, 0, 0], [51, 102, 153, 26]),
        *([204, 153, 102, 51], [13, 13, 13, 128], [128, 90, 77, 13], [0, 230, 204, 0], [102, 0, 230, 77], [255, 255, 255, 255]),
    ],
    np.uint8,
)


def _pixels(result: Artwork | Finding) -> np.ndarray:
    assert isinstance(result, Artwork), result
    return result.pixels


def _transicc(values: np.ndarray, profile: Path) -> np.ndarray:
    """What LittleCMS's own calculator makes of device values (0 to 255): relative colorimetric, black point compensated, sRGB.

    `-n` terse, `-t1` intent, `-b` black point compensation, `-s` bounded; it takes inks as percentages and gray from 0 to 255.
    """
    scale = 2.55 if values.shape[1] == 4 else 1
    lines = "\n".join(" ".join(f"{value / scale:.6f}" for value in row) for row in values)
    command = ["transicc", "-n", "-t1", "-b", "-s", f"-i{profile}", "-o*sRGB"]
    output = subprocess.run(command, input=lines + "\n", capture_output=True, text=True, check=False).stdout
    return np.array([[float(value) for value in line.split()] for line in output.splitlines() if line.strip()][: len(values)])


@pytest.mark.outside
@needs_profiles
@needs_transicc
@pytest.mark.parametrize("form", ["TIFF", "TIFF 16", "TIFF alpha", "JPEG"])
def test_cmyk_becomes_srgb_as_transicc_says(opened: Opener, form: str) -> None:
    """Every form of CMYK file, through its profile, within two levels of LittleCMS 2's own calculator.

    Pillow lets LittleCMS sample the transform to a 3D table for 8 bits, transicc does not: that is the two levels.
    """
    picture = np.repeat(np.repeat(INKS[None], 16, axis=0), 16, axis=1)
    data = _cmyk_file(picture, form)
    found = _pixels(opened(data, rule=WHOLE))[8, 8::16, :3].astype(float)
    expected = _transicc(INKS, CMYK)
    assert np.abs(found - expected).max() <= (5 if form == "JPEG" else 2)


def _cmyk_file(picture: np.ndarray, form: str) -> bytes:
    icc = CMYK.read_bytes()
    if form == "JPEG":
        return encoded(Image.fromarray(picture, "CMYK"), "JPEG", quality=100, subsampling=0, icc_profile=icc)
    file = io.BytesIO()
    if form == "TIFF alpha":
        picture = np.concatenate((picture, np.full_like(picture[..., :1], 200)), axis=2)
        options = {"extrasamples": ["unassalpha"], "planarconfig": "contig"}
        tifffile.imwrite(file, picture, photometric="separated", iccprofile=icc, **options)
    else:
        values = picture.astype(np.uint16) * 257 if form == "TIFF 16" else picture
        tifffile.imwrite(file, values, photometric="separated", iccprofile=icc)
    return file.getvalue()


@pytest.mark.outside
@needs_profiles
@needs_transicc
def test_gray_becomes_srgb_as_transicc_says(opened: Opener) -> None:
    """Each gray value through a gray profile, within one level of LittleCMS's calculator."""
    ramp = np.arange(256, dtype=np.uint8)
    data = encoded(Image.fromarray(ramp[None].repeat(4, axis=0)), "PNG", icc_profile=GRAY.read_bytes())
    found = _pixels(opened(data, rule=WHOLE))[0, :, :3].astype(float)
    assert np.abs(found - _transicc(ramp[:, None], GRAY)).max() <= 1


@needs_profiles
def test_alpha_of_cmyk_comes_through(opened: Opener) -> None:
    """The fifth channel of a CMYK TIFF is its alpha."""
    assert np.all(_pixels(opened(_cmyk_file(INKS[None].repeat(4, axis=0), "TIFF alpha"), rule=WHOLE))[..., 3] == 200)


def test_cmyk_without_a_profile_is_converted_plainly_and_said(opened: Opener) -> None:
    """R = (1 - C)(1 - K) and so on; a warning asks for RGB."""
    file = io.BytesIO()
    tifffile.imwrite(file, INKS[None].repeat(4, axis=0), photometric="separated", planarconfig="contig")
    artwork = opened(file.getvalue(), rule=WHOLE)
    inks = INKS.astype(float) / 255
    expected = 255 * (1 - inks[:, :3]) * (1 - inks[:, 3:])
    assert np.abs(_pixels(artwork)[0, :, :3] - expected).max() <= 0.5 + 1e-9
    assert [(f.check, f.severity) for f in artwork.findings] == [("profile", Severity.WARN)]


def test_inverted_cmyk_jpegs_are_turned_over(opened: Opener) -> None:
    """With the Adobe marker CMYK is stored inverted; without the marker it is not (libjpeg.txt, "Special color spaces")."""
    picture = Image.new("CMYK", (32, 32), (0, 255, 255, 0))
    marked = encoded(picture, "JPEG", quality=100)
    marker = marked.find(b"\xff\xee")
    length = int.from_bytes(marked[marker + 2 : marker + 4], "big")
    unmarked = marked[:marker] + marked[marker + 2 + length :]
    red, cyan = (_pixels(opened(data, rule=WHOLE))[16, 16, :3].astype(int) for data in (marked, unmarked))
    assert np.abs(red - (255, 0, 0)).max() <= 2
    assert np.abs(cyan - (0, 0, 0)).max() <= 2  # stored 255, 0, 0, 255 taken as it stands: cyan under full black


def test_an_rgb_profile_is_kept_with_its_pixels(opened: Opener, crest: Image.Image) -> None:
    """RGB is not converted on opening: the profile goes on with the artwork, and nothing is said."""
    icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for form in ("PNG", "TIFF", "WEBP"):
        artwork = opened(encoded(crest, form, icc_profile=icc))
        assert isinstance(artwork, Artwork)
        assert artwork.profile == icc
        assert not artwork.findings
    gray = opened(encoded(crest.convert("L"), "PNG", icc_profile=icc))
    assert isinstance(gray, Artwork)
    assert gray.profile == icc


def test_a_profile_of_the_wrong_kind_is_ignored_and_said(opened: Opener, crest: Image.Image) -> None:
    """A CIELAB profile, or one whose header calls it a device link (ICC.1:2010 section 7.2.5), on an RGB picture."""
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    link = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    link[12:16] = b"link"
    for icc in (lab, bytes(link)):
        artwork = opened(encoded(crest, "PNG", icc_profile=icc))
        assert isinstance(artwork, Artwork)
        assert artwork.profile is None
        assert [(f.check, f.severity) for f in artwork.findings] == [("profile", Severity.WARN)]
        assert "not made for RGB" in str(artwork.findings[0].message)


def test_no_profile_is_said_unless_the_file_says_srgb_otherwise(opened: Opener, crest: Image.Image) -> None:
    """A note; none where EXIF's ColorSpace is 1."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 1
    plain, told = opened(encoded(crest.convert("RGB"), "JPEG")), opened(encoded(crest.convert("RGB"), "JPEG", exif=exif))
    assert isinstance(plain, Artwork)
    assert isinstance(told, Artwork)
    assert [(f.check, f.severity) for f in plain.findings] == [("profile", Severity.NOTE)]
    assert not told.findings

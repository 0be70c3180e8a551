"""Profiles against LittleCMS's own command line, and what is refused."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.colour.choose import ink_model
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.profile import ProfileModel
from filmhand.colour.source import xyz_of_source
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules, Ink, Intent, Printer

CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
A98 = Path("/usr/share/color/icc/ghostscript/a98.icc")
needs_profile = pytest.mark.skipif(not CMYK.exists(), reason="needs default_cmyk.icc (Debian libgs-common)")
needs_transicc = pytest.mark.skipif(shutil.which("transicc") is None, reason="needs transicc (Debian liblcms2-utils)")


def transicc(values: NDArray[np.float64], *options: str) -> NDArray[np.float64]:
    """LittleCMS's calculator: rows in, rows out."""
    text = "\n".join(" ".join(f"{value:.6f}" for value in row) for row in values) + "\n"
    done = subprocess.run(["transicc", "-n", *options], input=text, capture_output=True, text=True, check=True)
    return np.array([[float(x) for x in line.split()] for line in done.stdout.splitlines() if line.strip()])


@needs_profile
@needs_transicc
@pytest.mark.outside
def test_inks_to_colour() -> None:
    """The A2B table for relative colorimetry, within ΔE00 0.01."""
    inks = np.random.default_rng(8).random((200, 4))
    expected = transicc(inks * 100, f"-i{CMYK}", "-o*Lab", "-t1")
    found = lab_from_xyz(ProfileModel(CMYK.read_bytes()).xyz(inks))
    assert difference(found, expected).max() < 0.01


@needs_profile
@needs_transicc
@pytest.mark.outside
@pytest.mark.parametrize(("intent", "number"), [(Intent.PERCEPTUAL, 0), (Intent.RELATIVE, 1), (Intent.SATURATION, 2)])
@pytest.mark.parametrize("bpc", [False, True])
def test_colour_to_inks(intent: Intent, number: int, bpc: bool) -> None:
    """The B2A table for each intent, with and without black point compensation, within 0.15 % of ink."""
    rgb = np.random.default_rng(9).integers(0, 256, (200, 3), np.uint8)
    rules = ColourRules(intent=intent, black_point_compensation=bpc, ink_limit=400)
    expected = transicc(rgb.astype(float), "-i*sRGB", f"-o{CMYK}", f"-t{number}", *(["-b"] if bpc else []))
    xyz = xyz_of_source(rgb, profile=None, intent=intent, bpc=bpc)
    found = ProfileModel(CMYK.read_bytes()).inks_for(xyz, rules) * 100
    assert np.abs(found - expected).max() < 0.15  # sRGB's matrix: ours has the standard's four decimals


@needs_profile
@pytest.mark.parametrize("limit", [150, 220, 260])
def test_ink_limit(limit: float) -> None:
    """Colours over the limit keep it, no more than ΔE00 3 off where K can stand in (260 %); others do not change."""
    model = ProfileModel(CMYK.read_bytes())
    xyz = np.random.default_rng(10).random((400, 3)) ** 3 * D50_WHITE
    free, kept = model.inks_for(xyz, ColourRules(ink_limit=400)), model.inks_for(xyz, ColourRules(ink_limit=limit))
    over = free.sum(axis=1) > limit / 100
    assert over.any()
    assert np.array_equal(free[~over], kept[~over])
    assert kept.sum(axis=1).max() <= limit / 100 + 1e-6
    if limit == 260:
        assert difference(lab_from_xyz(model.xyz(kept)), lab_from_xyz(model.xyz(free))).max() < 3


@needs_profile
def test_exact_inks() -> None:
    """Colours that the profile prints within the limit come back within ΔE00 0.6, on average within 0.1."""
    model = ProfileModel(CMYK.read_bytes())
    inks = np.random.default_rng(11).random((1000, 4)) * 0.5
    colours = model.xyz(inks)
    again = model.xyz(model.exact_inks_for(colours, ColourRules(ink_limit=220)))
    miss = difference(lab_from_xyz(again), lab_from_xyz(colours))
    assert miss.mean() < 0.1
    assert miss.max() < 0.6


@pytest.mark.skipif(not A98.exists(), reason="needs a98.icc (Debian libgs-common)")
@needs_transicc
@pytest.mark.outside
def test_a_source_profile() -> None:
    """RGB in an embedded profile is that profile's colour, not sRGB's."""
    rgb = np.random.default_rng(12).integers(0, 256, (100, 3), np.uint8)
    found = lab_from_xyz(xyz_of_source(rgb, profile=A98.read_bytes(), intent=Intent.RELATIVE, bpc=False))
    assert difference(found, transicc(rgb.astype(float), f"-i{A98}", "-o*Lab", "-t1")).max() < 0.01


def printer(profile: str | None, inks: str = "CMYKW") -> Printer:
    """A printer that names a profile."""
    return Printer(name="test", film_width="600 mm", inks=tuple(Ink(ink) for ink in inks), profile=profile)


def test_no_profile_is_the_nominal_model() -> None:
    """Without a profile the model is nominal, over the printer's inks."""
    model = ink_model(printer(None, "CMYKROW"), base=Path("/nowhere"))
    assert model.is_nominal
    assert model.inks == ("C", "M", "Y", "K", "R", "O")


@needs_profile
def test_a_profile_is_found_beside_the_printer_file(tmp_path: Path) -> None:
    """The name is relative to the base; print order is of no account."""
    shutil.copy(CMYK, tmp_path / "house.icc")
    model = ink_model(printer("house.icc", "KCMYW"), base=tmp_path)
    assert not model.is_nominal
    assert set(model.inks) == set("CMYK")


@pytest.mark.parametrize(
    "content", [None, b"", b"no profile at all" * 20, b"\0" * 12 + b"mntrRGB XYZ " + b"\0" * 12 + b"acsp" + b"\0" * 100]
)
def test_what_is_no_cmyk_profile_is_refused(tmp_path: Path, content: bytes | None) -> None:
    """A missing file, junk, and a screen's profile each name the file and a next step."""
    if content is not None:
        (tmp_path / "house.icc").write_bytes(content)
    with pytest.raises(SettingsError) as caught:
        ink_model(printer("house.icc"), base=tmp_path)
    assert caught.value.file == tmp_path / "house.icc"
    assert "profile" in caught.value.next_step


@needs_profile
def test_a_cut_profile_is_refused(tmp_path: Path) -> None:
    """A header alone is not enough."""
    (tmp_path / "house.icc").write_bytes(CMYK.read_bytes()[:3000])
    with pytest.raises(SettingsError):
        ink_model(printer("house.icc"), base=tmp_path)


@needs_profile
def test_a_profile_cannot_drive_further_inks(tmp_path: Path) -> None:
    """CMYK says nothing of orange."""
    shutil.copy(CMYK, tmp_path / "house.icc")
    with pytest.raises(SettingsError, match="O"):
        ink_model(printer("house.icc", "CMYKOW"), base=tmp_path)

"""Device links and assumed profiles: used as LittleCMS's own programs use them, refused where they are something else."""

from pathlib import Path

import numpy as np
import pytest

from colour.icc.printers import SRGB, kept, link_from_srgb, needs_linkicc, needs_srgb, needs_transicc, profile_of, transicc
from filmhand.colour.choose import assumed_profile, device_link
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.littlecms import Space
from filmhand.colour.nominal import nominal_model
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules


@pytest.fixture(scope="module")
def link(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A device link from sRGB to C, M, Y and K, made by LittleCMS's own program."""
    return link_from_srgb(tmp_path_factory.mktemp("link"))


@pytest.mark.outside
@needs_linkicc
@needs_srgb
@needs_transicc
def test_a_link_as_transicc_uses_it(link: Path) -> None:
    """Within 0.01 % of ink."""
    rgb = np.random.default_rng(40).integers(0, 256, (300, 3), np.uint8)
    expected = transicc(rgb.astype(float), f"-l{link}")
    assert device_link(link.name, base=link.parent).cmyk(rgb) * 100 == pytest.approx(expected, abs=0.01)


@pytest.mark.outside
@needs_linkicc
@needs_srgb
def test_a_links_inks_in_a_printers_order_and_within_the_limit(link: Path) -> None:
    """Other inks stay empty; past the limit the model's inks for the same colour, within ΔE00 1 where there are any."""
    model = nominal_model(tuple("KCMYO"))
    device = device_link(link.name, base=link.parent)
    rgb = np.random.default_rng(41).integers(0, 256, (500, 3), np.uint8)
    free = device.inks_for(rgb, model=model, rules=ColourRules(ink_limit=500))
    assert free[:, [1, 2, 3, 0]] == pytest.approx(device.cmyk(rgb))
    assert not free[:, 4].any()
    limited = device.inks_for(rgb, model=model, rules=ColourRules(ink_limit=200))
    over = free.sum(axis=1) > 2
    assert over.any()
    assert not over.all()
    assert np.array_equal(limited[~over], free[~over])
    assert limited.sum(axis=1).max() <= 2.005
    printable = model.xyz(model.exact_inks_for(model.xyz(free), ColourRules(ink_limit=200)))
    best = difference(lab_from_xyz(printable), lab_from_xyz(model.xyz(free)))
    assert difference(lab_from_xyz(model.xyz(limited)), lab_from_xyz(model.xyz(free))) == pytest.approx(best * over, abs=1e-6)


@pytest.mark.parametrize("content", [None, b"", b"junk" * 100, b"\0" * 12 + b"linkRGB CMYK" + b"\0" * 12 + b"acsp" + b"\0" * 100])
def test_what_is_no_device_link_is_refused(tmp_path: Path, content: bytes | None) -> None:
    """Missing, junk, or a header alone: the file is named, with a next step."""
    if content is not None:
        (tmp_path / "house.icc").write_bytes(content)
    with pytest.raises(SettingsError) as caught:
        device_link("house.icc", base=tmp_path)
    assert caught.value.file == tmp_path / "house.icc"
    assert "device link" in caught.value.next_step


def test_an_output_profile_is_no_device_link(tmp_path: Path) -> None:
    """Nor is a profile of five inks."""
    for inks in ("CMYK", "CMYKO"):
        path = kept(profile_of(inks), tmp_path)
        with pytest.raises(SettingsError, match="not a device link"):
            device_link(path.name, base=tmp_path)


@needs_srgb
def test_an_assumed_rgb_profile() -> None:
    """A working space of Debian's serves for RGB, and not for CMYK."""
    assert assumed_profile(SRGB.name, space=Space.RGB, base=SRGB.parent) == SRGB.read_bytes()
    with pytest.raises(SettingsError, match="CMYK"):
        assumed_profile(SRGB.name, space=Space.CMYK, base=SRGB.parent)


def test_an_assumed_cmyk_profile(tmp_path: Path) -> None:
    """An output profile serves for CMYK artwork, and not for RGB; a cut one for neither."""
    path = kept(profile_of("CMYK"), tmp_path)
    assert assumed_profile(path.name, space=Space.CMYK, base=tmp_path) == path.read_bytes()
    with pytest.raises(SettingsError, match="RGB"):
        assumed_profile(path.name, space=Space.RGB, base=tmp_path)
    path.write_bytes(path.read_bytes()[:3000])
    with pytest.raises(SettingsError) as caught:
        assumed_profile(path.name, space=Space.CMYK, base=tmp_path)
    assert caught.value.file == path


def test_five_inks_are_no_cmyk(tmp_path: Path) -> None:
    """An output profile of five inks cannot be assumed for CMYK artwork."""
    path = kept(profile_of("CMYKO"), tmp_path)
    with pytest.raises(SettingsError, match="CMYK"):
        assumed_profile(path.name, space=Space.CMYK, base=tmp_path)

"""Colour files that rules name: refused when the rules are read, with the file and what to do; taken up once they are there."""

from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from colour.icc.printers import SRGB, kept, link_from_srgb, needs_linkicc, needs_srgb, profile_of
from filmhand.errors import SettingsError
from filmhand.rules import RuleFile, load_printer
from filmhand.service import reload
from filmhand.shop import Shop
from filmhand.work.colour_files import check_colour_files
from small_shop import RULE, filmhand, new_shop, picture


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop whose one rule is written by each test."""
    return new_shop(tmp_path_factory.mktemp("colour") / "shop")


def ruled(root: Path, lines: str) -> Shop:
    """The shop with these lines at the end of its rule."""
    (root / "rules" / "small.toml").write_text(f"{RULE}\n{lines}", "utf-8")
    return Shop.at(root)


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('[colour]\nassume_rgb = "gone.icc"', "RGB"),
        ('[colour]\nassume_cmyk = "gone.icc"', "CMYK"),
        ('[colour]\nlink = "gone.icc"', "device link"),
        ('[[when]]\nwidth_below = "50 mm"\ncolour.link = "gone.icc"', "device link"),
    ],
)
def test_a_missing_file_is_said_at_load(root: Path, lines: str, said: str) -> None:
    """With its place and what to do."""
    with pytest.raises(SettingsError, match=said) as caught:
        reload.load(ruled(root, lines))
    assert caught.value.file == root / "gone.icc"
    assert "remove that line" in caught.value.next_step


def test_a_file_of_another_kind(root: Path) -> None:
    """A CMYK profile is none for RGB artwork, and no device link."""
    name = kept(profile_of("CMYK"), root).name
    for key in ("assume_rgb", "link"):
        with pytest.raises(SettingsError, match="RGB"):
            reload.load(ruled(root, f'[colour]\n{key} = "{name}"'))
    reload.load(ruled(root, f'[colour]\nassume_cmyk = "{name}"'))


def test_no_profile_is_assumed_by_width(root: Path) -> None:
    """The artwork is opened before its width is known, so the key would do nothing there."""
    with pytest.raises(SettingsError, match="when"):
        reload.load(ruled(root, '[[when]]\nwidth_below = "50 mm"\ncolour.assume_rgb = "any.icc"'))


@pytest.mark.outside
@needs_linkicc
@needs_srgb
def test_a_link_needs_four_inks(root: Path) -> None:
    """A printer without black cannot follow a link to CMYK."""
    link_from_srgb(root)
    rule = RuleFile.load(ruled(root, '[colour]\nlink = "house-link.icc"').root / "rules" / "small.toml")
    printer = load_printer(root / "printer.toml")
    check_colour_files(rule, printer=printer)
    with pytest.raises(SettingsError, match="C, M, Y"):
        check_colour_files(rule, printer=printer.model_copy(update={"inks": tuple("CMYW")}))


@pytest.mark.outside
@needs_srgb
def test_a_file_laid_beside_the_settings_is_noticed(root: Path) -> None:
    """Rules that were refused are read again once the profile they name is there."""
    shop = ruled(root, '[colour]\nassume_rgb = "later.icc"')
    before = reload.stamp(shop)
    with pytest.raises(SettingsError):
        reload.load(shop)
    (root / "later.icc").write_bytes(SRGB.read_bytes())
    assert reload.stamp(shop) != before
    reload.load(shop)


def test_colours_are_settings(root: Path) -> None:
    """A new `colours.toml` is noticed and in the tables."""
    shop = ruled(root, "")
    before = reload.stamp(shop)
    (root / "colours.toml").write_text('["club red"]\nlab = [44, 58, 33]\nalso = ["Vereinsrot"]', "utf-8")
    assert reload.stamp(shop) != before
    found = reload.load(shop).tables.colours.find("vereinsrot")
    assert found is not None
    assert found[0] == "club red"
    (root / "colours.toml").write_text('["club red"]\nlab = [44, 58]', "utf-8")
    with pytest.raises(SettingsError, match=r"Line 2, key club red\.lab"):
        reload.load(shop)
    (root / "colours.toml").unlink()


def test_check_says_it_too(root: Path, tmp_path: Path) -> None:
    """`filmhand check` ends with the code of wrong settings and names the file."""
    (tmp_path / "A_20mm_x1.png").write_bytes(picture())
    ruled(root, '[colour]\nassume_rgb = "gone.icc"')
    answer = filmhand("check", tmp_path / "A_20mm_x1.png", "--rule", root / "rules" / "small.toml", code=3)
    assert "gone.icc" in "".join(answer.split())


def test_check_knows_the_shops_colours(root: Path, tmp_path: Path) -> None:
    """A file in a named colour is said to be so, by a rule in a shop."""
    ruled(root, "")
    (root / "colours.toml").write_text('["seal"]\nlab = [60, 0, 0]\nsrgb = "#919191"', "utf-8")
    image = Image.new("RGBA", (200, 200))
    ImageDraw.Draw(image).ellipse((10, 10, 190, 190), fill=(0x91, 0x91, 0x91, 255))
    ImageDraw.Draw(image).ellipse((50, 50, 150, 150), fill=(200, 90, 40, 255))
    image.save(tmp_path / "A_20mm_x1.png")
    answer = filmhand("check", tmp_path / "A_20mm_x1.png", "--rule", root / "rules" / "small.toml")
    (root / "colours.toml").unlink()
    assert "seal (ΔE00 0." in answer

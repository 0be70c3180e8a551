"""Written profiles: by the standard's own words, by LittleCMS, and by what the ink model says."""

import hashlib
import io
import struct
import subprocess
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from PIL import ImageCms

from colour.icc.printers import (
    CREATED,
    FILM_WHITE,
    LIMIT,
    RULES,
    Gaining,
    kept,
    needs_transicc,
    profile_of,
    tables_of,
    tags_of,
    transicc,
)
from filmhand.colour.black_point import compensated
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.icc.file import encoded_lab
from filmhand.colour.icc.output import REFERENCE_BLACK, About, output_profile
from filmhand.colour.littlecms import XYZ_PROFILE, Space, Way
from filmhand.colour.model import darkest_gray
from filmhand.colour.nominal import nominal_model
from filmhand.colour.profile import ProfileModel
from filmhand.rules import ColourRules, Intent

SETS = [("CMYK", False, b"CMYK"), ("CMYKO", False, b"5CLR"), ("CMYKRGBO", False, b"8CLR"), ("CMYKRGBO", True, b"9CLR")]
every_set = pytest.mark.parametrize(("inks", "with_white", "space"), SETS, ids=[space.decode() for _, _, space in SETS])
NAMES = {"C": "Cyan", "M": "Magenta", "Y": "Yellow", "K": "Black", "R": "Red", "G": "Green", "B": "Blue", "O": "Orange"}


@every_set
def test_the_header(inks: str, with_white: bool, space: bytes) -> None:
    """ICC.1:2010 section 7.2, each field that has a meaning here, and the profile ID by its own recipe (section 7.2.18)."""
    icc = profile_of(inks, with_white=with_white)
    assert struct.unpack_from(">I", icc)[0] == len(icc)
    assert len(icc) % 4 == 0
    assert icc[8:12] == bytes.fromhex("04300000")
    assert icc[12:24] == b"prtr" + space + b"Lab "
    when = CREATED.timetuple()[:6]
    assert struct.unpack_from(">6H", icc, 24) == when
    assert icc[36:40] == b"acsp"
    assert icc[64:68] == bytes.fromhex("00000001")
    assert icc[68:80] == bytes.fromhex("0000F6D6 00010000 0000D32D")
    counted = icc[:44] + bytes(4) + icc[48:64] + bytes(4) + icc[68:84] + bytes(16) + icc[100:]
    assert icc[84:100] == hashlib.md5(counted, usedforsecurity=False).digest()
    assert icc[100:128] == bytes(28)


@every_set
def test_the_tags(inks: str, with_white: bool, space: bytes) -> None:
    """ICC.1:2010 section 8.5.2: what an output profile must have; each begins on a multiple of four, inside the file."""
    icc = profile_of(inks, with_white=with_white)
    tags = tags_of(icc)
    needed = {b"desc", b"cprt", b"wtpt", b"A2B0", b"A2B1", b"A2B2", b"B2A0", b"B2A1", b"B2A2", b"gamt"}
    assert set(tags) == (needed if space == b"CMYK" else needed | {b"clrt"})
    for i in range(len(tags)):
        at, size = struct.unpack_from(">II", icc, 136 + 12 * i)
        assert at % 4 == 0
        assert 132 + 12 * len(tags) <= at <= at + size <= len(icc)
    assert np.frombuffer(tags[b"wtpt"][8:], ">i4") / 65536 == pytest.approx(FILM_WHITE, abs=1e-5)
    channels = len(inks) + with_white
    assert all(tags[b"A2B%d" % i][:10] == b"mAB \0\0\0\0" + bytes([channels, 3]) for i in range(3))
    assert all(tags[b"B2A%d" % i][:10] == b"mBA \0\0\0\0" + bytes([3, channels]) for i in range(3))
    assert tags[b"gamt"][:10] == b"mBA \0\0\0\0" + bytes([3, 1])


def test_colorants_are_named_in_order_with_their_colours() -> None:
    """ICC.1:2010 section 10.4: 32 bytes of name, then CIELAB in 16 bits of section 6.3.4.2; white ink is film white."""
    model = Gaining(tuple("KCMYO"))
    tag = tags_of(profile_of("KCMYO", with_white=True))[b"clrt"]
    assert struct.unpack_from(">4s4xI", tag) == (b"clrt", 6)
    rows = [struct.unpack_from(">32s3H", tag, 12 + 38 * i) for i in range(6)]
    assert [row[0].rstrip(b"\0").decode() for row in rows] == [*(NAMES[ink] for ink in "KCMYO"), "White"]
    lab = np.array([row[1:] for row in rows]) / 65535 * [100, 255, 255] - np.array([0, 128, 128])
    assert lab[:5] == pytest.approx(lab_from_xyz(model.xyz(np.eye(5))), abs=0.003)
    assert lab[5] == pytest.approx([100, 0, 0], abs=0.003)


@every_set
def test_other_libraries_open_it(inks: str, with_white: bool, space: bytes) -> None:
    """Pillow's and imagecodecs' LittleCMS read header, description and media white."""
    icc = profile_of(inks, with_white=with_white)
    imagecodecs.cms_profile_validate(icc)
    opened = ImageCms.getOpenProfile(io.BytesIO(icc)).profile
    assert opened.xcolor_space == space.decode()
    assert opened.profile_description == "Test film"
    assert opened.creation_date == CREATED.replace(tzinfo=None)
    assert opened.version == pytest.approx(4.3)
    assert opened.media_white_point[0] == pytest.approx(tuple(FILM_WHITE), abs=1e-5)


INTENTS = [(Intent.PERCEPTUAL, 0), (Intent.RELATIVE, 1), (Intent.SATURATION, 2)]


def decoded(encoded: np.ndarray) -> np.ndarray:
    """CIELAB of its coding as 0 to 1, ICC.1:2010 section 6.3.4.2."""
    return np.asarray(encoded * [100, 255, 255] - np.array([0, 128, 128]))


@needs_transicc
@pytest.mark.outside
@every_set
@pytest.mark.parametrize(("intent", "number"), INTENTS)
def test_a_round_trip_by_transicc(inks: str, with_white: bool, space: bytes, intent: Intent, number: int, tmp_path: Path) -> None:
    """Inks to CIELAB and CIELAB to inks: LittleCMS's calculator and our own interpolation agree within 0.1 in 0 to 100.

    From and to perceptual and saturation tables of version 4 it compensates the reference medium's black by itself.
    """
    path, tables = kept(profile_of(inks, with_white=with_white), tmp_path), tables_of(inks, with_white=with_white)
    shown, darkest = np.zeros(3), np.zeros(3) if intent is Intent.RELATIVE else REFERENCE_BLACK
    amounts = np.random.default_rng(20).random((300, len(inks) + with_white))
    own = xyz_from_lab(decoded(tables["A2B", intent].at(amounts, straight=False)))
    lab = lab_from_xyz(compensated(own, black=darkest, to=shown))
    assert np.abs(transicc(amounts * 100, f"-i{path}", "-o*Lab", f"-t{number}") - lab).max() < 0.1
    lab = np.random.default_rng(29).random((300, 3)) * [100, 160, 160] - [0, 80, 80]
    seen = encoded_lab(lab_from_xyz(compensated(xyz_from_lab(lab), black=shown, to=darkest)))
    back = tables["B2A", intent].at(seen, straight=True)
    assert np.abs(transicc(lab, "-i*Lab", f"-o{path}", f"-t{number}") - back * 100).max() < 0.1
    assert space == (b"CMYK" if inks == "CMYK" else b"%dCLR" % amounts.shape[1])


@needs_transicc
@pytest.mark.outside
def test_transicc_names_the_inks(tmp_path: Path) -> None:
    """LittleCMS's calculator lists the colorants in order."""
    path = kept(profile_of("CMYKRGBO", with_white=True), tmp_path)
    done = subprocess.run(
        ["transicc", "-v3", f"-i{path}", "-o*Lab", "-t1"], input="", capture_output=True, text=True, check=False
    )
    said = (done.stdout + done.stderr).split("Input colorant table:")[1].split("\n\n")[0].split()
    assert said == [*(NAMES[ink] for ink in "CMYKRGBO"), "White"]


@pytest.mark.parametrize(("inks", "mean", "worst"), [("CMYK", 0.05, 0.25), ("CMYKO", 0.15, 0.5), ("CMYKRGBO", 0.5, 1.5)])
def test_the_table_is_the_model(inks: str, mean: float, worst: float) -> None:
    """Off its nodes, the table says the model's colours within these ΔE00, within the ink limit (no standard says how near)."""
    rng = np.random.default_rng(21)
    amounts = rng.random((1500, len(inks))) * rng.random((1500, 1))
    amounts *= np.minimum(1, LIMIT / 100 / amounts.sum(axis=1, keepdims=True))
    said = decoded(tables_of(inks)["A2B", Intent.RELATIVE].at(amounts, straight=False))
    off = difference(said, lab_from_xyz(Gaining(tuple(inks)).xyz(amounts)))
    assert off.mean() < mean
    assert off.max() < worst


@every_set
def test_the_ink_limit_holds_between_nodes(inks: str, with_white: bool, space: bytes) -> None:
    """Colour inks of any CIELAB together, and their least amount, within half a percent of the limit."""
    encoded = np.random.default_rng(22).random((3000, 3))
    found = tables_of(inks, with_white=with_white)["B2A", Intent.RELATIVE].at(encoded, straight=True)
    assert found.shape[1] == (4 if space == b"CMYK" else int(space[:1]))
    total = 100 * found[:, : len(inks)].sum(axis=1)
    assert total.max() <= LIMIT + 0.5
    assert (total > LIMIT - 5).sum() > 10


def test_white_lies_under_every_colour_and_changes_none() -> None:
    """White ink is full for every CIELAB, bare white too; its amount has no say in the colour."""
    tables = tables_of("CMYKRGBO", with_white=True)
    lab = np.concatenate([np.random.default_rng(23).random((200, 3)), [[1, 128 / 255, 128 / 255]]])
    assert tables["B2A", Intent.RELATIVE].at(lab, straight=True)[:, -1] == pytest.approx(1, abs=1e-9)
    amounts = np.random.default_rng(24).random((100, 9))
    other = amounts.copy()
    other[:, -1] = np.random.default_rng(25).random(100)
    table = tables["A2B", Intent.RELATIVE]
    assert table.at(amounts, straight=False) == pytest.approx(table.at(other, straight=False), abs=1e-9)


def test_a_cmyk_profile_has_its_inks_in_the_usual_order() -> None:
    """CMYK means C, M, Y, K (ICC.1:2010 section 7.2.6), whatever order they are printed in."""
    icc = profile_of("KCMY")
    assert icc[16:20] == b"CMYK"
    inks = np.random.default_rng(26).random((200, 4))
    expected = lab_from_xyz(Gaining(tuple("CMYK")).xyz(inks))
    assert difference(lab_from_xyz(ProfileModel(icc).xyz(inks)), expected).max() < 0.5


@pytest.fixture(scope="module")
def nominal() -> bytes:
    """The profile of the nominal CMYK inks, with the package's real inverse."""
    return output_profile(nominal_model(tuple("CMYK")), RULES, about=About("Nominal", D50_WHITE, CREATED))


def test_white_takes_no_ink(nominal: bytes) -> None:
    """In every intent; less than a hundredth of a percent by LittleCMS's rounding of the middle of the a* and b* axes."""
    for intent in (Intent.PERCEPTUAL, Intent.RELATIVE, Intent.SATURATION):
        way = Way((XYZ_PROFILE, Space.XYZ), (nominal, Space.CMYK), intent, bpc=False)
        assert way(D50_WHITE[None]).max() < 1e-4


def test_there_and_back(nominal: bytes) -> None:
    """Colours within limit and gamut, to inks and back by LittleCMS: ΔE00 0.3 on average, p95 1.0."""
    rng, model = np.random.default_rng(27), nominal_model(tuple("CMYK"))
    inks = rng.random((2000, 4)) * rng.random((2000, 1))
    colours = model.xyz(inks * np.minimum(1, 2 / inks.sum(axis=1, keepdims=True)))
    back = ProfileModel(nominal).xyz(Way((XYZ_PROFILE, Space.XYZ), (nominal, Space.CMYK), Intent.RELATIVE, bpc=False)(colours))
    off = difference(lab_from_xyz(back), lab_from_xyz(colours))
    assert off.mean() < 0.3
    assert np.percentile(off, 95) < 1.0


def test_black_is_printed_black(nominal: bytes) -> None:
    """Perceptual: LittleCMS lays black where the model does, within ΔE00 0.5; grays stay neutral and keep their order."""
    model = nominal_model(tuple("CMYK"))
    grays = xyz_from_lab(np.stack([np.linspace(0, 100, 21), np.zeros(21), np.zeros(21)], axis=1))
    way = Way((XYZ_PROFILE, Space.XYZ), (nominal, Space.CMYK), Intent.PERCEPTUAL, bpc=False)
    lab = lab_from_xyz(model.xyz(way(grays)))
    darkest = model.xyz(model.inks_for(np.zeros(3), ColourRules(ink_limit=LIMIT, black_point_compensation=True)))
    assert difference(lab[0], lab_from_xyz(darkest)) < 0.5
    assert (np.diff(lab[:, 0]) > 0).all()
    assert np.hypot(lab[:, 1], lab[:, 2]).max() < 1.0


@pytest.mark.parametrize("intent", [Intent.RELATIVE, Intent.PERCEPTUAL])
def test_black_point_compensation_is_little_cms_own(nominal: bytes, intent: Intent) -> None:
    """By LittleCMS over the profile and by our own over the model: ΔE00 0.3 on average, p95 1.0, of colours that can be printed.

    LittleCMS seeks the black point of relative colorimetric tables by going through them with a ramp of grays (ISO 18619); ours,
    and that of the perceptual tables, is the model's darkest gray.
    """
    model, rng = nominal_model(tuple("CMYK")), np.random.default_rng(28)
    lab = np.stack([np.linspace(0, 100, 400), *rng.normal(0, 8, (2, 400))], axis=1)
    colours = np.maximum(xyz_from_lab(lab), 0)
    wanted = compensated(colours, black=np.zeros(3), to=darkest_gray(model, RULES))
    exact = model.xyz(model.exact_inks_for(wanted, RULES))
    printable = difference(lab_from_xyz(exact), lab_from_xyz(wanted)) < 0.2
    found = Way((XYZ_PROFILE, Space.XYZ), (nominal, Space.CMYK), intent, bpc=True)(colours)
    off = difference(lab_from_xyz(model.xyz(found)), lab_from_xyz(wanted))[printable]
    assert len(off) > 300
    assert off.mean() < 0.3
    assert np.percentile(off, 95) < 1.0


def test_the_gamut_table(nominal: bytes) -> None:
    """0 for what the inks print, more for what they cannot (ICC.1:2010, gamutTag), L* 50 from gray outwards."""
    tags = tags_of(nominal)
    assert len(tags[b"gamt"]) > 33**3 * 2
    numbers = np.frombuffer(tags[b"gamt"], ">u2", 33**3, _grid_start(tags[b"gamt"])).reshape(33, 33, 33)
    assert numbers[16, 16, 16] == 0
    assert numbers[16, 0, 0] > numbers[16, 8, 8] > 0


def _grid_start(tag: bytes) -> int:
    """Where the numbers of a grid begin: 20 bytes after the grid does (ICC.1:2010 section 10.10.1)."""
    return int(struct.unpack_from(">I", tag, 24)[0]) + 20


def test_reference_black() -> None:
    """ICC.1:2010 section 6.3.4.3: the reference medium's black has 0.3473 % of white's light; L* 3.1373."""
    assert lab_from_xyz(REFERENCE_BLACK) == pytest.approx([3.1373, 0, 0], abs=0.05)


def test_an_ink_limit_is_the_rules(nominal: bytes) -> None:
    """A lower limit in the rules is a lower limit in the table."""
    less = output_profile(nominal_model(tuple("CMYK")), ColourRules(ink_limit=150), about=About("Less", D50_WHITE, CREATED))
    dark = np.zeros((1, 3))
    totals = [Way((XYZ_PROFILE, Space.XYZ), (icc, Space.CMYK), Intent.RELATIVE, bpc=False)(dark).sum() for icc in (nominal, less)]
    assert totals[1] <= 1.505 < totals[0] <= LIMIT / 100 + 0.005

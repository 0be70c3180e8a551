"""From a file to its planes: named colours in just their inks, assumed profiles and device links as LittleCMS follows them."""

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageDraw

from colour.icc.printers import SRGB, link_from_srgb, needs_linkicc, needs_srgb, needs_transicc, transicc
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.named import NamedColour, best_inks, over_film
from filmhand.colour.nominal import nominal_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_of_hex
from filmhand.intake.wardrobe import parse_named
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule
from filmhand.separation.model import Separation
from filmhand.work.prepare import Prepared, PrepareTask, prepare
from work.plain_task import plain_task

RED, TEAL, OTHER = (0xC4, 0x15, 0x2B), (0x2A, 0x9D, 0x8F), (120, 60, 200)
COLOURS = """
["club red"]
also = ["CLUB 1"]
lab = [44, 58, 33]
srgb = "#c4152b"

["sea teal"]
lab = [58, -36, -5]
srgb = "#2a9d8f"

["signal"]
lab = [66, 95, 80]
srgb = "#ff3b1f"
"""
A98 = SRGB.with_name("a98.icc")
MODEL = nominal_model(tuple("CMYK"))
TONE = printer_tone(MODEL)
A_STEP = 255 * max(float(np.diff(curve).max()) for curve in TONE.curves.values()) / 2
"""Half of the largest step of amount, in 255ths, between neighbouring tones: what 8 bits can lose."""

Task = Callable[..., PrepareTask]


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Tables are built once for all tests here."""
    return tmp_path_factory.mktemp("tables")


@pytest.fixture
def task(tmp_path: Path, cache: Path) -> Task:
    """A task for bytes, by a rule on white cotton that stops nothing; `colour`, `knockout`: lines of these tables."""

    def make(data: bytes, *, colour: str = "", knockout: str = "", garment: str = "#ffffff", named: str = COLOURS) -> PrepareTask:
        tables = ("[colour]", colour, "[knockout]", knockout)
        colours = parse_named(NamedColour, named, tmp_path / "colours.toml")
        return plain_task(tmp_path, data, cache=cache, garment=garment, width="8 mm", tables=tables, colours=colours)

    return make


def patches(*colours: tuple[int, ...], **options: Any) -> bytes:
    """A PNG of squares of 40 pixels side by side."""
    image = Image.new("RGBA", (40 * len(colours), 40))
    for place, colour in enumerate(colours):
        ImageDraw.Draw(image).rectangle((40 * place, 0, 40 * place + 39, 39), fill=(*colour, 255) if len(colour) == 3 else colour)
    file = io.BytesIO()
    image.save(file, "PNG", **options)
    return file.getvalue()


def middles(made: Prepared, task: PrepareTask, count: int) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """Amounts (count, n), 255 = full, and coverage (count,) in the middle of each of so many squares."""
    assert made.verdict < Severity.HOLD, made.report
    separation = Separation.open(task.target)
    assert separation.inks == ("C", "M", "Y", "K", "W")
    width = separation.coverage.shape[1]
    columns = [(2 * place + 1) * width // (2 * count) for place in range(count)]
    middle = separation.coverage.shape[0] // 2
    amounts = TONE.amounts(separation.planes[:, middle, columns].T / 255.0, inks=separation.inks)
    return 255 * amounts, separation.coverage[middle, columns]


def said(made: Prepared, check: str) -> list[Finding]:
    """The findings of a check."""
    return [finding for finding in made.report.findings if finding.check == check]


def best(name: str, rule: Rule, garment: str = "#ffffff") -> tuple[list[float], float]:
    """The inks of a colour over full white on a garment, 255 = full, and its miss."""
    colour = parse_named(NamedColour, COLOURS, Path("colours.toml")).entries[name]
    film_white = D50_WHITE * MODEL.opacity.share(1.0, garment=xyz_of_hex(garment))
    match = best_inks(over_film(colour.absolute_lab(), film_white), model=MODEL, rules=rule.colour)
    return (255 * match.inks).tolist(), match.delta_e


@pytest.mark.parametrize(("garment", "knockout"), [("#ffffff", ""), ("#1b1b1d", "strength = 1")])
def test_named_colours_get_their_own_inks(task: Task, garment: str, knockout: str) -> None:
    """Solid film with just the best inks, white under it, half of it where half is opaque; next to it the table's; it is said."""
    one = task(patches(RED, (*RED, 128), TEAL, OTHER), garment=garment, knockout=knockout)
    made = prepare(one)
    planes, coverage = middles(made, one, 4)
    red, red_miss = best("club red", one.rule.general, garment)
    teal, teal_miss = best("sea teal", one.rule.general, garment)
    assert planes[:3] == pytest.approx(np.array([[*red, 255], [*red, 255], [*teal, 255]]), abs=A_STEP)
    assert coverage[:3].tolist() == [255, 128, 255]
    plain = replace(one, colours=parse_named(NamedColour, "", Path("colours.toml")))
    without, _ = middles(prepare(plain), plain, 4)
    assert planes[3].tolist() == without[3].tolist()
    assert planes[0].tolist() != without[0].tolist()
    (note,) = said(made, "named_colours")
    assert note.severity is Severity.NOTE
    assert f"club red (ΔE00 {red_miss:.1f}), sea teal (ΔE00 {teal_miss:.1f})" in str(note.message)


def test_what_a_named_colour_misses_is_warned_of(task: Task) -> None:
    """A red beyond the inks; its ΔE00, from the model's own colour, is above 2 and in the finding."""
    one = task(patches((0xFF, 0x3B, 0x1F)))
    made = prepare(one)
    planes, _ = middles(made, one, 1)
    film = MODEL.opacity.share(1.0, garment=xyz_of_hex("#ffffff"))  # this white on a white garment
    printed = lab_from_xyz(MODEL.xyz(planes[0, :4] / 255.0) * film)
    (warning,) = said(made, "named_colours")
    assert warning.severity is Severity.WARN
    assert warning.value == pytest.approx(float(difference(np.array([66.0, 95, 80]), printed)), abs=0.2)
    assert warning.value > 2


def test_a_named_colour_of_the_garment_stays_bare(task: Task) -> None:
    """No film is laid for a colour that the cloth shows already, and it is said."""
    shirt = '["shirt"]\nlab = [10.2, 0.4, -1.2]\nsrgb = "#1b1b1d"'
    one = task(patches((0x1B, 0x1B, 0x1D), OTHER), garment="#1b1b1d", knockout="strength = 1", named=shirt)
    made = prepare(one)
    separation = Separation.open(one.target)
    assert separation.width_mm < 4.2  # cut to the other colour
    (note,) = said(made, "named_colours")
    assert (note.severity, "left bare there: shirt" in str(note.message)) == (Severity.NOTE, True)


def test_artwork_without_named_colours_is_let_alone(task: Task) -> None:
    """A value one off is another colour, and a transparent one is none."""
    one = task(patches((0xC4, 0x16, 0x2B), (*RED, 0)))
    assert said(prepare(one), "named_colours") == []


@pytest.mark.outside
@needs_srgb
def test_named_colours_in_another_profile(task: Task) -> None:
    """In a wider space the value that LittleCMS makes of a colour's sRGB means it."""
    wide = ImageCms.ImageCmsProfile(str(A98))
    square = Image.new("RGB", (1, 1), RED)
    value = ImageCms.profileToProfile(square, ImageCms.createProfile("sRGB"), wide, ImageCms.Intent.RELATIVE_COLORIMETRIC)
    assert value is not None
    one = task(patches(value.getpixel((0, 0)), icc_profile=A98.read_bytes()))  # type: ignore[arg-type]
    planes, _ = middles(prepare(one), one, 1)
    assert planes[0, :4] == pytest.approx(best("club red", one.rule.general)[0], abs=A_STEP)


@pytest.mark.outside
@needs_srgb
def test_an_assumed_profile_is_as_one_inside(task: Task, tmp_path: Path) -> None:
    """RGB without a profile separates as with it inside, not as sRGB, and it is said; what names another is read so."""
    (tmp_path / "wide.icc").write_bytes(A98.read_bytes())
    colours, assume = ((180, 60, 40), (30, 170, 90), (90, 80, 200)), 'assume_rgb = "wide.icc"'

    def separated(data: bytes, colour: str = "") -> tuple[Prepared, list[list[int]]]:
        one = task(data, colour=colour)
        made = prepare(one)
        return made, middles(made, one, 3)[0].tolist()

    made, assumed = separated(patches(*colours), assume)
    (note,) = said(made, "profile")
    assert (note.severity, "wide.icc" in str(note.message)) == (Severity.NOTE, True)
    _, inside = separated(patches(*colours, icc_profile=A98.read_bytes()))
    _, plain = separated(patches(*colours))
    assert assumed == inside != plain
    srgb = separated(patches(*colours, icc_profile=ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()), assume)
    assert np.abs(np.array(srgb[1]) - plain).max() <= 2


@pytest.fixture(scope="module")
def link(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A device link from sRGB to C, M, Y and K, made by LittleCMS's own program."""
    return link_from_srgb(tmp_path_factory.mktemp("link"))


GRID = ((40, 80, 160), (200, 48, 64), (16, 128, 72), (232, 208, 96))
"""At the table's nodes, so that nothing is interpolated but by the link itself."""


@pytest.mark.outside
@needs_linkicc
@needs_srgb
@needs_transicc
def test_a_links_inks_arrive(task: Task, tmp_path: Path, link: Path) -> None:
    """As LittleCMS's calculator has them, to a step of 8 bits."""
    (tmp_path / "house-link.icc").write_bytes(link.read_bytes())
    one = task(patches(*GRID), colour='link = "house-link.icc"\nink_limit = 400')
    planes, _ = middles(prepare(one), one, 4)
    assert planes[:, :4] / 2.55 == pytest.approx(transicc(np.array(GRID, float), f"-l{link}"), abs=0.2 + A_STEP / 2.55)


@pytest.mark.outside
@needs_linkicc
@needs_srgb
@needs_transicc
def test_other_artwork_is_converted_for_a_link(task: Task, tmp_path: Path, link: Path) -> None:
    """Wide RGB goes to the link's sRGB first; where the rule assumes that space, the link takes it as it is."""
    (tmp_path / "house-link.icc").write_bytes(link.read_bytes())
    (tmp_path / "wide.icc").write_bytes(A98.read_bytes())
    art = patches(*GRID, icc_profile=A98.read_bytes())
    lines = 'link = "house-link.icc"\nink_limit = 400'
    one = task(art, colour=lines)
    planes, _ = middles(prepare(one), one, 4)
    srgb = np.rint(transicc(np.array(GRID, float), "-t1", f"-i{A98}", "-o*sRGB"))
    assert planes[:, :4] / 2.55 == pytest.approx(transicc(np.clip(srgb, 0, 255), f"-l{link}"), abs=1)
    one = task(art, colour=f'{lines}\nassume_rgb = "wide.icc"')
    planes, _ = middles(prepare(one), one, 4)
    assert planes[:, :4] / 2.55 == pytest.approx(transicc(np.array(GRID, float), f"-l{link}"), abs=0.2 + A_STEP / 2.55)


@pytest.mark.outside
@needs_linkicc
@needs_srgb
def test_knockout_shows_what_a_link_promises(task: Task, tmp_path: Path, link: Path) -> None:
    """On blue cotton, far from all four, film and cloth together (Yule-Nielsen) look as the link's inks do, within ΔE00 1."""
    (tmp_path / "house-link.icc").write_bytes(link.read_bytes())
    lines = 'link = "house-link.icc"\nink_limit = 300'
    one = task(patches(*GRID), colour=lines)
    promised = MODEL.xyz(middles(prepare(one), one, 4)[0][:, :4] / 255.0)
    one = task(patches(*GRID), colour=lines, knockout="strength = 1\ntolerance = 0", garment="#30b0e8")
    planes, coverage = middles(prepare(one), one, 4)
    assert coverage.min() < 240
    n, share = MODEL.yule_nielsen, coverage[:, None] / 255.0
    white = MODEL.opacity.share(1.0, garment=xyz_of_hex("#30b0e8"))  # colours are relative to the white as laid there
    cloth, film = xyz_of_hex("#30b0e8") / white, MODEL.xyz(planes[:, :4] / 255.0)
    seen = ((1 - share) * cloth ** (1 / n) + share * film ** (1 / n)) ** n
    assert difference(lab_from_xyz(seen), lab_from_xyz(promised)).max() < 1


def spot_page(names: tuple[str, ...], content: bytes, *, yellow: tuple[float, ...] = (0.3, 0.6)) -> bytes:
    """A page of 24 × 8 mm whose colour spaces S0, S1 … are spot colours of these names, each a red of so much yellow."""
    document = pikepdf.new()
    document.add_blank_page(page_size=(68, 22.7))
    spaces = pikepdf.Dictionary()
    for place, (name, amount) in enumerate(zip(names, yellow, strict=False)):
        tint = pikepdf.Dictionary(FunctionType=2, Domain=[0, 1], N=1, C0=[0, 0, 0, 0], C1=[0, 0.9, amount, 0.1])
        spaces[f"/S{place}"] = pikepdf.Array([pikepdf.Name.Separation, pikepdf.Name(f"/{name}"), pikepdf.Name.DeviceCMYK, tint])
    document.pages[0].Resources = pikepdf.Dictionary(ColorSpace=spaces)
    document.pages[0].Contents = document.make_stream(content)
    file = io.BytesIO()
    document.save(file)
    return file.getvalue()


def test_spot_colours_of_the_table(task: Task) -> None:
    """Full tint gets the named inks, half tint the mixture; another spot is said to be printed by the PDF's."""
    content = b"/S0 cs 1 scn 0 0 22.7 22.7 re f 0.5 scn 22.7 0 22.7 22.7 re f /S1 cs 1 scn 45.4 0 22.7 22.7 re f"
    one = task(spot_page(("Club_1", "HKS 13"), content))
    made = prepare(one)
    planes, _ = middles(made, one, 3)
    red, _ = best("club red", one.rule.general)
    assert planes[0, :4] == pytest.approx(red, abs=A_STEP)
    assert planes[1, :4] != pytest.approx(red, abs=A_STEP)
    assert planes[2, :4] != pytest.approx(red, abs=A_STEP)
    notes = " ".join(str(finding.message) for finding in said(made, "named_colours"))
    assert "club red (ΔE00" in notes
    assert "lighter ones by that which the PDF gives: Club_1" in notes
    (others,) = said(made, "special_inks")
    assert "HKS 13" in str(others.message)
    assert "Club_1" not in str(others.message)


def test_a_named_spot_is_no_unknown_ink(task: Task) -> None:
    """A spot called neon would be held; the shop's table says how it is printed, so it is not."""
    content = b"/S0 cs 1 scn 0 0 68 22.7 re f"
    held = prepare(replace(task(spot_page(("Neon Coral",), content)), approved=False))
    assert held.verdict is Severity.HOLD
    named = f'{COLOURS}\n["neon coral"]\nlab = [60, 60, 40]'
    made = prepare(replace(task(spot_page(("Neon Coral",), content), named=named), approved=False))
    assert made.verdict < Severity.HOLD


def test_two_spots_drawn_alike(task: Task) -> None:
    """Nothing tells their pixels apart: the first is the named one, the other is said to be printed by the PDF's mixture."""
    content = b"/S0 cs 1 scn 0 0 34 22.7 re f /S1 cs 1 scn 34 0 34 22.7 re f"
    made = prepare(task(spot_page(("Club 1", "sea teal"), content, yellow=(0.3, 0.3))))
    assert "Club 1" in str(said(made, "named_colours")[-1].message)
    assert "sea teal" in str(said(made, "special_inks")[0].message)

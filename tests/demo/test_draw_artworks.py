"""The demonstration's artwork: what it must be to show what it is meant to show."""

import re
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
import tifffile
from PIL import Image, ImageOps

from filmhand import settings_file
from filmhand.demo.draw import DemoFile, draw_artworks
from filmhand.intake.ticket import Ticket
from filmhand.rules import RuleFile

RULES = Path(__file__).parents[2] / "rules"


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> dict[str, DemoFile]:
    """Every file, by the name it is dropped under."""
    return {file.name: file for file in draw_artworks(tmp_path_factory.mktemp("artwork") / "drawn")}


def test_every_file_has_its_order_from_its_name_or_its_ticket(drawn: dict[str, DemoFile]) -> None:
    """A name matches its rule's pattern, or a ticket lies beside it; either way the copies are known."""
    rules = {path.stem: RuleFile.load(path) for path in RULES.glob("*.toml")}
    for file in drawn.values():
        pattern = rules[file.hot_folder].general.ticket.filename
        assert pattern is not None
        match = re.fullmatch(pattern, Path(file.name).stem)
        assert (match is None) == (file.ticket is not None)
        if match:
            assert int(match["copies"]) > 1
        else:
            values = settings_file.parse(file.ticket or "", file.path)
            assert (Ticket.model_validate(values).copies or 0) > 1
    assert sum(file.ticket is not None for file in drawn.values()) == 2
    assert {file.hot_folder for file in drawn.values()} == rules.keys()


def test_printable_artwork_has_200_to_300_ppi_at_its_size_and_a_transparent_ground(drawn: dict[str, DemoFile]) -> None:
    """The good pixel files pass the starter rules' resolution limit and have nothing in their corners."""
    for name, width_mm in {
        "R101_280mm_x4.png": 280,
        "R102_90mm_x12.png": 90,
        "R103_280mm_x4.png": 280,
        "R104_240mm_x4.png": 240,
        "R105_80mm_x16.png": 80,
    }.items():
        with Image.open(drawn[name].path) as picture:
            picture.load()
        assert picture.mode == "RGBA"
        assert 195 <= picture.width * 25.4 / width_mm <= 305
        assert picture.getchannel("A").getextrema() == (0, 255)
        assert picture.getpixel((0, 0))[3] == 0


def test_the_river_has_soft_edges_and_the_crest_has_none(drawn: dict[str, DemoFile]) -> None:
    """Half-transparent pixels are many in the photograph-like picture and few in the flat one."""
    soft = {}
    for name in ("R101_280mm_x4.png", "R102_90mm_x12.png"):
        alpha = np.asarray(Image.open(drawn[name].path).getchannel("A"))
        soft[name] = np.count_nonzero((alpha > 12) & (alpha < 243)) / np.count_nonzero(alpha)
    assert soft["R101_280mm_x4.png"] > 0.08
    assert soft["R102_90mm_x12.png"] < 0.01


def test_the_back_print_is_mostly_black_that_a_black_garment_can_show(drawn: dict[str, DemoFile]) -> None:
    """At least a third of the opaque panel is darker than black cotton, so that knockout has something to leave out."""
    pixels = np.asarray(Image.open(drawn["R103_280mm_x4.png"].path))
    opaque = pixels[..., 3] == 255
    black = opaque & (pixels[..., :3].max(axis=2) <= 0x1D)
    assert black.sum() / opaque.sum() > 1 / 3


def test_the_pdf_holds_vectors_on_a_transparent_ground(drawn: dict[str, DemoFile]) -> None:
    """pikepdf finds paths and a shading and no picture; pdfium draws them with nothing in the corners."""
    path = drawn["R106_110mm_x8.pdf"].path
    with pikepdf.open(path) as document:
        operators = {str(instruction.operator) for instruction in pikepdf.parse_content_stream(document.pages[0])}
        assert {"m", "l", "f*", "sh"} <= operators
        assert not operators & {"Do", "BI"}
        assert not document.get_warnings()
    drawing = pypdfium2.PdfDocument(path)[0].render(scale=1, fill_color=(0, 0, 0, 0)).to_numpy()
    assert drawing.shape[2] == 4
    assert drawing[0, 0, 3] == 0
    assert drawing[..., 3].max() == 255


def test_the_tiffs_are_cmyk_with_alpha_and_sixteen_bit(drawn: dict[str, DemoFile]) -> None:
    """Tags as TIFF 6.0 gives them: photometric 5 or 2, extra sample 2 (unassociated alpha)."""
    with tifffile.TiffFile(drawn["marshals back.tif"].path) as file:
        page = file.pages.first
        assert (page.photometric, page.samplesperpixel, page.extrasamples) == (5, 5, (2,))
        assert page.tags["XResolution"].value == (250, 1)
        assert page.asarray()[0, 0, 4] == 0
    with tifffile.TiffFile(drawn["night scull.tif"].path) as file:
        page = file.pages.first
        assert (page.photometric, page.bitspersample, page.extrasamples) == (2, 16, (2,))
        assert len(np.unique(page.asarray()[..., 2])) > 10_000


def test_the_faulty_files_have_the_faults_they_stand_for(drawn: dict[str, DemoFile]) -> None:
    """A JPEG far under 100 ppi that lies on its side, a PNG without alpha on white, and a PNG that ends in the middle."""
    with Image.open(drawn["R109_300mm_x2.jpg"].path) as photo:
        upright = ImageOps.exif_transpose(photo)
    assert photo.height > photo.width
    assert upright.width > upright.height
    assert upright.width * 25.4 / 300 < 50
    with Image.open(drawn["R110_100mm_x6.png"].path) as sponsor:
        assert (sponsor.mode, sponsor.getpixel((0, 0))) == ("RGB", (255, 255, 255))
    with pytest.raises(OSError, match="truncated"):
        Image.open(drawn["R111_240mm_x3.png"].path).load()
    assert b"IEND" not in drawn["R111_240mm_x3.png"].path.read_bytes()

"""Cut paths against the dots that are delivered: read from the TIFFs with tifffile, measured with shapely and scipy."""

import io
import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from cut_sheets import laid, made, pixel_mm, printer, stored
from film_shapes import apart, area_of, outside_of, shape, smoothed
from numpy.typing import NDArray
from PIL import Image
from resvg import render, usvg
from scipy import ndimage

from filmhand import units
from filmhand.gang.sheet import Sheet

PROMISED_MM = 0.1
CSS_PPI = 96
"""Pixels an inch of an SVG's lengths (CSS Values and Units Module Level 3, section 5.2)."""
FINE = 20
"""Pixels a mm at which drawings are looked at."""


def paths_in(svg: bytes) -> list[list[NDArray[np.float64]]]:
    """Every path's rings, by the standard library's reader."""
    root = ElementTree.fromstring(svg)
    drawn = [path.attrib["d"] for path in root.iter("{http://www.w3.org/2000/svg}path")]
    return [
        [
            np.array([float(value) for value in re.split(r"[ ,]", ring.strip())]).reshape(-1, 2)
            for ring in re.findall("M([^Z]+)Z", d)
        ]
        for d in drawn
    ]


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("rotation", [0, 90, 180, 270, 30, 217.3])
def test_the_path_lies_at_the_offset_from_the_dots(tmp_path: Path, rotation: float, mirror: bool) -> None:
    """Smoothed edges at 300 ppi, mirrored and turned: the path is shapely's buffer of the dots within a tenth of a millimetre."""
    press = printer(mirror=mirror)
    size = 16.0, 16.0
    source = stored(tmp_path / "a", smoothed(shape("lettering", side=189)), width_mm=size[0])
    sheet = Sheet("s", 60.0, 40.0, (laid("a", 1, at=(7.37, 5.11), size=size, rotation=rotation),))
    done = made(tmp_path / "out", sheet, {"a": source}, press=press)
    (rings,) = paths_in((done.folder / "s_cut.svg").read_bytes())
    exact = outside_of(done.film, pixel_mm=pixel_mm(press), offset_mm=2.0)
    assert apart(area_of(rings), exact) <= PROMISED_MM


@pytest.mark.parametrize("resolution", [(360, 360), (720, 1440)])
@pytest.mark.parametrize("ppi", [150, 300])
def test_other_printers_and_artwork(tmp_path: Path, resolution: tuple[int, int], ppi: int) -> None:
    """Coarser dots, dots that are not square, coarser pixels: as near."""
    press = printer(resolution=resolution)
    coverage = smoothed(shape("islands", side=140, seed=5))
    width = units.px_to_mm(140, ppi)
    source = stored(tmp_path / "a", coverage, width_mm=width)
    sheet = Sheet("s", 60.0, 40.0, (laid("a", 1, at=(9.13, 6.42), size=(width, width), rotation=90),))
    done = made(tmp_path / "out", sheet, {"a": source}, press=press)
    (rings,) = paths_in((done.folder / "s_cut.svg").read_bytes())
    assert apart(area_of(rings), outside_of(done.film, pixel_mm=pixel_mm(press), offset_mm=2.0)) <= PROMISED_MM


@pytest.fixture(scope="module")
def sheet_of_two(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, NDArray[np.bool_]]:
    """A mirrored sheet of a blob and of lettering at 30 degrees, and its film."""
    folder = tmp_path_factory.mktemp("two")
    blob = stored(folder / "a", shape("blob", side=200), width_mm=20)
    words = stored(folder / "b", shape("lettering", side=200), width_mm=20)
    copies = laid("a", 1, at=(4, 4), size=(20, 20)), laid("b", 1, at=(30, 6), size=(20, 20), rotation=30)
    done = made(folder / "out", Sheet("s", 60.0, 42.0, copies), {"a": blob, "b": words}, press=printer(mirror=True))
    return done.folder, done.film


def judge(line: NDArray[np.bool_], film: NDArray[np.bool_]) -> None:
    """A drawn line lies at 2 mm from the film (scipy's distances at the film's dots), all along and nowhere else."""
    per_mm = units.mm_to_px(1, 720)
    # From the middles of bare dots to the edges of film: half a dot less than to its dots' middles.
    distance = (ndimage.distance_transform_edt(~film) - 0.5) / per_mm
    rows, columns = np.nonzero(line)
    places = np.stack([rows + 0.5, columns + 0.5]) / FINE * per_mm - 0.5
    seen = ndimage.map_coordinates(distance, places, order=1, mode="nearest")
    half_line, pixel = 0.05, 1 / FINE
    assert np.abs(seen - 2.0).max() <= PROMISED_MM + half_line + pixel
    outer = ndimage.binary_fill_holes(distance <= 2.0)
    wanted = np.argwhere(outer & ~ndimage.binary_erosion(outer)) + 0.5
    to_line = ndimage.distance_transform_edt(~line) / FINE
    missed = ndimage.map_coordinates(to_line, wanted.T / per_mm * FINE - 0.5, order=1, mode="nearest")
    assert missed.max() <= PROMISED_MM + pixel


def test_svg_as_drawn(sheet_of_two: tuple[Path, NDArray[np.bool_]]) -> None:
    """resvg draws the page in millimetres of the film, with the paths where the TIFF has them."""
    folder, film = sheet_of_two
    text = (folder / "s_cut.svg").read_text("utf-8")
    root = ElementTree.fromstring(text)
    assert (root.attrib["width"], root.attrib["height"], root.attrib["viewBox"]) == ("60mm", "42mm", "0 0 60 42")
    tree = usvg.Tree.from_str(text, usvg.Options.default())
    scale = FINE / units.mm_to_px(1, CSS_PPI)
    packed = render(tree, (scale, 0.0, 0.0, 0.0, scale, 0.0), bg_size=(60 * FINE, 42 * FINE))
    judge(np.asarray(Image.open(io.BytesIO(packed)))[..., 3] > 127, film)


def test_pdf_as_drawn(sheet_of_two: tuple[Path, NDArray[np.bool_]]) -> None:
    """pdfium draws a page of the film's size, with the paths where the TIFF has them."""
    folder, film = sheet_of_two
    with pypdfium2.PdfDocument(folder / "s_cut.pdf") as pdf:
        page = pdf[0]
        assert page.get_size() == pytest.approx(tuple(units.mm_to_px(side, 72) for side in (60, 42)), abs=1e-3)
        drawn = page.render(scale=FINE / units.mm_to_px(1, 72)).to_numpy()
    judge(drawn[: 42 * FINE, : 60 * FINE, :3].min(axis=2) < 128, film)

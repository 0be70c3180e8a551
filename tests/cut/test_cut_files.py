"""The files of cut paths: read by other programs' readers, the same bytes every time, in an order that can be cut."""

import io
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pikepdf
import pytest
import shapely
from cut_sheets import cut, laid, printer, stored
from film_shapes import shape
from numpy.typing import NDArray

from filmhand import units
from filmhand.cut.dxf import dxf_of
from filmhand.cut.paths import CutPath, crossings, paths_on_sheet
from filmhand.cut.pdf import pdf_of
from filmhand.cut.svg import svg_of
from filmhand.errors import MachineError
from filmhand.gang.sheet import Placement, Sheet

SVG = "{http://www.w3.org/2000/svg}"


def square(left: float, top: float, side: float) -> NDArray[np.float64]:
    """A ring."""
    return np.array([[left, top], [left + side, top], [left + side, top + side], [left, top + side]])


def path(copy: int, *rings: NDArray[np.float64], job: str = "a") -> CutPath:
    """A path of one copy."""
    return CutPath(job, copy, 0, rings)


def test_dxf_as_read() -> None:
    """ezdxf reads it and its auditor finds nothing; millimetres, y up, closed lines on CUT, the film on a layer of its own."""
    ring = square(10, 20, 30)
    drawing = ezdxf.read(io.StringIO(dxf_of([path(1, ring)], sheet=Sheet("s", 60.0, 200.0, ())).decode("utf-8")))
    audit = drawing.audit()
    assert not audit.has_errors
    assert not audit.fixes
    assert (drawing.dxfversion, drawing.header["$INSUNITS"], drawing.header["$MEASUREMENT"]) == ("AC1024", 4, 1)
    lines = {line.dxf.layer: line for line in drawing.modelspace().query("LWPOLYLINE")}
    assert set(lines) == {"CUT", "FILM"}
    assert all(line.closed for line in lines.values())
    assert not drawing.layers.get("FILM").dxf.plot
    points = np.array(lines["CUT"].get_points("xy"))
    assert shapely.Polygon(points).equals(shapely.box(10, 150, 40, 180))
    assert shapely.Polygon(lines["FILM"].get_points("xy")).equals(shapely.box(0, 0, 60, 200))


def test_svg_titles_are_safe() -> None:
    """Orders with signs of XML, quotes and control characters come back as text; each path has its own id."""
    orders = {"a": '<b>"Müller & Söhne"</b>\x01\x1f'}
    drawn = svg_of(
        [path(1, square(0, 0, 5)), path(2, square(9, 0, 5), square(20, 0, 2))], sheet=Sheet("s", 60, 99.5, ()), orders=orders
    )
    root = ElementTree.fromstring(drawn)
    paths = list(root.iter(f"{SVG}path"))
    assert [one.findtext(f"{SVG}title") for one in paths] == [f'<b>"Müller & Söhne"</b>, copy {n}' for n in (1, 2)]
    assert len({one.attrib["id"] for one in paths}) == 2
    assert [one.attrib["d"].count("M") for one in paths] == [1, 2]
    assert root.attrib["viewBox"] == "0 0 60 99.5"


@pytest.mark.parametrize(("length_m", "unit"), [(1.0, 1), (5.0, 1), (5.1, 2), (20.0, 4)])
def test_pdf_of_any_length(length_m: float, unit: int) -> None:
    """No side beyond 14 400 units; the page in its own units is as long as the film, and version 1.6 where it needs one."""
    length = length_m * 1000
    with pikepdf.open(io.BytesIO(pdf_of([path(1, square(1, 1, 9))], sheet=Sheet("s", 600.0, length, ())))) as pdf:
        page = pdf.pages[0]
        sides = [float(side) for side in page.MediaBox[2:]]
        assert max(sides) <= 14_400
        assert int(page.obj.get("/UserUnit", 1)) == unit
        assert [units.px_to_mm(side * unit, 72) for side in sides] == pytest.approx([600.0, length], abs=0.001)
        assert unit == 1 or pdf.pdf_version >= "1.6"


def test_the_same_bytes_every_time(tmp_path: Path) -> None:
    """A sheet made again has the same files, whatever the time; the rule says which."""
    source = stored(tmp_path / "a", shape("lettering"), width_mm=20)
    sheet = Sheet(
        "night", 60.0, 30.0, (laid("a", 1, at=(5, 5), size=(20, 20)), laid("a", 2, at=(33, 5), size=(20, 20), rotation=90))
    )
    made = []
    for folder in (tmp_path / "one", tmp_path / "two"):
        folder.mkdir()
        names = cut(folder, sheet, {"a": source}, press=printer())
        assert names == ("night_cut.svg", "night_cut.pdf", "night_cut.dxf")
        assert {each.name for each in folder.iterdir()} == set(names)
        made.append([(folder / name).read_bytes() for name in names])
    assert made[0] == made[1]
    (tmp_path / "none").mkdir()
    assert cut(tmp_path / "none", sheet, {"a": source}, press=printer(), rules={"files": []}) == ()
    assert not list((tmp_path / "none").iterdir())


def test_paths_that_cross_are_told(tmp_path: Path) -> None:
    """Copies nearer than two offsets: no file is written, and the sentence names both."""
    source = stored(tmp_path / "a", np.full((100, 100), 255, np.uint8), width_mm=20)
    (tmp_path / "out").mkdir()
    close = Sheet("s", 60.0, 30.0, (laid("a", 1, at=(3, 3), size=(20, 20)), laid("a", 2, at=(26.5, 3), size=(20, 20))))
    with pytest.raises(MachineError, match="copy 1 of a and of copy 2 of a cross"):
        cut(tmp_path / "out", close, {"a": source}, press=printer())
    assert not list((tmp_path / "out").iterdir())
    just = Sheet("s", 60.0, 30.0, (laid("a", 1, at=(3, 3), size=(20, 20)), laid("a", 2, at=(27, 3), size=(20, 20))))
    assert cut(tmp_path / "out", just, {"a": source}, press=printer())


def test_a_path_within_another_does_not_cross_it() -> None:
    """A copy in the middle of a frame is well; one that reaches over the frame's line is not."""
    frame = path(1, square(0, 0, 50))
    assert crossings([frame, path(2, square(10, 10, 10))]) == ()
    assert len(crossings([frame, path(2, square(45, 10, 10))])) == 1


def test_what_lies_inside_is_cut_first(tmp_path: Path) -> None:
    """A copy within a frame, and one within that, before what is around them; else from the film's start on."""
    sizes = {"dot": 4.0, "ring": 20.0, "frame": 50.0}
    rings = {(job, 0): (square(-1, -1, side + 2),) for job, side in sizes.items()}
    spots = [
        ("frame", 1, 5, 5),
        ("ring", 1, 20, 20),
        ("dot", 1, 28, 28),
        ("dot", 2, 28, 2000),
        ("frame", 2, 5, 1000),
        ("dot", 3, 9, 1008),
    ]
    places = tuple(Placement(job, copy, x, y, sizes[job], sizes[job], 0.0) for job, copy, x, y in spots)
    paths = paths_on_sheet(
        Sheet("s", 60.0, 3000.0, places), rings, sizes={(job, 0): (side, side) for job, side in sizes.items()}, printer=printer()
    )
    assert [(one.job, one.copy) for one in paths] == [("dot", 1), ("ring", 1), ("frame", 1), ("dot", 3), ("frame", 2), ("dot", 2)]

"""Parts of a design that lie apart stay on one piece of film; distances by shapely."""

from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from cut_sheets import cut, laid, printer, stored
from shapely import Point, Polygon

from filmhand.cut.joined import joined
from filmhand.gang.sheet import Sheet


def _ring(x: float, y: float, radius: float) -> np.ndarray:
    return shapely.get_coordinates(Point(x, y).buffer(radius))[:-1]


@pytest.mark.parametrize("count", [2, 3, 7])
def test_the_path_is_one_and_holds_every_part(count: int) -> None:
    """Nothing but bridges is added: as wide as two offsets, between nearest parts; the rest of the path is that of the parts."""
    parts = tuple(_ring(30.0 * n, 7.0 * (n % 3), 10.0) for n in range(count))
    (ring,) = joined(parts, offset_mm=2.0)
    whole, discs = Polygon(ring), shapely.union_all([Polygon(part) for part in parts])
    assert whole.is_valid
    assert whole.buffer(1e-6).covers(discs)
    bridges = shapely.get_parts(whole.difference(discs.buffer(1e-6)))
    assert len(bridges) == count - 1
    between = [Polygon(a).distance(Polygon(b)) for a, b in pairwise(parts)]
    assert sorted(bridge.area for bridge in bridges) == pytest.approx(sorted(4.0 * gap for gap in between), rel=0.06)


def test_one_part_stays_as_it_is() -> None:
    """Nothing to tie."""
    parts = (_ring(0, 0, 10),)
    assert joined(parts, offset_mm=2.0) is parts
    assert joined((), offset_mm=2.0) == ()


def _cut_out(tmp_path: Path, folder: str, *, other_at: tuple[float, float], **rules: object) -> list[Polygon]:
    """The DXF's paths of a design of two bars 20 mm apart, with a square of 8 mm elsewhere."""
    bars, square = np.zeros((100, 300), np.uint8), np.full((80, 80), 255, np.uint8)
    bars[:, :50], bars[:, 250:] = 255, 255
    separations = {
        "bars": stored(tmp_path / folder / "bars", bars, width_mm=30.0),
        "square": stored(tmp_path / folder / "square", square, width_mm=8.0),
    }
    placements = (laid("bars", 1, at=(10, 10), size=(30, 10)), laid("square", 1, at=other_at, size=(8, 8)))
    sheet = Sheet("s", 60.0, 50.0, placements)
    cut(tmp_path, sheet, separations, press=printer(), rules={"offset": "1 mm", "files": ["dxf"], **rules})
    lines = ezdxf.readfile(tmp_path / "s_cut.dxf").modelspace().query('LWPOLYLINE[layer=="CUT"]')
    return [Polygon([(x, y) for x, y, *_ in line]) for line in lines]


def test_a_design_of_two_bars_is_cut_out_in_one_piece_or_as_the_rule_says(tmp_path: Path) -> None:
    """With the square elsewhere: two paths; with `together = false` three."""
    assert len(_cut_out(tmp_path, "one", other_at=(10, 30))) == 2
    assert len(_cut_out(tmp_path, "two", other_at=(10, 30), together=False)) == 3


def test_a_bridge_gives_way_to_another_copy(tmp_path: Path) -> None:
    """The square lies between the bars, where the bridge would be: it is not cut through, and the bars come out in two pieces."""
    paths = _cut_out(tmp_path, "three", other_at=(21, 11))
    assert len(paths) == 3
    assert not any(a.overlaps(b) for a in paths for b in paths)

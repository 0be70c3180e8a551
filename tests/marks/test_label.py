"""Labels as they are printed: on the composed white plane, read by zxing-cpp and measured in dots."""

from pathlib import Path

import numpy as np
import pytest
from marked_sheets import Composer, as_seen, codes_on, dots, labelled_copy, planes_of, printer, spot
from numpy.typing import NDArray

from filmhand import units
from filmhand.gang.labelled import LABEL_MM
from filmhand.gang.sheet import Placement, Sheet
from filmhand.marks.sheet_marks import LabelFacts, marks_for
from filmhand.rules import GangRules, Printer

ORDERS = ["SO-1047", "Müller & Søn, fall", "株式会社 7", "1;2/3;4"]


def white_of(folder: Path, by: Printer, placements: tuple[Placement, ...], facts: dict[str, LabelFacts]) -> NDArray[np.uint8]:
    """The white plane of a sheet of labels."""
    composer = Composer(folder, by)
    for job, part in {(item.job, item.part) for item in placements}:
        composer.add(job, np.full((4, 4), 255, np.uint8), width_mm=4.0, height_mm=4.0, part=part)
    sheet = Sheet("night-1", 200.0, 120.0, placements)
    labels = {(item.job, item.copy): facts[item.job] for item in placements}
    marks = marks_for(sheet, labels, printer=by, rules=GangRules(labels=True), title="t", at="now")
    return planes_of(*composer.compose(sheet, marks))["W"]


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("resolution", [(600, 600), (720, 720), (720, 1440), (1200, 600)])
@pytest.mark.parametrize("turn", [0.0, 20.0])
def test_every_code_on_the_film_is_read(tmp_path: Path, resolution: tuple[int, int], mirror: bool, turn: float) -> None:
    """Quarter turns, and 20° more: zxing-cpp reads each code off the white plane, and it says order, copy and job in UTF-8."""
    by = printer(resolution, mirror=mirror)
    facts = {f"job{n}": LabelFacts(order, 12, parts=3 if n == 1 else 0) for n, order in enumerate(ORDERS)}
    placements = tuple(
        labelled_copy(f"job{n}", n + 2, spot(15.0 + 45 * n, 20.0 + 40 * (n % 2), 90 * n + turn), part=int(n == 1))
        for n in range(4)
    )
    white = white_of(tmp_path, by, placements, facts)
    assert codes_on(as_seen(white, by)) == sorted(
        ["job0;2/12;SO-1047", "job1;3/12+1/3;Müller & Søn, fall", "job2;4/12;株式会社 7", "job3;5/12;1;2/3;4"]
    )


@pytest.mark.parametrize("resolution", [(360, 360), (600, 600), (720, 720), (720, 1440), (1200, 1200)])
@pytest.mark.parametrize("order", ["A1", "SO-1047", "A customer's very long name of an order"])
def test_quiet_zone_and_modules(tmp_path: Path, resolution: tuple[int, int], order: str) -> None:
    """At least four modules of printed white on every side (ISO/IEC 18004:2015, 6.3.8); modules are whole dots, 0.25 mm or more.

    A module is a seventh of a finder pattern's side (ibid., 6.3.3), measured where the code's first row begins.
    """
    by = printer(resolution)
    place = spot(50.0, 30.0, 0.0)
    white = white_of(tmp_path, by, (labelled_copy("job0", 2, place),), {"job0": LabelFacts(order, 5)})
    left, top = dots(place.x_mm, resolution[0]), dots(place.y_mm, resolution[1])
    label = white[top : top + dots(LABEL_MM[1], resolution[1]), left : left + dots(LABEL_MM[0], resolution[0])] > 0
    printed = label[label[:, 0]]  # the code stands at the left, its quiet zones unbroken rows and columns of dots
    block = printed[:, : int(np.argmin(printed[0]))]
    assert block[:, -1].all()
    assert not label[:, block.shape[1]].any()
    for picture, dpi in ((block, resolution[0]), (block.T, resolution[1])):
        bare = np.flatnonzero(~picture.all(axis=0))
        first = np.flatnonzero(~picture.all(axis=1))[0]
        finder = int(np.argmax(picture[first, bare[0] :]))
        module = finder // 7
        assert finder == 7 * module
        assert units.px_to_mm(module, dpi) >= 0.25 - 1e-6
        assert (bare[-1] + 1 - bare[0]) % module == 0
        assert min(bare[0], picture.shape[1] - 1 - bare[-1]) >= 4 * module


def test_a_label_lies_in_its_spot(tmp_path: Path) -> None:
    """No dot of the label lies outside the spot by more than rounding's one dot, turned or not, and text fills the far end."""
    by = printer()
    places = [spot(50.0, 20.0, 0.0), spot(60.0, 50.0, 90.0), spot(110.0, 50.0, 33.0)]
    placements = tuple(labelled_copy("job0", n + 1, place) for n, place in enumerate(places))
    white = white_of(tmp_path, by, placements, {"job0": LabelFacts("Wide as it goes WWWWWWWWWW", 5)}) > 0
    white[:, : dots(15.0, 720)] = False  # the copies
    assert white.any()
    for place in places:
        left, top = dots(place.x_mm, 720), dots(place.y_mm, 720)
        box = slice(top - 1, top + dots(place.height_mm, 720) + 1), slice(left - 1, left + dots(place.width_mm, 720) + 1)
        rows, columns = np.nonzero(white[box])
        assert np.ptp(rows) > 0.8 * dots(place.height_mm, 720)
        assert np.ptp(columns) > 0.8 * dots(place.width_mm, 720)
        white[box] = False
    assert not white.any()

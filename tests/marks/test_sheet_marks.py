"""A sheet's marks together: where they lie, in which planes, and that the rest of the sheet stays as it was."""

import pickle
from pathlib import Path

import numpy as np
import pytest
from marked_sheets import Composer, as_seen, dots, labelled_copy, planes_of, printer, spot
from numpy.typing import NDArray

from filmhand.delivery.readback import read_back
from filmhand.gang import compose as composing
from filmhand.gang.sheet import Placement, Sheet
from filmhand.marks.mark import Mark, Solid
from filmhand.marks.sheet_marks import LabelFacts, foot_mm, head_mm, marks_for
from filmhand.rules import GangRules, Printer

EVERY = GangRules.model_validate({"labels": True, "marks": {"header": True, "registration": True, "trim": True}})
WHOLE = Placement("job0", 1, 60.0, 30.0, 20.0, 15.0, 0.0, 0, spot(85.0, 30.0, 0.0))
SHEET = Sheet("night-7", 200.0, 70.0, (WHOLE,))
FACTS = {("job0", 1): LabelFacts("SO-1047", 1)}


def all_marks(by: Printer, rules: GangRules = EVERY) -> tuple[Mark, ...]:
    """The marks of SHEET."""
    return marks_for(SHEET, FACTS, printer=by, rules=rules, title="Dark cotton", at="2031-03-14 22:00")


def composer(folder: Path, by: Printer) -> Composer:
    """With the picture of SHEET: a gradient of coverage, so that its film is screened."""
    result = Composer(folder, by)
    result.add("job0", np.tile(np.linspace(0, 255, 80).astype(np.uint8), (60, 1)), width_mm=20.0, height_mm=15.0)
    return result


def under(marks: tuple[Mark, ...], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Where the sheet has marks' boxes."""
    mask = np.zeros(shape, np.bool_)
    for mark in marks:
        mask[mark.top : mark.top + mark.height, mark.left : mark.left + mark.width] = True
    return mask


@pytest.mark.parametrize("bits", [1, 2, 8])
def test_marks_count_and_leave_the_rest_alone(tmp_path: Path, bits: int) -> None:
    """Beside the marks no sample changes; in white they are full drops; what was counted is what tifffile finds."""
    by = printer((360, 360), bits=bits, drop_pl={"default": (4.0, 7.0, 14.0)} if bits == 2 else {"default": 7.0})
    shop, marks = composer(tmp_path, by), all_marks(by)
    bare, bare_folder = shop.compose(SHEET, (), "bare")
    marked, folder = shop.compose(SHEET, marks, "marked")
    before, after = planes_of(bare, bare_folder), planes_of(marked, folder)
    where = under(marks, after["W"].shape)
    full = {1: 1, 2: 3, 8: 255}[bits]
    for ink in bare.inks:
        assert np.array_equal(before[ink][~where], after[ink][~where])
        changed = after[ink][before[ink] != after[ink]]
        assert set(np.unique(changed)) <= {full}
        wanted = (after[ink].sum(),) if bits == 8 else [np.count_nonzero(after[ink] == level) for level in range(1, full + 1)]
        assert list(marked.samples[ink]) == list(wanted)
    assert marked.film_dots - bare.film_dots == np.count_nonzero(before["W"] != after["W"]) > 10_000
    assert read_back(folder, marked)


def test_marks_join_over_bands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bands of 64 rows and one band: the same files, byte for byte."""
    by = printer((360, 720), mirror=True)
    shop, files = composer(tmp_path, by), []
    for band_bytes in (1 << 30, 1):
        monkeypatch.setattr(composing, "_BAND_BYTES", band_bytes)
        composed, folder = shop.compose(SHEET, all_marks(by), f"out{band_bytes}")
        files.append([(folder / name).read_bytes() for name in (*composed.files, composed.preview)])
    assert files[0] == files[1]


def test_registration_marks_are_one_in_every_plane(tmp_path: Path) -> None:
    """In the corners between the margins every plane has the same cross in a circle, symmetrical, 5 mm across."""
    by = printer((600, 600), mirror=True, inks=["C", "M", "Y", "K", "R", "W"], highlight_white=True)
    rules = GangRules.model_validate({"marks": {"registration": True}})
    sheet = Sheet("s", 200.0, 40.0, ())
    marks = marks_for(sheet, {}, printer=by, rules=rules, title="t", at="now")
    planes = planes_of(*Composer(tmp_path, by).compose(sheet, marks))
    assert len(planes) == 7
    first = planes["C"] > 0
    assert all(np.array_equal(first, plane > 0) for plane in planes.values())
    rows, columns = np.nonzero(first)
    extent = rows.min(), rows.max() + 1, columns.min(), columns.max() + 1
    wanted = [dots(side, 600) for side in (5, 35, 5, 195)]
    assert np.abs(np.array(extent) - wanted).max() <= 1
    side = dots(5, 600)
    top, left = wanted[0], wanted[2]
    mark = first[top : top + side, left : left + side]
    assert np.array_equal(mark, mark[::-1])
    assert np.array_equal(mark, mark.T)
    assert 0.1 < mark.mean() < 0.4
    first[top : top + side] = first[wanted[1] - side : wanted[1]] = False
    assert not first[top + side + 2 : wanted[1] - side - 2].any()


@pytest.mark.parametrize("mirror", [False, True])
def test_the_header_is_read_from_left_to_right(tmp_path: Path, mirror: bool) -> None:
    """Its ink lies in the head strip between the registration marks, and as the film is seen the name stands at the left."""
    by = printer(mirror=mirror)
    rules = GangRules.model_validate({"marks": {"header": True, "registration": True}})
    sheet = Sheet("night-7", 200.0, 60.0, ())
    header, *_ = marks_for(sheet, {}, printer=by, rules=rules, title="Dark cotton", at="2031-03-14 22:00")
    seen = as_seen(planes_of(*Composer(tmp_path, by).compose(sheet, (header,)))["W"], by) > 0
    rows, columns = np.nonzero(seen)
    assert rows.min() >= dots(5, 720)
    assert rows.max() < dots(5 + head_mm(rules) - rules.gap / 2, 720)
    assert columns.min() >= dots(10, 720)
    assert columns.max() < dots(190, 720)
    heights = [
        np.ptp(np.flatnonzero(half.any(axis=1))) for half in np.array_split(seen[:, dots(10, 720) :], [dots(30, 720)], axis=1)
    ]
    assert heights[0] > 1.3 * heights[1]  # the name is set larger


def test_film_for_marks_is_asked_for_only_where_there_are_some() -> None:
    """Nothing without marks; with them room for the strip and half a gap."""
    bare, gap = GangRules(), EVERY.gap
    assert (head_mm(bare), foot_mm(bare)) == (0, 0)
    header = GangRules.model_validate({"marks": {"header": True}})
    registration = GangRules.model_validate({"marks": {"registration": True}})
    assert (head_mm(header), foot_mm(header)) == (6 + gap / 2, 0)
    assert (head_mm(registration), foot_mm(registration)) == (5 + gap / 2, 5 + gap / 2)


def test_frames_stay_off_header_and_registration_marks() -> None:
    """A slanting copy's empty corners reach to the margin: no frame crosses the strips at either end."""
    by = printer()
    sheet = Sheet("night-7", 200.0, 70.0, (Placement("job0", 1, 60.0, 5.0, 60.0, 60.0, 45.0),))
    marks = marks_for(sheet, FACTS, printer=by, rules=EVERY, title="t", at="now")
    lines = [mark for mark in marks if isinstance(mark.drawing, Solid)]
    assert lines
    assert all(dots(11, 720) <= line.top and line.bottom <= dots(60, 720) for line in lines)


def test_marks_of_a_night_are_small() -> None:
    """2,000 labels and frames, undrawn, are less than a kilobyte each; one alone is 320,000 dots."""
    by = printer()
    places = tuple(labelled_copy("job0", n + 1, spot(20.0 + n % 4 * 40, 20.0 + n // 4 * 20, 0.0)) for n in range(2000))
    facts = {("job0", n + 1): LabelFacts("SO-1047", 2000) for n in range(2000)}
    sheet = Sheet("night-7", 200.0, 10100.0, places)
    marks = marks_for(sheet, facts, printer=by, rules=EVERY, title="t", at="now")
    assert sum(mark.height == dots(11, 720) for mark in marks) == 2000
    assert len(pickle.dumps(marks)) / len(marks) < 1000

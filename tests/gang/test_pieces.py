"""Parts of a design far apart become pieces of their own; scipy's labelling is what they are held against."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.gang.pieces import in_pieces, pieces_of
from filmhand.separation.model import Separation


def _page(*boxes: tuple[int, int, int, int]) -> np.ndarray:
    """A page of 400 × 300 mm, a pixel a millimetre, with boxes: left, top, width, height."""
    page = np.zeros((300, 400), np.uint8)
    for left, top, width, height in boxes:
        page[top : top + height, left : left + width] = 200
    return page


def _pieces(page: np.ndarray, apart_mm: float = 30.0) -> list[tuple[int, int, int, int]]:
    """Left, top, width and height of the pixels of each piece."""
    found = []
    for piece in pieces_of(page, width_mm=400.0, height_mm=300.0, apart_mm=apart_mm):
        rows, columns = np.nonzero(piece.own & (page[piece.rows, piece.columns] > 0))
        left, top = columns.min() + piece.columns.start, rows.min() + piece.rows.start
        found.append((left, top, np.ptp(columns) + 1, np.ptp(rows) + 1))
    return found


def test_a_chest_and_a_sleeve_print_are_two_pieces() -> None:
    """150 mm apart with a limit of 30; each is its own box, the upper one first."""
    boxes = [(250, 20, 80, 60), (10, 120, 90, 150)]
    assert _pieces(_page(*boxes)) == boxes


def test_letters_of_a_word_stay_together() -> None:
    """29 mm between letters is not farther than 30; without any distance between them nothing is split."""
    word = [(10 + 49 * n, 100, 20, 40) for n in range(7)]
    assert len(_pieces(_page(*word))) == 1
    assert len(_pieces(_page(*word), apart_mm=20.0)) == 7


def test_a_speck_far_off_belongs_to_the_nearest_piece() -> None:
    """A dot of 5 mm is no piece of film to press by itself."""
    page = _page((10, 20, 90, 150), (300, 20, 80, 60), (330, 200, 5, 5))
    assert _pieces(page) == [(10, 20, 90, 150), (300, 20, 80, 185)]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 340), st.integers(0, 240), st.integers(12, 60), st.integers(12, 60)), min_size=1, max_size=6
    )
)
def test_pieces_are_the_groups_that_dilating_joins(boxes: list[tuple[int, int, int, int]]) -> None:
    """Every covered pixel is in exactly one piece, and a scipy group (dilated by less than half the limit) shares it."""
    page = _page(*boxes)
    seen = np.zeros(page.shape, int)
    owner = np.zeros(page.shape, int)
    for number, piece in enumerate(pieces_of(page, width_mm=400.0, height_mm=300.0, apart_mm=20.0), 1):
        own = piece.own & (page[piece.rows, piece.columns] > 0)
        seen[piece.rows, piece.columns] += own
        owner[piece.rows, piece.columns][own] = number
    assert (seen == (page > 0)).all()
    surely_joined, count = ndimage.label(ndimage.distance_transform_edt(page == 0) <= 8.0, np.ones((3, 3)))
    for group in range(1, count + 1):
        assert len(np.unique(owner[(surely_joined == group) & (page > 0)])) == 1
    _, count = ndimage.label(ndimage.distance_transform_edt(page == 0) <= 12.0, np.ones((3, 3)))
    assert len(np.unique(owner[page > 0])) >= count


def test_pieces_of_a_separation_hold_its_film_and_no_other() -> None:
    """Sizes in millimetres follow; a piece's box that reaches over another's film does not take it along."""
    page = _page((0, 0, 20, 300), (0, 280, 400, 20), (200, 100, 60, 60))
    whole = Separation(("K", "W"), np.stack([page, page // 2]), page, 400.0, 300.0)
    frame, inner = in_pieces(whole, apart_mm=30.0)
    assert (frame.width_mm, frame.height_mm, inner.width_mm, inner.height_mm) == (400.0, 300.0, 60.0, 60.0)
    assert int((frame.coverage > 0).sum()) + int((inner.coverage > 0).sum()) == int((page > 0).sum())
    assert not frame.coverage[100:160, 200:260].any()

"""Lettering: readable, no wider than its room, and honest about signs that the font lacks."""

import unicodedata

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont

from filmhand.marks.lettering import Line, fitted, ink


def drawn(text: str, size: float = 60.0) -> np.ndarray:
    """A text's ink without the blank border."""
    sheet, _ = ink(fitted(text, size_px=size, least_px=size, room_px=1e6))
    rows, columns = np.flatnonzero(sheet.any(axis=1)), np.flatnonzero(sheet.any(axis=0))
    return sheet[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


@pytest.mark.parametrize("letter", ["A", "g", "7", "&"])
def test_letters_are_the_fonts_own(letter: str) -> None:
    """Pillow's own drawing of the letter, its lines a little stronger, is the same picture."""
    image = Image.new("L", (120, 120))
    font = ImageFont.load_default(60.0)
    ImageDraw.Draw(image).text((30, 80), letter, font=font, fill=255, anchor="ls", stroke_width=60 * 0.025)
    wanted = np.asarray(image.crop(image.getbbox()))
    found = drawn(letter)
    assert found.shape == wanted.shape
    assert np.abs(found.astype(int) - wanted).mean() < 4


@settings(max_examples=100, deadline=None)
@given(text=st.text(max_size=60), room=st.floats(20, 900))
def test_a_line_is_no_wider_than_its_room(text: str, room: float) -> None:
    """Any text in any room: its ink fits, within the font's own overhang of two pixels; it is cut only at the least size."""
    line = fitted(text, size_px=48, least_px=24, room_px=room)
    sheet, _ = ink(line)
    assert line.width_px <= room
    assert not sheet[:, int(room) + 3 :].any()
    assert 24 <= line.size_px <= 48 or not line.text
    whole = " ".join(text.split())
    assert not line.text.endswith("…") or whole.endswith("…") or line.size_px == 24


def test_long_orders_are_set_smaller_and_then_cut() -> None:
    """Short text keeps its size, longer is smaller, the longest ends in an ellipsis."""
    short, longer, longest = (fitted(text, size_px=48, least_px=24, room_px=250) for text in ("SO-1", "SO-10471-B", "x" * 99))
    assert (short.text, short.size_px) == ("SO-1", 48)
    assert longer.text == "SO-10471-B"
    assert 24 < longer.size_px < 48
    assert longest.text.endswith("x…")
    assert longest.size_px == 24


@pytest.mark.parametrize("letter", "äöüÄÖÜéèêñåãíï")
def test_accents_stand_above_the_plain_letter(letter: str) -> None:
    """The letter's own ink, and above it more."""
    plain = drawn(unicodedata.normalize("NFD", letter)[0])
    accented = drawn(letter)
    more = len(accented) - len(plain)
    assert more > 5
    assert accented[:more].any()
    places = range(accented.shape[1] - plain.shape[1] + 1)
    assert any(np.array_equal(accented[more:, left : left + plain.shape[1]], plain) for left in places)


def test_signs_that_the_font_lacks_are_seen_to_be_missing() -> None:
    """Chinese, Cyrillic and a symbol: the same box each, as wide as a letter, never nothing."""
    boxes = [drawn(sign) for sign in "株Ж☂"]
    assert all(np.array_equal(box, boxes[0]) for box in boxes)
    assert boxes[0].shape[1] > 15
    assert boxes[0][[0, -1]].any(axis=1).all()
    assert len(boxes[0]) < drawn("株式").shape[1]


def test_nothing_is_a_line_too() -> None:
    """No text, no ink."""
    assert fitted(" \n ", size_px=10, least_px=5, room_px=50) == Line("", 1.0, 0.0)
    assert not ink(Line("", 1.0, 0.0))[0].any()

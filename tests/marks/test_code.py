"""QR codes of labels: zxing-cpp reads what was put in, whatever the order is called."""

import numpy as np
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from filmhand.marks.code import content, modules


def read(light: NDArray[np.bool_]) -> str:
    """What a code says, from its modules at four pixels each on black."""
    picture = np.kron(light, np.ones((4, 4), np.uint8)).astype(np.uint8) * 255
    (code,) = zxingcpp.read_barcodes(np.pad(picture, 20), text_mode=zxingcpp.TextMode.Plain)
    return code.text


@settings(max_examples=150, deadline=None)
@given(order=st.text(st.characters(exclude_categories=("C",)), max_size=60), copy=st.integers(1, 999), most=st.integers(29, 45))
def test_what_a_code_says(order: str, copy: int, most: int) -> None:
    """Any text: no larger than asked, it says the whole, or the start of it that has room and an ellipsis."""
    said = content("k7mq2xhd", (copy, 999), (0, 0), order)
    light = modules(said, most)
    assert light is not None
    assert light.shape[0] == light.shape[1] <= most
    found = read(light)
    assert found == said or (found.endswith("…") and said.startswith(found[:-1]) and len(found) > 5)


def test_what_fits_a_label() -> None:
    """Orders of up to 25 ASCII letters, and 11 of Chinese, are in the code whole at 37 modules a side (version 3)."""
    for order in ("x" * 25, "株" * 11):
        light = modules(content("k7mq2xhd", (10, 12), (1, 2), order), 37)
        assert light is not None
        assert read(light) == f"k7mq2xhd;10/12+1/2;{order}"


def test_no_room() -> None:
    """Less than the smallest code with its quiet zone: none."""
    assert modules("k7mq2xhd;1/1;", 28) is None

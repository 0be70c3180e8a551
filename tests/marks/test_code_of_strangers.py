"""What a label's code says where the order was written by a stranger: a telephone never takes it for an address or a command."""

import numpy as np
import pytest
import zxingcpp

from filmhand.marks import code

WRITTEN = (
    "https://example.org/",
    "javascript:alert(1)",
    "tel:+491234",
    "WIFI:S:open;T:nopass;;",
    "BEGIN:VCARD\nN:x\nEND:VCARD",
    "=cmd|' !A0",
    "\x1b[2J",
    "a;2/5;b",
)


@pytest.mark.parametrize("order", WRITTEN)
def test_it_begins_with_our_own_words(order: str) -> None:
    """Read by another program (zxing-cpp): the job and its copy come first, so no scheme stands where a reader looks for one."""
    made = code.modules(code.content("k7mq2xhd", (2, 5), (0, 0), order), 101)
    assert made is not None
    (read,) = zxingcpp.read_barcodes(
        np.kron(np.where(made, 255, 0).astype(np.uint8), np.ones((4, 4), np.uint8)), text_mode=zxingcpp.TextMode.Plain
    )
    job, count, rest = read.text.split(";", 2)
    assert (job, count) == ("k7mq2xhd", "2/5")
    assert rest == order

"""Nearly whole film becomes whole, without a jump, and film in light flat art has no pinholes."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from looking import Build, miss, opaque, seen

from filmhand.colour.charted import ChartedModel
from filmhand.separation.solid import made_solid


@given(st.floats(0, 1), st.floats(0.5, 1))
def test_never_less_and_whole_from_where_it_is_said(coverage: float, solid_from: float) -> None:
    """Between none and whole it is left alone, rises twice as fast, and then is whole."""
    made = float(made_solid(np.array(coverage), solid_from=solid_from))
    assert coverage <= made <= 1
    if coverage >= solid_from:
        assert made == 1
    if coverage <= 2 * solid_from - 1:
        assert made == coverage


def test_light_flat_colours_are_solid_on_black(coarse: Build, model: ChartedModel) -> None:
    """Cream and a bright orange, at 97 % without it, have whole film; what is seen stays, within ΔE00 0.5."""
    rgb = np.array([[0xFB, 0xF4, 0xE2], [0xF4, 0xA8, 0x3C]], np.uint8)
    knockout = {"strength": 1.0, "solid_from": 100}
    holed, whole = (coarse("#1b1b1d", knockout={**knockout, "solid_from": value}) for value in (100, 85))
    before, after = (table.apply(opaque(rgb))[1][0] for table in (holed, whole))
    assert (before < 255).all()
    assert (after == 255).all()
    looks = [seen(table, rgb, model=model, garment="#1b1b1d") for table in (holed, whole)]
    assert miss(*looks).max() < 0.5

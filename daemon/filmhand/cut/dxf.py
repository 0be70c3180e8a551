"""Cut paths as DXF R2010 (AC1024), in mm with y up: the origin is the film's lower left corner as the TIFF shows it.

A drawing has no page, so the film itself is a rectangle on a layer of its own, which is not for cutting or plotting.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import StringIO
from typing import Final

import ezdxf
import numpy as np
from ezdxf.document import Drawing
from ezdxf.filemanagement import new
from ezdxf.units import MM

from filmhand.cut.numbers import points
from filmhand.cut.paths import CutPath
from filmhand.gang.sheet import Sheet

CUT: Final = "CUT"
FILM: Final = "FILM"


def dxf_of(paths: Sequence[CutPath], *, sheet: Sheet) -> bytes:
    """A closed polyline for each ring on the layer CUT, the film on FILM; the same bytes for the same paths."""
    width, length = sheet.film_width_mm, sheet.length_mm
    with _without_dates():
        drawing = new("R2010", units=MM)
        drawing.layers.add(CUT, color=1)
        drawing.layers.add(FILM, color=8).dxf.plot = 0
        drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = (0.0, 0.0, 0.0), (width, length, 0.0)
        space = drawing.modelspace()
        space.add_lwpolyline([(0, 0), (width, 0), (width, length), (0, length)], close=True, dxfattribs={"layer": FILM})
        for path in paths:
            for ring in path.rings:
                upward = np.stack([ring[:, 0], length - ring[:, 1]], axis=1)
                space.add_lwpolyline(points(upward), close=True, dxfattribs={"layer": CUT})
        return _written(drawing)


def _written(drawing: Drawing) -> bytes:
    text = StringIO()
    drawing.write(text)
    return text.getvalue().encode("utf-8")


@contextmanager
def _without_dates() -> Iterator[None]:
    """Have the library write fixed dates and identifiers instead of today's and random ones."""
    options = ezdxf.options  # type: ignore[attr-defined]
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before

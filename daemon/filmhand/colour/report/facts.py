"""What the report of a fitted ink model tells of: the chart, the model, and how well one gives the other."""

from dataclasses import dataclass
from datetime import datetime

from filmhand.colour.fitted.accuracy import Accuracy
from filmhand.colour.fitted.fit import Fit
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.repeats import Averaged
from filmhand.colour.model import InkModel
from filmhand.colour.opacity_fit import OpacityFit


@dataclass(frozen=True, eq=False)
class MeasuredChart:
    """`files`: their names, one each time the chart was measured. `sha256`: of their bytes. `measured`: readings in them all."""

    files: tuple[str, ...]
    sha256: tuple[str, ...]
    measured: int
    averaged: Averaged


@dataclass(frozen=True, eq=False)
class WhiteWedge:
    """White on a black and on a white ground: what was measured, and what explains it."""

    on_black: Readings
    on_white: Readings
    fit: OpacityFit


@dataclass(frozen=True, eq=False)
class Judged:
    """`model`: the fitted inks as separation uses them. `ink_limit`: most ink together, 1 = one full ink. `name`: what the model
    is called. `printer`: what the shop calls it."""

    name: str
    printer: str
    when: datetime
    chart: MeasuredChart
    fit: Fit
    accuracy: Accuracy
    model: InkModel
    ink_limit: float
    white: WhiteWedge | None = None

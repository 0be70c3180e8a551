"""A press to test against: open characterisation data (Debian's icc-profiles-free), read by plain means apart from the package.

Cellular Neugebauer over the patches in which every ink is 0, 40 or 100 %, in the space XYZ^(1/n) with n = 1.7, areas between by
each ink's own ramp. Against the other patches of FOGRA39L that is right within ΔE00 0.5 on average.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.colour.black_point import compensated, neutral
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.expense import Expense
from filmhand.colour.inverse.inverse import Inverse
from filmhand.colour.inverse.printable import Printable
from filmhand.colour.inverse.settle import Nodes
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]

SETS = Path("/usr/share/color/icc")
FOGRA39 = SETS / "FOGRA39L.ti3"
needs_fogra39 = pytest.mark.skipif(not FOGRA39.exists(), reason="needs FOGRA39L.ti3 (Debian icc-profiles-free)")
N = 1.7
TONES = (0, 40, 100)


def patches(path: Path) -> tuple[Floats, Floats]:
    """CMYK (m, 4), 0 to 100, and XYZ (m, 3), relative to paper, Y 1, of a set."""
    lines = [line.split() for line in path.read_text("ascii", "replace").splitlines()]
    fields = lines[lines.index(["BEGIN_DATA_FORMAT"]) + 1]
    rows = lines[lines.index(["BEGIN_DATA"]) + 1 : lines.index(["END_DATA"])]
    columns = [fields.index(name) for name in ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K", "XYZ_X", "XYZ_Y", "XYZ_Z")]
    values = np.array([[float(row[i]) for i in columns] for row in rows])
    paper = values[(values[:, :4] == 0).all(axis=1), 4:].mean(axis=0)
    return values[:, :4], values[:, 4:] / paper * D50_WHITE


@dataclass(frozen=True, eq=False)
class Press:
    """An `InkModel` of a set."""

    path: Path
    steps: int = 13
    inks: tuple[str, ...] = ("C", "M", "Y", "K")
    yule_nielsen: float = N
    is_nominal: bool = False

    @property
    def digest(self) -> str:
        """Its file's name."""
        return self.path.name

    @cached_property
    def _cells(self) -> tuple[Floats, list[Floats]]:
        """The nodes (3, 3, 3, 3, 3) in the mixing space, and each ink's curve: where its tones 0 to 100 lie on the way."""
        cmyk, xyz = patches(self.path)
        mixing = {tuple(row): colour for row, colour in zip(cmyk.tolist(), xyz ** (1 / N), strict=True)}
        nodes = np.array([mixing[tuple(map(float, key))] for key in product(TONES, repeat=4)]).reshape(3, 3, 3, 3, 3)
        curves = []
        for i in range(4):
            ramp = sorted((key[i], colour) for key, colour in mixing.items() if sum(key) == key[i])
            tones, colours = np.array([tone for tone, _ in ramp]), np.array([colour for _, colour in ramp])
            way = (colours - colours[0]) @ (colours[-1] - colours[0])
            curves.append(np.interp(np.arange(101), tones, way / way[-1]))
        return nodes, curves

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3) of CMYK (..., 4), 0 to 1."""
        nodes, curves = self._cells
        flat = inks.reshape(-1, 4) * 100
        result = nodes[None]
        for i in range(4):
            own = np.interp(flat[:, i], np.arange(101), curves[i])
            places = np.array([curves[i][tone] for tone in TONES])
            cell = np.clip(np.searchsorted(places, own, side="right") - 1, 0, 1)
            part = ((own - places[cell]) / (places[cell + 1] - places[cell])).reshape(-1, *[1] * (4 - i))
            each = np.broadcast_to(result, (len(flat), *result.shape[1:]))
            row = np.arange(len(flat))
            result = (1 - part) * each[row, cell] + part * each[row, cell + 1]
        return np.asarray(np.maximum(result, 0) ** N).reshape(*inks.shape[:-1], 3)

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """As the models' of the package."""
        if rules.black_point_compensation:
            xyz = compensated(xyz, black=np.zeros(3), to=neutral(self.xyz(self.exact_inks_for(np.zeros(3), rules))))
        return self.exact_inks_for(xyz, rules)

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """As the models' of the package."""
        return self.inverse.exact(xyz, rules)

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """As the models' of the package."""
        return self.inverse.settled(inks, nodes, rules)

    @cached_property
    def inverse(self) -> Inverse:
        """The package's inverse over this press."""
        return Inverse(Printable.of(self.xyz, inks=self.inks, n=N, steps=self.steps), Expense.even(4))

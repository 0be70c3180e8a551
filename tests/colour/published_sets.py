"""Published characterisation data of offset printing, from Debian's package icc-profiles-free: what charts are checked against.

They are read in place and never copied. Paths are the package's; tests that need them are marked `outside` and skip aloud.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.colour.charted import ChartedModel
from filmhand.colour.cielab import lab_from_xyz, xyz_from_lab
from filmhand.colour.fitted.fit import fit
from filmhand.colour.measured.readings import Readings

Floats = NDArray[np.float64]

FOLDER = Path("/usr/share/color/icc")
SETS = ("FOGRA28L", "FOGRA29L", "FOGRA30L", "FOGRA39L", "FOGRA40L", "TR002", "TR003", "TR005", "TR006")


@dataclass(frozen=True, eq=False)
class Published:
    """Distinct amounts (m, 4), 0 to 1, of C, M, Y, K, and their XYZ (m, 3), Y 1 = perfect diffuser."""

    amounts: Floats
    xyz: Floats

    @property
    def lab(self) -> Floats:
        """CIELAB (m, 3), absolute."""
        return lab_from_xyz(self.xyz)

    def readings(self, rows: NDArray[np.bool_], *, noise: float = 0, seed: int = 0) -> Readings:
        """Some patches as an instrument might read them, with normal noise of a standard deviation in L*, a* and b*."""
        lab = self.lab + np.random.default_rng(seed).normal(0, noise, self.lab.shape)
        xyz = np.maximum(xyz_from_lab(lab), 1e-4) if noise else self.xyz
        names = tuple(str(row) for row in np.flatnonzero(rows))
        return Readings(("C", "M", "Y", "K"), names, self.amounts[rows], xyz[rows])

    def nodes(self, *levels: tuple[float, ...]) -> NDArray[np.bool_]:
        """The patches (m,) with every ink at one of its levels, and those of a single ink."""
        at_node = np.all([np.isin(self.amounts[:, ink], levels[ink]) for ink in range(4)], axis=0)
        return np.asarray(at_node | ((self.amounts > 0).sum(axis=1) <= 1))

    @property
    def small(self) -> NDArray[np.bool_]:
        """At most 160 patches: nodes at 0, 40 and 100 %, and wedges."""
        return self.nodes(*[(0.0, 0.4, 1.0)] * 4)

    @property
    def medium(self) -> NDArray[np.bool_]:
        """At most 420 patches."""
        return self.nodes(*[(0.0, 0.4, 0.7, 1.0)] * 3, (0.0, 0.2, 0.4, 0.6, 0.8, 1.0))


def published(name: str) -> Published:
    """A set by its name; the test is skipped where the package is not installed. Repeats are averaged."""
    path = FOLDER / f"{name}.ti3"
    if not path.exists():
        pytest.skip(f"{path} is missing (Debian package icc-profiles-free)")
    lines = [line.strip() for line in path.read_text("latin-1").splitlines()]
    fields = lines[lines.index("BEGIN_DATA_FORMAT") + 1].split()
    rows = [line.split() for line in lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")] if line]
    table = np.array([[float(row[fields.index(f"CMYK_{ink}")]) for ink in "CMYK"] for row in rows]) / 100
    xyz = np.array([[float(row[fields.index(f"XYZ_{axis}")]) for axis in "XYZ"] for row in rows]) / 100
    amounts, which, counts = np.unique(table.round(6), axis=0, return_inverse=True, return_counts=True)
    mean = np.stack([np.bincount(which.ravel(), xyz[:, axis]) / counts for axis in range(3)], axis=1)
    return Published(amounts, mean)


@cache
def fitted_press(name: str = "FOGRA39L") -> ChartedModel:
    """The model fitted to a set's 420 patches: a press to separate for."""
    data = published(name)
    return ChartedModel(fit(data.readings(data.medium)).model)

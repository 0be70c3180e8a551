"""A separation: one continuous-tone plane an ink, white included, plus its coverage; and where it is kept."""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Separation:
    """An artwork as inks, at source resolution (at most the printer's), right-reading (not mirrored).

    `inks`: letters of the planes, as `Printer.planes` has them. `planes`: n×h×w uint8, tones (colour/printer_tone.py) *inside*
    the film's islands, 255 = full. White is counted in volume, 255 = one full layer, and stands last, a second white after it.
    `coverage`: h×w uint8, the fraction of garment that carries film, 255 = everywhere; where it is 0 the planes lay nothing.
    """

    inks: tuple[str, ...]
    planes: NDArray[np.uint8]
    coverage: NDArray[np.uint8]
    width_mm: float
    height_mm: float

    def save(self, folder: Path) -> None:
        """Write `planes.npy`, `coverage.npy` and `separation.json` into an existing folder."""
        np.save(folder / "planes.npy", self.planes)
        np.save(folder / "coverage.npy", self.coverage)
        facts = {"inks": self.inks, "width_mm": self.width_mm, "height_mm": self.height_mm}
        (folder / "separation.json").write_text(json.dumps(facts), "utf-8")

    @classmethod
    def open(cls, folder: Path) -> "Separation":
        """The separation in a folder, its arrays memory-mapped and read-only."""
        facts = json.loads((folder / "separation.json").read_text("utf-8"))
        return cls(
            inks=tuple(facts["inks"]),
            planes=np.load(folder / "planes.npy", mmap_mode="r"),
            coverage=np.load(folder / "coverage.npy", mmap_mode="r"),
            width_mm=facts["width_mm"],
            height_mm=facts["height_mm"],
        )

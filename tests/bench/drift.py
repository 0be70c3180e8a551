"""Figures for drift: false alarms, small shifts told, and ΔE00 before and after the curves, on synthetic printers.

    python tests/bench/drift.py [--inks CMYK CMYKRGBO] [--noise 0.2] [--seeds 200]

Colours are mixes at random within an ink limit of 220 %; the strip is the one that `filmhand chart` lays out, read then and now
with the noise given (standard deviation in each of L*, a*, b*). The printer is tests/colour/synthetic.py, whose physics is not
the ink model's; the model is fitted to a chart of it with noise 0.2. Nothing here is asserted.
"""

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.chart.model import Wanted
from filmhand.colour.chart.strip import control_strip
from filmhand.colour.charted import ChartedModel
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.drift import Drift, Verdict, drift
from filmhand.colour.fitted.fit import fit
from filmhand.colour.measured.readings import Readings
from filmhand.colour.sectors import sectors

sys.path.insert(0, str(Path(__file__).parents[1]))
from colour.synthetic import SyntheticPrinter

Floats = NDArray[np.float64]

GAINS = (0.05, -0.03, 0.04, 0.05, 0.0, 0.04, 0.0, -0.05)
"""Growth of dots at half tone, ink by ink."""


@dataclass(frozen=True, eq=False)
class Press:
    """A printer, its fitted model and its strip (m, k)."""

    printer: SyntheticPrinter
    model: ChartedModel
    strip: Floats

    @classmethod
    def charted(cls, inks: tuple[str, ...]) -> "Press":
        """Overprints of each sector, tones of each ink, and mixes at random."""
        printer = SyntheticPrinter(inks)
        tones = np.concatenate([np.eye(len(inks)) * tone for tone in np.linspace(0, 1, 11)])
        overprints = np.rint(_mixes(inks, 64, seed=2, limit=9))
        chart = np.unique(np.concatenate([tones, overprints, _mixes(inks, 30, seed=3)]), axis=0)
        patches = control_strip(inks, Wanted(), printer="synthetic").lists[0]
        strip = patches.amounts[:, [patches.inks.index(ink) for ink in inks]]
        return cls(printer, ChartedModel(fit(printer.measure(chart, noise_lab=0.2, seed=1)).model), strip)

    def lays(self, sent: Floats, gain: float, full: float) -> Floats:
        """What a moved printer lays, in amounts of the charted one. `gain`: times GAINS."""
        gains = gain * np.array(GAINS[: sent.shape[1]])
        return np.clip(full * (sent + 4 * gains * sent * (1 - sent)), 0, 1)

    def read(self, noise: float, seed: int, *, gain: float = 0.0, full: float = 1.0) -> Readings:
        """The strip."""
        seen = self.printer.measure(self.lays(self.strip, gain, full), noise_lab=noise, seed=seed)
        return replace(seen, amounts=self.strip)

    def drift(self, noise: float, seed: int, *, gain: float = 0.0, full: float = 1.0) -> Drift:
        """Then and now."""
        now = self.read(noise, seed + 10_000, gain=gain, full=full)
        return drift(self.read(noise, seed), now=now, model=self.model, noise=noise)


def _mixes(inks: tuple[str, ...], count: int, *, seed: int, limit: float = 2.2) -> Floats:
    """(n, k): so many of each sector."""
    rng = np.random.default_rng(seed)
    mixes = []
    for sector in sectors(inks):
        columns = [inks.index(ink) for ink in sector]
        amounts = np.zeros((count, len(inks)))
        amounts[:, columns] = rng.random((count, len(columns)))
        mixes.append(amounts * np.minimum(1, limit / amounts.sum(axis=1, keepdims=True)))
    return np.concatenate(mixes)


def _mended(press: Press, noise: float, gain: float, full: float) -> str:
    inks = press.printer.inks
    found = press.drift(noise, 0, gain=gain, full=full)
    mixes = _mixes(inks, 60, seed=9)
    wanted = lab_from_xyz(press.printer.xyz(mixes))
    misses = []
    for sent in (mixes, found.curves.sent_for(mixes, inks=inks)):
        miss = difference(lab_from_xyz(press.printer.xyz(press.lays(sent, gain, full))), wanted)
        misses.append(f"{miss.mean():.2f} (p95 {np.percentile(miss, 95):.2f})")
    return f"ΔE00 {' -> '.join(misses)}; strip {found.before:.2f} -> {found.after:.2f}; {found.verdict}"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--inks", nargs="+", default=["CMYK", "CMYKRGBO"])
    parser.add_argument("--noise", type=float, default=0.2)
    parser.add_argument("--seeds", type=int, default=200)
    asked = parser.parse_args()
    for inks in asked.inks:
        press = Press.charted(tuple(inks))
        steady = [press.drift(asked.noise, seed).verdict is Verdict.STEADY for seed in range(asked.seeds)]
        told = [bool(press.drift(asked.noise, seed, gain=0.6).curves.inks) for seed in range(asked.seeds // 4)]
        print(f"{inks}, noise {asked.noise}: false alarms {1 - np.mean(steady):.1%}; shifts of 2 to 3 % told {np.mean(told):.1%}")
        for gain, full in ((1.0, 1.0), (1.0, 0.96), (0.0, 0.9), (2.0, 1.0)):
            print(f"  dots {gain} × {GAINS[0]:.0%}, full ink {full:.0%}: {_mended(press, asked.noise, gain, full)}")


if __name__ == "__main__":
    main()

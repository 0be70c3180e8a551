"""A synthetic printer: invented inks on invented film white, printed and measured by physics that is not filmhand's ink model.

Nothing here was measured on any machine. It stands in for measured charts of more than four inks, of which none are published:
what is shown on it is shown on a synthetic printer, and says so.

* An ink layer absorbs and scatters: Kubelka and Munk 1931, layers stacked by Kubelka 1948, white lowest, the ink printed first on
  top. A layer on wet ink is thinner (trapping).
* Dots spread on the film, and have a rim half as thick, as if drawn through a small blur.
* Dots of different inks lie independently (Demichel 1924) within a place, but where film takes one ink it takes the others, too:
  half of the area gets more of all, half less, which makes overlaps a little likelier.
* Light spreads below the dots: partly not at all (Neugebauer 1937), partly so far that it leaves anywhere (Clapper and Yule
  1953), with the inner reflections of Saunderson 1942.

Colour: 36 bands of 10 nm, CIE 1931 observer by Wyman, Sloan and Shirley 2013, illuminant D50.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.measured.readings import Readings, Spectra
from filmhand.colour.opacity import NOMINAL, Opacity

Floats = NDArray[np.float64]

WAVELENGTHS: Final = np.arange(380.0, 731.0, 10.0)

# CIE 15, relative power of D50 at 380, 390 … 730 nm; from memory.
_D50: Final = np.array(
    [
        [24.49, 29.87, 49.31, 56.51, 60.03, 57.82, 74.82, 87.25, 90.61, 91.37, 95.11, 91.96],
        [95.72, 96.61, 97.13, 102.10, 100.75, 102.32, 100.00, 97.74, 98.92, 93.50, 97.69, 99.27],
        [99.04, 95.72, 98.86, 95.67, 98.19, 103.00, 99.13, 87.38, 91.60, 92.89, 76.85, 86.51],
    ]
).ravel()
# Wyman, Sloan and Shirley 2013, "Simple Analytic Approximations to the CIE XYZ Color Matching Functions", several lobes:
# height, centre (nm), and the inverse widths (1/nm) below and above it.
_LOBES: Final = (
    ((1.056, 599.8, 0.0264, 0.0323), (0.362, 442.0, 0.0624, 0.0374), (-0.065, 501.1, 0.0490, 0.0382)),
    ((0.821, 568.8, 0.0213, 0.0247), (0.286, 530.9, 0.0613, 0.0322)),
    ((1.217, 437.0, 0.0845, 0.0278), (0.681, 459.0, 0.0385, 0.0725)),
)


@dataclass(frozen=True)
class _Pigment:
    """Absorption as bands (height, centre nm, width nm) and scattering, both of a full layer; how far its dots spread."""

    bands: tuple[tuple[float, float, float], ...]
    scattering: float
    spread: float


# Every value invented, so that solids look like inks of these names.
_PIGMENTS: Final = {
    "C": _Pigment(((1.25, 625, 55), (1.1, 705, 60), (0.16, 430, 60), (0.22, 545, 40)), 0.012, 0.20),
    "M": _Pigment(((1.25, 560, 30), (1.2, 522, 34), (0.55, 440, 55), (0.05, 630, 60)), 0.015, 0.24),
    "Y": _Pigment(((1.3, 430, 38), (0.9, 380, 50), (0.40, 480, 18), (0.03, 560, 70)), 0.022, 0.17),
    "K": _Pigment(((1.15, 400, 260), (1.15, 640, 260)), 0.010, 0.28),
    "R": _Pigment(((1.9, 545, 30), (1.8, 485, 45), (1.2, 400, 60), (0.10, 620, 60)), 0.022, 0.22),
    "G": _Pigment(((1.7, 645, 50), (1.3, 715, 55), (1.6, 420, 42), (0.40, 470, 18), (0.12, 540, 60)), 0.018, 0.19),
    "B": _Pigment(((1.5, 580, 45), (1.4, 640, 50), (0.8, 710, 50), (0.75, 520, 26), (0.20, 440, 60)), 0.014, 0.25),
    "O": _Pigment(((1.8, 470, 42), (1.4, 400, 50), (1.1, 528, 20), (0.10, 600, 60)), 0.025, 0.18),
}
_CLEAR: Final = 0.004
"""Absorption of a full layer outside all bands."""
_TRAPPING: Final = 0.93
"""Thickness of a layer on ink, of that on bare film; once more for every ink below."""
_RIM: Final = 0.30
"""Share of a small dot that is rim."""
_UNEVEN: Final = 0.45
"""How much likelier and less likely than on average ink is in the two halves of the area."""
_LOCAL: Final = 0.45
"""Share of the light that leaves where it came in."""
_OUTSIDE: Final = 0.04
_INSIDE: Final = 0.45
"""Share of light reflected at the surface, from outside (and lost to a 45°:0° instrument) and from inside."""


@dataclass(frozen=True)
class SyntheticPrinter:
    """A printer of colour inks (letters, in print order, of C M Y K R G B O) over full white."""

    inks: tuple[str, ...]

    def measure(self, amounts: Floats, *, noise_lab: float = 0.0, seed: int = 0) -> Readings:
        """Print and measure patches (m, k), 0 to 1 of full ink. `noise_lab`: standard deviation, in L*, a* and b* each, of what
        printing and the instrument add (spread over the spectra as evenly as may be)."""
        spectra = self.reflectances(amounts)
        xyz = xyz_of(spectra)
        if noise_lab:
            noise = np.random.default_rng(seed).normal(0, noise_lab, xyz.shape)
            added = xyz_from_lab(lab_from_xyz(xyz) + noise) - xyz
            spectra = np.maximum(spectra + added @ np.linalg.pinv(_weights()), 0)
            xyz = xyz_of(spectra)
        names = tuple(f"{i + 1}" for i in range(len(amounts)))
        return Readings(self.inks, names, np.array(amounts, np.float64), xyz, Spectra(WAVELENGTHS, spectra))

    def xyz(self, amounts: Floats) -> Floats:
        """The true colour (m, 3) of patches (m, k), relative to film white (D50, Y 1): what an ink model's `xyz` should say."""
        seen = xyz_of(self.reflectances(np.concatenate([np.zeros((1, len(self.inks))), amounts])))
        return np.asarray(seen[1:] / seen[0] * D50_WHITE)

    def reflectances(self, amounts: Floats) -> Floats:
        """Spectra (m, 36) of patches (m, k), without noise."""
        seen = np.empty((len(amounts), len(WAVELENGTHS)))
        used = (amounts > 0) @ (1 << np.arange(len(self.inks)))
        for bits in np.unique(used):
            present = [i for i in range(len(self.inks)) if bits >> i & 1]
            seen[used == bits] = _printed([self.inks[i] for i in present], amounts[np.ix_(used == bits, present)])
        return seen


@dataclass(frozen=True)
class SyntheticColours:
    """The synthetic printer's true colours as an ink model has them, forward only, its white nominal."""

    yule_nielsen: float
    inks: tuple[str, ...]
    opacity: Opacity = NOMINAL

    def xyz(self, inks: Floats) -> Floats:
        """Of ink amounts (..., k)."""
        return SyntheticPrinter(self.inks).xyz(inks.reshape(-1, len(self.inks))).reshape(*inks.shape[:-1], 3)


def xyz_of(reflectances: Floats) -> Floats:
    """XYZ (m, 3), D50, 2°, of spectra (m, 36); a perfect diffuser has the profile connection space's white."""
    return np.asarray(reflectances @ _weights())


def _weights() -> Floats:
    weights = _matching() * _D50[:, None]
    return np.asarray(weights / weights.sum(axis=0) * D50_WHITE)


def _matching() -> Floats:
    """The observer's x, y, z (36, 3)."""
    matching = np.zeros((len(WAVELENGTHS), 3))
    for j, lobes in enumerate(_LOBES):
        for height, centre, below, above in lobes:
            slope = np.where(centre > WAVELENGTHS, below, above)
            matching[:, j] += height * np.exp(-(((WAVELENGTHS - centre) * slope) ** 2) / 2)
    return matching


def _white() -> Floats:
    """Inner reflectance of the film's white: a rutile-like edge in the violet, a little warm."""
    return np.asarray(0.93 / (1 + np.exp(-(WAVELENGTHS - 398) / 9)) * (1 - 0.03 * np.exp(-((WAVELENGTHS - 420) ** 2) / 5000)))


def _printed(inks: Sequence[str], amounts: Floats) -> Floats:
    """Spectra (m, 36) of patches (m, k) of these inks: halftone of all their stacks, light spread below."""
    layers = np.stack([_stack(inks, levels) for levels in np.ndindex(*[3] * len(inks))])
    white = _white()
    clear = np.sqrt(layers / white)
    seen = np.zeros((len(amounts), len(WAVELENGTHS)))
    for start in range(0, len(amounts), 4096):
        areas = _areas(inks, amounts[start : start + 4096])
        there, back = areas @ clear, areas @ clear**2
        spread = (1 - _OUTSIDE) * (1 - _INSIDE) * white * there**2 / (1 - _INSIDE * white * back)
        seen[start : start + 4096] = _LOCAL * (areas @ _outside(layers)) + (1 - _LOCAL) * spread
    return seen


def _areas(inks: Sequence[str], amounts: Floats) -> Floats:
    """Share (m, 3^k) of each stack: every ink bare, thin (the rim) or full, the last ink's level changing fastest."""
    shares = []
    for way in (-1, 1):
        share = np.ones((len(amounts), 1))
        for i, ink in enumerate(inks):
            area = amounts[:, i] + 4 * _PIGMENTS[ink].spread * amounts[:, i] * (1 - amounts[:, i]) * (1 - 0.4 * amounts[:, i])
            area = area + way * _UNEVEN * area * (1 - area)
            rim = _RIM * area * (1 - area)
            levels = np.stack([1 - area, rim, area - rim], axis=-1)
            share = (share[:, :, None] * levels[:, None, :]).reshape(len(amounts), -1)
        shares.append(share)
    return np.asarray((shares[0] + shares[1]) / 2)


def _stack(inks: Sequence[str], levels: Sequence[int]) -> Floats:
    """Inner reflectance (36,) of layers over white; the last ink lies lowest."""
    seen, below = _white(), 0
    for ink, level in reversed(list(zip(inks, levels, strict=True))):
        if level:
            seen = _over(seen, _PIGMENTS[ink], level / 2 * _TRAPPING**below)
            below += 1
    return seen


def _over(ground: Floats, pigment: _Pigment, thickness: float) -> Floats:
    """Kubelka and Munk's reflectance of a layer on a ground (Kubelka 1948, equation of the hyperbolic cotangent)."""
    absorbed = _CLEAR + sum(high * np.exp(-(((WAVELENGTHS - at) / wide) ** 2)) for high, at, wide in pigment.bands)
    a = 1 + absorbed / pigment.scattering
    b = np.sqrt(a**2 - 1)
    coth = b / np.tanh(b * pigment.scattering * thickness)
    return np.asarray((1 - ground * (a - coth)) / (a - ground + coth))


def _outside(inner: Floats) -> Floats:
    """What an instrument sees of an inner reflectance (Saunderson 1942), the gloss left out."""
    return np.asarray((1 - _OUTSIDE) * (1 - _INSIDE) * inner / (1 - _INSIDE * inner))

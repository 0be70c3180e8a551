"""The blue-noise tile's radially averaged power spectrum and its anisotropy.

Ulichney, "Dithering with blue noise", Proc. IEEE 76 (1988), and his void-and-cluster paper, Proc. SPIE 1913 (1993): little power
below the principal frequency, a peak there, flat above; √g cycles a pixel for g ≤ ½, √(1 - g) above (given from memory).
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.halftone.blue_noise import SIDE, blue_noise_ranks
from filmhand.halftone.thresholds import Ranks

RING = 1 / 64
"""Width of a ring, cycles a pixel."""


@pytest.fixture(scope="module")
def ranks(tmp_path_factory: pytest.TempPathFactory) -> Ranks:
    """The tile's ranks."""
    return blue_noise_ranks(tmp_path_factory.mktemp("cache"))


def power_of(ranks: Ranks, tone: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Power by frequency, white noise being 1, and the frequencies' distance from none."""
    pattern = ranks < tone * ranks.size
    power = np.abs(np.fft.fft2(pattern - pattern.mean())) ** 2 / pattern.size / (tone * (1 - tone))
    return power, np.hypot(*np.meshgrid(np.fft.fftfreq(SIDE), np.fft.fftfreq(SIDE)))


@pytest.mark.parametrize(
    ("tone", "bar"), [(1 / 64, 0.15), (1 / 32, 0.15), (1 / 16, 0.15), (1 / 8, 0.15), (1 / 4, 0.15), (1 / 2, 0.30), (3 / 4, 0.15)]
)
def test_low_below_the_principal_frequency(ranks: Ranks, tone: float, bar: float) -> None:
    """Power below half the principal frequency. Void-and-cluster tiles made independently had 0.06 to 0.124, at one half 0.28."""
    power, frequency = power_of(ranks, tone)
    low = power[(frequency > 0) & (frequency < math.sqrt(min(tone, 1 - tone)) / 2)].mean()
    print(f"tone {tone:.3f}: {low:.3f} of white noise below half the principal frequency")
    assert low <= bar


@pytest.mark.parametrize(
    ("tone", "bar"),
    [
        (1 / 32, 0.25),
        (1 / 16, 0.15),
        (1 / 8, 0.15),
        (3 / 16, 0.15),
        (13 / 16, 0.15),
        (7 / 8, 0.15),
        (15 / 16, 0.15),
        (31 / 32, 0.25),
    ],
)
def test_peak_at_the_principal_frequency(ranks: Ranks, tone: float, bar: float) -> None:
    """The strongest ring lies within 15 % of the principal frequency, where that is one the pixels can hold in all directions.

    At 1/32 dots are nearly four times the neighbourhood's 1.5 pixels apart, which blunts the peak: within 25 %.
    """
    power, frequency = power_of(ranks, tone)
    edges = np.arange(RING / 2, 0.5, RING)
    rings = np.array([power[(frequency >= edge) & (frequency < edge + RING)].mean() for edge in edges])
    peak, principal = edges[np.argmax(rings)] + RING / 2, math.sqrt(min(tone, 1 - tone))
    print(f"tone {tone:.3f}: peak at {peak / principal:.2f} of the principal frequency, {rings.max():.2f} of white noise")
    assert abs(peak / principal - 1) <= bar
    assert rings.max() > 1.2


@pytest.mark.parametrize("tone", [1 / 32, 1 / 16, 1 / 8, 1 / 4, 3 / 4, 7 / 8, 15 / 16])
def test_no_direction_stands_out(ranks: Ranks, tone: float) -> None:
    """Anisotropy, the variance of a ring's powers over their mean squared: about 0 dB of a pattern alike in all directions,
    whose powers are distributed as chi-squared of two degrees of freedom. The mean over the rings is below +1 dB."""
    power, frequency = power_of(ranks, tone)
    rings = [power[(frequency >= edge) & (frequency < edge + RING)] for edge in np.arange(2 * RING, 0.5, RING)]
    decibels = [10 * math.log10(ring.var(ddof=1) / ring.mean() ** 2) for ring in rings]
    print(f"tone {tone:.3f}: anisotropy {np.mean(decibels):+.2f} dB, at most {max(decibels):+.2f} dB")
    assert np.mean(decibels) <= 1.0

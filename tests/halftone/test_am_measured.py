"""AM screens measured on the dots they lay, by their FFT: ruling, angle, and nothing coarser than the screen."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.fft import rfft2

from filmhand.halftone.am import am_onsets
from filmhand.halftone.thresholds import thresholds
from filmhand.rules import DotShape, ScreenKind, ScreenRules

RESOLUTIONS = [(600, 600), (720, 720), (1440, 1440), (720, 1200), (720, 1440)]
RULINGS = (15, 45, 85)
ANGLES = (0, 22.5, 52.5, 75)
TONE = 100


def laid(lpi: float, angle: float, resolution: tuple[int, int], *, shape: DotShape = DotShape.ROUND) -> NDArray[np.bool_]:
    """One tile of a flat tone's dots."""
    asked = ScreenRules(screen=ScreenKind.AM, lpi=lpi, angle=angle, shape=shape)
    return np.asarray(thresholds(am_onsets(asked, resolution=resolution)) < TONE)


def measured(dots: NDArray[np.bool_], resolution: tuple[int, int], *, towards: float) -> tuple[float, float]:
    """The strongest wave within 45° of a direction: lines an inch, and degrees.

    The FFT's strongest bin, of a Hann window over about 36 mm; then the vertex of the parabola through the
    logarithms of it and its neighbours, across and down.
    """
    size = [2 * dpi // 100 * 72 for dpi in reversed(resolution)]
    wide = dots[np.arange(size[0])[:, None] % dots.shape[0], np.arange(size[1])[None, :] % dots.shape[1]]
    window = np.outer(np.hanning(size[0]), np.hanning(size[1]))
    power = np.abs(rfft2((wide - wide.mean()) * window))
    down, across = np.fft.fftfreq(size[0])[:, None] * resolution[1], np.fft.rfftfreq(size[1])[None, :] * resolution[0]
    turn = (np.degrees(np.arctan2(down, across)) - towards + 90) % 180 - 90
    near = (np.abs(turn) < 45) & (np.hypot(down, across) > 5)
    y, x = np.unravel_index(np.argmax(np.where(near, power, 0)), power.shape)

    def vertex(values: NDArray[np.float64]) -> float:
        before, here, after = np.log(values)
        return float((before - after) / (2 * (before - 2 * here + after)))

    column = power[(y + np.array([-1, 0, 1])) % size[0], x]
    row = power[y, np.abs(x + np.array([-1, 0, 1]))] if x else power[[-y, y, y], [1, 0, 1]]
    fine_down = float(down[y, 0]) + vertex(column) / size[0] * resolution[1]
    fine_across = float(across[0, x]) + vertex(row) / size[1] * resolution[0]
    return math.hypot(fine_down, fine_across), math.degrees(math.atan2(fine_down, fine_across))


@pytest.mark.parametrize("resolution", RESOLUTIONS)
def test_ruling_and_angle(resolution: tuple[int, int]) -> None:
    """Both waves of 12 screens at every resolution: within 0.5 % of the ruling, 0.2° of the angle (the figures are printed)."""
    rulings, turns = [], []
    for lpi in RULINGS:
        for angle in ANGLES:
            dots = laid(lpi, angle, resolution)
            for towards in (angle, angle + 90):
                ruling, turn = measured(dots, resolution, towards=towards)
                rulings.append(ruling / lpi - 1)
                turns.append((turn - towards + 90) % 180 - 90)
    print(
        f"{resolution}: ruling {min(rulings):+.3%} to {max(rulings):+.3%}, angle {min(turns):+.3f} to {max(turns):+.3f} degrees"
    )
    assert np.abs(rulings).max() <= 0.005
    assert np.abs(turns).max() <= 0.2


@pytest.mark.parametrize("shape", DotShape)
@pytest.mark.parametrize(
    ("resolution", "lpi", "angle"),
    [((720, 720), 45, 22.5), ((1440, 1440), 45, 22.5), ((720, 1440), 45, 22.5), ((600, 600), 55, 15), ((720, 720), 85, 45)],
)
def test_no_beats(shape: DotShape, resolution: tuple[int, int], lpi: float, angle: float) -> None:
    """What is coarser than half the screen's ruling, of all tones: root mean square, at most a quarter of what one half strewn at
    random would have (½ of the square root of these frequencies' share: white noise)."""
    asked = ScreenRules(screen=ScreenKind.AM, lpi=lpi, angle=angle, shape=shape)
    tile = thresholds(am_onsets(asked, resolution=resolution))
    down, across = (np.fft.fftfreq(side) * dpi for side, dpi in zip(tile.shape, reversed(resolution), strict=True))
    coarse = np.hypot(*np.meshgrid(across, down)) < lpi / 2
    coarse[0, 0] = False
    worst = max(np.sqrt((np.abs(np.fft.fft2(tone > tile))[coarse] ** 2).sum()) / tile.size for tone in range(8, 255, 16))
    strewn = 0.5 * math.sqrt(coarse.mean())
    print(f"{shape} {resolution} {lpi} lpi: coarse {worst:.2%}, strewn {strewn:.2%}")
    assert worst <= strewn / 4


def test_the_measure_tells_a_turned_screen() -> None:
    """The measurement itself: waves drawn at 44.7 lines an inch and 23°, on no grid of dots, are read to 0.05 % and 0.02°."""
    y, x = np.mgrid[0:2048, 0:2048] + 0.5
    turn, pitch = math.radians(23), 720 / 44.7
    along, across = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    dots = np.cos(2 * np.pi * along / pitch) + np.cos(2 * np.pi * across / pitch) > 0.5
    ruling, angle = measured(dots, (720, 720), towards=23)
    assert ruling == pytest.approx(44.7, rel=5e-4)
    assert angle == pytest.approx(23, abs=0.02)

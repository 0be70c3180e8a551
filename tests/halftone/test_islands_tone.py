"""The mean tone under the least dot and the least hole: flat tones, ramps and photographs through AM screens at 45 lpi."""

from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage
from skimage import data
from test_choke import to_dots, to_words
from test_islands import am

from filmhand.halftone.blue_noise import void_and_cluster
from filmhand.halftone.choke import disc
from filmhand.halftone.islands import enforced

LPI, LEAST_DOT_MM, LEAST_HOLE_MM, MM_PER_INCH = 45, 0.25, 0.2, 25.4
SIDE_IN = 2048 / 720

RESOLUTIONS = [(720, 720), (720, 1440)]


@cache
def chance() -> NDArray[np.uint8]:
    """A blue-noise tile of thresholds 0 to 254."""
    ranks = void_and_cluster(64, first_dots=400, seed=3)
    return (ranks.astype(np.int64) * 255 // ranks.size).astype(np.uint8)


def before_and_after(
    tone: NDArray[np.float32], resolution: tuple[int, int], angle: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """A picture of tones through the screen, and what `enforced` makes of it; what is neither bare nor full is screened."""
    film = am(tone, (resolution[0] / LPI, resolution[1] / LPI), angle)
    least_dot, least_hole = (
        disc((mm / MM_PER_INCH * resolution[0] / 2, mm / MM_PER_INCH * resolution[1] / 2)) for mm in (LEAST_DOT_MM, LEAST_HOLE_MM)
    )
    screened = to_words((tone > 0) & (tone < 1))
    fit = enforced(to_words(film), screened, least_dot=least_dot, least_hole=least_hole, chance=chance(), width=tone.shape[1])
    return film, to_dots(fit, tone.shape[1])


def size(resolution: tuple[int, int]) -> tuple[int, int]:
    """Rows and columns of a square of 72 mm."""
    return round(SIDE_IN * resolution[1]), round(SIDE_IN * resolution[0])


@pytest.mark.parametrize("angle", [0, 22.5, 45])
@pytest.mark.parametrize("resolution", RESOLUTIONS)
def test_flat_tones(resolution: tuple[int, int], angle: float) -> None:
    """The mean stays within 1 % of the tone, also where the cells are 16 dots apart and so in step with the tile of 64."""
    for percent in (2, 3, 5, 8, 12, 50, 88, 92, 95, 98):
        film, fit = before_and_after(np.full(size(resolution), percent / 100, np.float32), resolution, angle)
        assert fit.mean() == pytest.approx(film.mean(), rel=0.01), percent


@pytest.mark.parametrize("darker", [False, True])
@pytest.mark.parametrize("resolution", RESOLUTIONS)
def test_ramp(resolution: tuple[int, int], darker: bool) -> None:
    """A ramp's mean, and that of each sixteenth of it, stays within 1 % of the tone, or half a step of 8-bit tones."""
    rows, columns = size(resolution)
    ramp = np.tile(np.linspace(0, 0.2, columns, dtype=np.float32), (rows, 1))
    film, fit = before_and_after(1 - ramp if darker else ramp, resolution, 22.5)
    assert fit.mean() == pytest.approx(film.mean(), rel=0.01)
    for part in np.array_split(np.arange(columns), 16):
        assert fit[:, part].mean() == pytest.approx(film[:, part].mean(), rel=0.01, abs=1 / 510)


@pytest.mark.parametrize("resolution", RESOLUTIONS)
@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea", "camera", "rocket"])
def test_photographs(name: str, resolution: tuple[int, int]) -> None:
    """scikit-image's photographs: the mean within 1 % of the tone, and as the eye averages them 1 % of full film on average."""
    picture = getattr(data, name)()
    grey = picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    film, fit = before_and_after(cv2.resize(grey, size(resolution)[::-1]) / np.float32(255), resolution, 22.5)
    assert fit.mean() == pytest.approx(film.mean(), rel=0.01)
    sigma = [dpi / MM_PER_INCH for dpi in resolution[::-1]]  # 1 mm, what the eye averages from a metre and more (our choice)
    seen = ndimage.gaussian_filter(fit.astype(np.float32) - film, sigma, truncate=3)
    assert np.sqrt((seen**2).mean()) < 0.01

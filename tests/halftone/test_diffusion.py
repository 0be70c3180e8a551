"""Error diffusion against Pillow's own, against the papers' weights written out dot by dot, and its spectrum."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from skimage import data

from filmhand.halftone.bits import Words
from filmhand.halftone.diffusion import Carried, Diffusion, diffuse
from filmhand.rule_values import DiffusionKernel

STRAIGHT = np.arange(256) / 255
SIZES = (1 / 3, 0.6, 1.0)
TEXTBOOK = Diffusion(DiffusionKernel.FLOYD_STEINBERG, serpentine=False, amounts=STRAIGHT, sizes=(1.0,))
WEIGHTS = {  # the papers' own figures, the dot marked by what lies to the right of it in the first row; from memory
    DiffusionKernel.FLOYD_STEINBERG: ([7, 0], [0, 3, 5, 1, 0], [0, 0, 0, 0, 0]),
    DiffusionKernel.JARVIS_JUDICE_NINKE: ([7, 5], [3, 5, 7, 5, 3], [1, 3, 5, 3, 1]),
    DiffusionKernel.STUCKI: ([8, 4], [2, 4, 8, 4, 2], [1, 2, 4, 2, 1]),
}
BOTH_WAYS = pytest.mark.parametrize("serpentine", [False, True])
KERNELS = pytest.mark.parametrize("kernel", DiffusionKernel)


def dots(levels: Words) -> NDArray[np.bool_]:
    """levels×rows×columns bool."""
    return np.unpackbits(levels.view(np.uint8), axis=-1, bitorder="little").astype(bool)


def flat(tone: int, by: Diffusion, side: int = 512) -> NDArray[np.bool_]:
    """Dots of a flat tone, levels×side×side."""
    return dots(diffuse(np.full((side, side), tone, np.uint8), by=by, carried=None)[0])


def pictures() -> dict[str, NDArray[np.uint8]]:
    """Ramps, photographs of scikit-image, noise; as wide as whole words."""
    noise = np.random.default_rng(11).integers(0, 256, (200, 320)).astype(np.uint8)
    ramp = np.tile(np.linspace(0, 255, 512).astype(np.uint8), (100, 1))
    wide = {"noise": noise, "ramp across": ramp, "ramp down": np.ascontiguousarray(np.tile(ramp[:1].T, (1, 128)))}
    photographs = {"camera": data.camera(), "coins": data.coins(), "page": data.page(), "moon": data.moon()}
    return wide | {name: picture[:, : picture.shape[1] // 64 * 64] for name, picture in photographs.items()}


@pytest.mark.parametrize("name", pictures())
def test_the_textbook_is_pillows(name: str) -> None:
    """Floyd and Steinberg, left to right, straight, one drop: every dot is that of Pillow's `convert("1")`."""
    picture = pictures()[name]
    assert np.array_equal(
        dots(diffuse(picture, by=TEXTBOOK, carried=None)[0])[0], np.array(Image.fromarray(picture).convert("1"))
    )


@pytest.mark.parametrize("tone", [0, 1, 2, 3, 63, 64, 127, 128, 129, 200, 253, 254, 255])
def test_the_textbook_is_pillows_in_flat_tones(tone: int) -> None:
    """The same of flat tones."""
    picture = np.full((64, 128), tone, np.uint8)
    assert np.array_equal(
        dots(diffuse(picture, by=TEXTBOOK, carried=None)[0])[0], np.array(Image.fromarray(picture).convert("1"))
    )


def written_out(tones: NDArray[np.uint8], by: Diffusion) -> NDArray[np.int64]:
    """Drop numbers by handing every dot's rounding on to the dots still to come, one at a time, in float64."""
    height, width = tones.shape
    wanted = np.zeros((height + 2, width + 4))
    wanted[:height, 2:-2] = by.amounts[tones] * 255
    drops = np.array((0, *by.sizes)) * 255
    rows = [np.array(row, float) for row in WEIGHTS[by.kernel]]
    total = sum(row.sum() for row in rows)
    numbers = np.zeros(tones.shape, np.int64)
    for y in range(height):
        step = -1 if by.serpentine and y % 2 else 1
        for x in range(width)[::step]:
            value = wanted[y, x + 2]
            numbers[y, x] = np.argmin(np.abs(drops - value))
            error = (value - drops[numbers[y, x]]) / total
            for k, weight in enumerate(rows[0], start=1):
                wanted[y, x + 2 + k * step] += error * weight
            for down in (1, 2):
                for k, weight in enumerate(rows[down], start=-2):
                    wanted[y + down, x + 2 + k * step] += error * weight
    return numbers


@KERNELS
@BOTH_WAYS
@pytest.mark.parametrize("sizes", [(1.0,), SIZES])
def test_the_papers_weights(kernel: DiffusionKernel, sizes: tuple[float, ...], *, serpentine: bool) -> None:
    """Every kernel, both ways, one drop and three: a photograph's drops are those of the paper's rule done dot by dot."""
    picture = data.camera()[100:140, 150:278]
    by = Diffusion(kernel, serpentine, STRAIGHT**1.2, sizes)
    assert np.array_equal(dots(diffuse(picture, by=by, carried=None)[0]).sum(axis=0), written_out(picture, by))


@given(st.lists(st.integers(0, 40), max_size=4), st.sampled_from(DiffusionKernel), st.booleans(), st.integers(0, 2))
@settings(max_examples=60, deadline=None)
def test_bands_join(cuts: list[int], kernel: DiffusionKernel, serpentine: bool, seed: int) -> None:
    """Any division into bands, bands of no rows among them, gives the same dots."""
    picture = data.camera()[200:240, 100:292].copy()
    picture[10:17] = 0
    picture[:, 60:90] = 0
    for amounts, sizes in ((STRAIGHT, (1.0,)), (STRAIGHT**0.8, SIZES)):
        by = Diffusion(kernel, serpentine, amounts, sizes, seed)
        bands, carried, edges = [], None, [0, *sorted(cuts), 40]
        for first, last in itertools.pairwise(edges):
            levels, carried = diffuse(picture[first:last], by=by, carried=carried)
            bands.append(levels)
        assert np.array_equal(np.concatenate(bands, axis=1), diffuse(picture, by=by, carried=None)[0])


def test_what_is_carried_is_not_changed() -> None:
    """A band may be done again from what the band above has handed on."""
    picture = data.camera()[:64]
    first: Carried = diffuse(picture[:32], by=TEXTBOOK, carried=None)[1]
    once = diffuse(picture[32:], by=TEXTBOOK, carried=first)[0]
    assert np.array_equal(once, diffuse(picture[32:], by=TEXTBOOK, carried=first)[0])


@KERNELS
@BOTH_WAYS
@pytest.mark.parametrize("sizes", [(1.0,), SIZES])
def test_mean_is_kept(kernel: DiffusionKernel, sizes: tuple[float, ...], *, serpentine: bool) -> None:
    """A flat tone's volume over 512 × 512 dots is its amount within 0.2 %, of which nearly all is what its edges still owe."""
    by = Diffusion(kernel, serpentine, STRAIGHT**1.5, sizes, seed=2)
    growth = np.diff((0, *sizes))
    off = []
    for tone in (0, 4, 8, 16, 32, 64, 100, 128, 160, 192, 224, 240, 250, 255):
        off.append(growth @ flat(tone, by).mean(axis=(1, 2)) - by.amounts[tone])
    print(f"{kernel} {'to and fro' if serpentine else 'one way'} {len(sizes)} drops: mean off {min(off):+.3%} to {max(off):+.3%}")
    assert np.abs(off).max() <= 0.002
    assert off[0] == 0
    assert off[-1] == 0


@KERNELS
def test_only_the_two_nearest_drops(kernel: DiffusionKernel) -> None:
    """A flat amount just between two drop volumes is made of those two."""
    by = Diffusion(kernel, serpentine=True, amounts=STRAIGHT, sizes=SIZES, seed=1)
    assert set(np.unique(flat(119, by).sum(axis=0))) == {1, 2}


@KERNELS
@pytest.mark.parametrize(("tone", "bar"), [(16, 0.15), (32, 0.15), (64, 0.15), (128, 0.30), (192, 0.15)])
def test_spectrum_is_blue(kernel: DiffusionKernel, tone: int, bar: float) -> None:
    """To and fro: power below half the principal frequency, white noise being 1.

    Ulichney, "Dithering with blue noise", Proc. IEEE 76 (1988), finds Floyd and Steinberg's to be blue noise: held to the bars of
    the blue-noise tile. The two wider kernels are coarser in middle tones: held to 0.4 there.
    """
    if kernel is not DiffusionKernel.FLOYD_STEINBERG and tone >= 64:
        bar = 0.4
    share = tone / 255
    pattern = flat(tone, Diffusion(kernel, serpentine=True, amounts=STRAIGHT, sizes=(1.0,), seed=4), 576)[0][64:, 32:-32]
    power = np.abs(np.fft.fft2(pattern - pattern.mean())) ** 2 / pattern.size / (share * (1 - share))
    frequency = np.hypot(*np.meshgrid(np.fft.fftfreq(512), np.fft.fftfreq(512)))
    low = power[(frequency > 0) & (frequency < math.sqrt(min(share, 1 - share)) / 2)].mean()
    print(f"{kernel} tone {tone}: {low:.3f} of white noise")
    assert low <= bar


@KERNELS
def test_to_and_fro_is_symmetrical(kernel: DiffusionKernel) -> None:
    """Going to and fro, waves that lean left are as strong as those that lean right, within 10 %; one way less alike."""

    def lean(*, serpentine: bool) -> float:
        by = Diffusion(kernel, serpentine, STRAIGHT, (1.0,), seed=4)
        worst = 0.0
        for tone in (20, 40, 60, 90):
            pattern = flat(tone, by, 576)[0][64:, 32:-32]
            power = np.abs(np.fft.fft2(pattern - pattern.mean())) ** 2
            y, x = np.meshgrid(np.fft.fftfreq(512), np.fft.fftfreq(512), indexing="ij")
            ring = np.hypot(x, y) < 1.5 * math.sqrt(tone / 255)
            right, left = (power[ring & (side * x * y > 0)].sum() for side in (1, -1))
            worst = max(worst, abs(right - left) / (right + left))
        return float(worst)

    to_and_fro, one_way = lean(serpentine=True), lean(serpentine=False)
    print(f"{kernel}: to and fro {to_and_fro:.3f}, one way {one_way:.3f}")
    assert to_and_fro <= 0.10
    assert to_and_fro < one_way


@KERNELS
def test_inks_fall_independently(kernel: DiffusionKernel) -> None:
    """Two inks of one tone, a bare margin around: dots that coincide are a·b of the area ± 0.01 (Demichel). Floyd and
    Steinberg's at one half falls short, since its checkerboard has only two ways to lie: ± 0.05."""
    margin = np.zeros((1024, 1088), np.uint8)
    for a, b in ((26, 26), (64, 64), (192, 192), (64, 192), (100, 100), (128, 128)):
        laid = []
        for tone, seed in ((a, 1), (b, 2)):
            margin[100:, 64:] = tone
            by = Diffusion(kernel, serpentine=True, amounts=STRAIGHT, sizes=(1.0,), seed=seed)
            laid.append(dots(diffuse(margin, by=by, carried=None)[0])[0, 100:, 64:])
        off = (laid[0] & laid[1]).mean() - a * b / 255**2
        print(f"{kernel} {a} {b}: {off:+.4f}")
        assert abs(off) <= (0.05 if a == b == 128 and kernel is DiffusionKernel.FLOYD_STEINBERG else 0.01)


def test_bare_places_stay_bare() -> None:
    """No dot where the tone is 0, beside or below any other tone."""
    picture = np.random.default_rng(1).integers(0, 256, (128, 256)).astype(np.uint8)
    picture[picture < 150] = 0
    for kernel in DiffusionKernel:
        for seed in (0, 3):
            laid = dots(diffuse(picture, by=Diffusion(kernel, True, STRAIGHT, (1.0,), seed), carried=None)[0])[0]
            assert not laid[picture == 0].any()

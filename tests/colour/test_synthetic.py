"""The synthetic printer is a believable stand-in: its physics at published points, its inks what their names say."""

import numpy as np
import pytest

from colour import synthetic
from colour.synthetic import SyntheticPrinter
from filmhand.colour import neugebauer
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz

INKS = tuple("CMYKRGBO")
PRINTER = SyntheticPrinter(INKS)


def solid(*stacks: str) -> np.ndarray:
    """CIELAB of full inks over one another, over film white; "" is bare film."""
    return lab_from_xyz(PRINTER.xyz(np.array([[1.0 * (ink in stack) for ink in INKS] for stack in stacks])))


def test_observer_and_illuminant_are_near_d50() -> None:
    """The approximated observer sees the illuminant at D50's chromaticity, x 0.3457 y 0.3585 (CIE 15), to 0.003."""
    raw = synthetic._matching().T @ synthetic._D50
    assert raw[:2] / raw.sum() == pytest.approx([0.3457, 0.3585], abs=0.003)


@pytest.mark.parametrize(("power", "on_black", "on_white"), [(1, 0.49769, 0.82573), (2, 0.66096, 0.84364), (4, 0.78725, 0.86616)])
def test_layers_follow_kubelka_and_munk(power: float, on_black: float, on_white: float) -> None:
    """R∞ 0.90 on grounds of 0 and 0.80 at scattering powers 1, 2 and 4: values computed from Kubelka's equation."""
    ratio = (1 - 0.9) ** 2 / (2 * 0.9)
    pigment = synthetic._Pigment((), synthetic._CLEAR / ratio, 0)
    for ground, seen in ((0.0, on_black), (0.8, on_white)):
        layer = synthetic._over(np.full(36, ground), pigment, power * ratio / synthetic._CLEAR)
        assert layer == pytest.approx(seen, abs=1e-5)


@pytest.mark.parametrize(
    ("ink", "hue", "least_chroma"), [("C", 230, 50), ("M", 355, 60), ("Y", 95, 75), ("R", 38, 75), ("G", 155, 60), ("O", 65, 80)]
)
def test_inks_are_what_they_are_called(ink: str, hue: float, least_chroma: float) -> None:
    """Hue within 20° of what such inks have (common practice, no source; C, M and Y as FOGRA39L's 233, 358 and 93)."""
    _, a, b = solid(ink)[0]
    assert abs((np.degrees(np.arctan2(b, a)) - hue + 180) % 360 - 180) < 20
    assert np.hypot(a, b) > least_chroma


@pytest.mark.parametrize(("ink", "overprint"), [("R", "MY"), ("G", "CY"), ("B", "CM"), ("O", "MY")])
def test_further_inks_are_stronger_than_overprints(ink: str, overprint: str) -> None:
    """R, G, B and O have more chroma than the overprint that does without them, and are no darker."""
    own, other = solid(ink, overprint)
    assert np.hypot(*own[1:]) > np.hypot(*other[1:])
    assert own[0] > other[0]


def test_more_ink_is_darker() -> None:
    """Each ink's wedge falls in Y all along, and a further full ink darkens any colour lighter than it."""
    for i in range(len(INKS)):
        wedge = np.zeros((21, len(INKS)))
        wedge[:, i] = np.linspace(0, 1, 21)
        assert (np.diff(PRINTER.xyz(wedge)[:, 1]) < 0).all()
    lightness = solid("", "C", "CM", "CMY", "CMYK")[:, 0]
    assert (np.diff(lightness) < 0).all()


def test_dots_gain() -> None:
    """Half-tones look like 60 to 85 % by Murray and Davies: dots spread, and light below them (common practice, no source)."""
    amounts = np.concatenate([np.zeros((1, 8)), np.eye(8), np.eye(8) / 2])
    spectra = PRINTER.reflectances(amounts)
    bare, full, half = spectra[0], spectra[1:9], spectra[9:]
    band = np.argmin(full, axis=1)[:, None]
    full_there, half_there = np.take_along_axis(full, band, 1), np.take_along_axis(half, band, 1)
    seen = (bare[band] - half_there) / (bare[band] - full_there)
    assert 0.6 < seen.min() <= seen.max() < 0.85


def test_plain_neugebauer_misses_it() -> None:
    """Even with each ink's own curve, four inks' sixteen overprints mixed plainly miss the truth by more than ΔE00 2 on average:
    a model that fits this printer has found out something."""
    mixes = np.zeros((500, 8))
    mixes[:, :4] = np.random.default_rng(1).random((500, 4))
    corners = np.zeros((16, 8))
    corners[:, :4] = np.arange(16)[:, None] >> np.arange(4) & 1
    steps, areas = np.linspace(0, 1, 51), np.zeros((500, 4))
    for i, channel in enumerate((0, 1, 2, 1)):
        light = PRINTER.xyz(np.eye(8)[i] * steps[:, None])[:, channel]
        areas[:, i] = np.interp(mixes[:, i], steps, (light[0] - light) / (light[0] - light[-1]))
    plain = neugebauer.mixed(areas, primaries=PRINTER.xyz(corners), n=1.0)
    assert difference(lab_from_xyz(plain), lab_from_xyz(PRINTER.xyz(mixes))).mean() > 2


def test_noise_is_what_was_asked_for() -> None:
    """Noise of 0.4 in L*, a* and b* shows as such on grays, in the spectra too, and the same seed repeats it."""
    amounts = np.tile([0.3, 0.25, 0.25, 0.1, 0, 0, 0, 0], (4000, 1))
    clean, noisy = PRINTER.measure(amounts[:1]), PRINTER.measure(amounts, noise_lab=0.4, seed=3)
    assert (lab_from_xyz(noisy.xyz) - lab_from_xyz(clean.xyz)).std(axis=0) == pytest.approx([0.4] * 3, rel=0.05)
    assert noisy.spectra is not None
    assert synthetic.xyz_of(noisy.spectra.reflectances) == pytest.approx(noisy.xyz, abs=1e-9)
    assert (PRINTER.measure(amounts, noise_lab=0.4, seed=3).xyz == noisy.xyz).all()

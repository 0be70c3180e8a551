"""Named colours: what the table says, the best inks against an optimiser and a published set, and the values that mean them."""

import shutil
import subprocess
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import differential_evolution

from colour.published_sets import fitted_press
from filmhand import settings_file
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.named import NamedColour, best_inks, over_film, values_meaning
from filmhand.colour.nominal import nominal_model
from filmhand.colour.source import value_of_srgb
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules

PAPER = np.array([0.8448, 0.8762, 0.7457])
"""FOGRA39L's paper, whose CIELAB is 95 0 -2."""
PROFILES = Path("/usr/share/color/icc/ghostscript")
needs_profiles = pytest.mark.skipif(not (PROFILES / "a98.icc").exists(), reason="needs a98.icc (Debian libgs-common)")
needs_transicc = pytest.mark.skipif(shutil.which("transicc") is None, reason="needs transicc (Debian liblcms2-utils)")


def named(text: str) -> NamedColour:
    """One colour of a table."""
    return settings_file.validated(NamedColour, tomllib.loads(text), text, Path("colours.toml"))


def test_a_colour_as_cielab_or_as_reflectances() -> None:
    """A flat 20 % is gray of L* 116 ∛0.2 - 16 (CIE 15), whatever the steps."""
    assert named("lab = [47.2, 68, -3.5]").absolute_lab() == pytest.approx([47.2, 68, -3.5])
    gray = [116 * 0.2 ** (1 / 3) - 16, 0, 0]
    assert named(f"reflectance = {[20.0] * 31}").absolute_lab() == pytest.approx(gray, abs=1e-6)
    assert named(f"reflectance = {[20.0] * 36}\nwavelengths = [380, 730]").absolute_lab() == pytest.approx(gray, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('also = ["red"]', "either lab"),
        ("lab = [50, 0, 0]\nreflectance = [20, 20]", "either lab"),
        ("reflectance = [20, 20, 20, 20]", "400 nm to 700 nm"),
        (f"reflectance = {[20.0] * 31}\nwavelengths = [450, 750]", "400 nm to 700 nm"),
        ("lab = [150, 0, 0]", "less than or equal to 100"),
        ('lab = [50, 0, 0]\nsrgb = "red"', "six digits"),
        ("lab = [50, 0, 0]\ninks = 4", "no such key"),
    ],
)
def test_what_is_wrong_with_a_colour(text: str, said: str) -> None:
    """The file, and what was expected."""
    with pytest.raises(SettingsError, match=said) as refusal:
        named(text)
    assert refusal.value.file == Path("colours.toml")


def test_paper_is_white() -> None:
    """A set's paper, CIELAB 95 0 -2, becomes the white of models over it (ICC.1:2010 section 6.3.2.2)."""
    assert over_film(np.array([95.0, 0, -2]), PAPER) == pytest.approx([100, 0, 0], abs=0.03)
    assert over_film(np.array([40.0, 20, -30]), D50_WHITE) == pytest.approx([40, 20, -30])


@pytest.mark.parametrize("inks", ["CMYK", "CMY", "CMYKRGBO"])
def test_a_printable_colour_is_hit(inks: str) -> None:
    """Colours of inks that may lie together, within the limit: ΔE00 0.1 at most, and the limit holds."""
    model, rules = nominal_model(tuple(inks)), ColourRules(ink_limit=220)
    rng = np.random.default_rng(60)
    for _ in range(15):
        amounts = np.zeros(len(inks))
        amounts[:3] = rng.random(3) * 0.6
        wanted = lab_from_xyz(model.xyz(amounts))
        match = best_inks(wanted, model=model, rules=rules)
        assert match.delta_e < 0.1
        assert match.delta_e == pytest.approx(float(difference(wanted, lab_from_xyz(model.xyz(match.inks)))))
        assert 0 <= match.inks.min() <= match.inks.max() <= 1
        assert match.inks.sum() <= 2.2 + 1e-9


@pytest.mark.parametrize(
    "lab", [(47, 68, 40), (30, 30, -60), (55, -65, 30), (64, 58, 86), (8, 0, 0), (97, -2, 60), (40, 80, -20)]
)
def test_no_inks_come_nearer(lab: tuple[float, float, float]) -> None:
    """Out of gamut, within ΔE00 0.1 of the best that scipy's differential evolution finds within the limit."""
    model, rules = nominal_model(tuple("CMYK")), ColourRules(ink_limit=220)
    wanted = np.array(lab, np.float64)

    def miss(inks: np.ndarray) -> float:
        within = inks * min(1.0, 2.2 / max(float(inks.sum()), 1e-9))
        return float(difference(wanted, lab_from_xyz(model.xyz(within))))

    best = differential_evolution(miss, [(0, 1)] * 4, seed=61, maxiter=150, tol=1e-8).fun
    assert best_inks(wanted, model=model, rules=rules).delta_e <= best + 0.1


@pytest.mark.outside
def test_a_solid_of_a_published_set() -> None:
    """FOGRA39L's magenta over yellow, CIELAB 47 68 48, is M 100 Y 100 on that press, within 3 % and ΔE00 1."""
    match = best_inks(over_film(np.array([47.0, 68, 48]), PAPER), model=fitted_press(), rules=ColourRules(ink_limit=300))
    assert match.delta_e < 1
    assert match.inks == pytest.approx([0, 1, 1, 0], abs=0.03)


def test_the_values_that_mean_a_colour() -> None:
    """Those with an `srgb`; of two with the same the first."""
    table = {
        "club red": named('lab = [45, 60, 35]\nsrgb = "#c4152b"'),
        "house gray": named("lab = [60, 0, 0]"),
        "other red": named('lab = [40, 50, 30]\nsrgb = "#C4152B"'),
        "sand": named('lab = [75, 5, 20]\nsrgb = "#d8b890"'),
    }
    names, values = values_meaning(table, profile=None)
    assert names == ("club red", "sand")
    assert values.tolist() == [[0xC4, 0x15, 0x2B], [0xD8, 0xB8, 0x90]]
    assert values_meaning({}, profile=None)[0] == ()


@pytest.mark.parametrize("lab", [(45, 60, 35), (75, 5, 20)])
def test_hit_over_film_that_is_not_quite_white(lab: tuple[float, float, float]) -> None:
    """What an instrument measures of the print is the colour wanted, as near as inks can."""
    model = nominal_model(tuple("CMYK"))
    match = best_inks(over_film(np.array(lab, np.float64), PAPER), model=model, rules=ColourRules())
    printed = lab_from_xyz(model.xyz(match.inks) * PAPER / D50_WHITE)
    assert float(difference(np.array(lab, np.float64), printed)) < 0.5


@needs_profiles
@needs_transicc
@pytest.mark.outside
def test_values_in_another_profile() -> None:
    """In a wider space what LittleCMS makes of them, within rounding; in a profile that is sRGB, themselves."""
    rgb = np.random.default_rng(62).integers(0, 256, (300, 3), np.uint8)
    assert np.array_equal(value_of_srgb(rgb, profile=(PROFILES / "srgb.icc").read_bytes()), rgb)
    text = "\n".join(" ".join(str(value) for value in row) for row in rgb) + "\n"
    command = ["transicc", "-n", "-t1", "-i*sRGB", f"-o{PROFILES / 'a98.icc'}"]
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    expected = np.array([[float(x) for x in line.split()] for line in done.stdout.splitlines() if line.strip()])
    found = value_of_srgb(rgb, profile=(PROFILES / "a98.icc").read_bytes()).astype(float)
    assert np.abs(found - expected).max() <= 1

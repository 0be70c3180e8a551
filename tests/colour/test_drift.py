"""Drift: a synthetic printer that moves, its control strip read then and now with noise, and what the curves mend.

The printer is the nominal model's, said to be synthetic. It moves in its own way, not in the curves': dots grow, and inks get
stronger or weaker by Beer's law, in overprints too.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from colour.synthetic import SyntheticPrinter
from filmhand.colour.chart.model import Wanted
from filmhand.colour.chart.strip import control_strip
from filmhand.colour.charted import ChartedModel
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.drift import Drift, Part, Verdict, drift, foretold
from filmhand.colour.drift_words import told
from filmhand.colour.drifted import Drifted
from filmhand.colour.fitted.fit import fit
from filmhand.colour.measured.readings import Readings
from filmhand.colour.neugebauer import mixed
from filmhand.colour.nominal import nominal_model
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules

INKS = ("C", "M", "Y", "K")
MODEL = nominal_model(INKS)
RULES = ColourRules(black_point_compensation=False, ink_limit=300)
FILM_WHITE = (94.0, 0.0, -2.0)
NOTHING = (0.0, 0.0, 0.0, 0.0)
FULL = (1.0, 1.0, 1.0, 1.0)
STRIP = np.array(
    [
        *[[0, 0, 0, 0]] * 2,
        *[[tone * (i == ink) for i in range(4)] for ink in range(4) for tone in (0.25, 0.5, 0.75, 1)],
        *[[1, 1, 0, 0], [1, 0, 1, 0], [0, 1, 1, 0], [1, 1, 1, 0]],
        *[[0.25, 0.19, 0.19, 0], [0.5, 0.4, 0.4, 0], [0.75, 0.64, 0.64, 0], [0.5, 0.4, 0.4, 0.4]],
    ]
)


@dataclass(frozen=True)
class Printer:
    """`gain`: growth of each ink's dots at half tone. `strength`: of each ink's density, 1 = as charted. `white`: CIELAB."""

    gain: tuple[float, ...] = NOTHING
    strength: tuple[float, ...] = FULL
    trapping: float = 1.0
    white: tuple[float, float, float] = FILM_WHITE

    def xyz(self, inks: np.ndarray) -> np.ndarray:
        """Relative to film white."""
        charted = MODEL.forward.halftones.overprints
        solids = np.log(charted[[1, 2, 4, 8]])
        laid = np.array([[overprint >> i & 1 for i in range(4)] for overprint in range(16)])
        primaries = D50_WHITE * charted * np.exp(laid @ ((np.array(self.strength) - 1)[:, None] * solids))
        over = laid.sum(axis=1) > 1
        primaries[over] = D50_WHITE * (primaries[over] / D50_WHITE) ** self.trapping
        return mixed(inks + 4 * np.array(self.gain) * inks * (1 - inks), primaries=primaries, n=MODEL.yule_nielsen)

    def read(self, noise: float, seed: int) -> Readings:
        """The strip, with this standard deviation in each of L*, a*, b*."""
        lab = lab_from_xyz(self.xyz(STRIP) / D50_WHITE * xyz_from_lab(np.array(self.white)))
        seen = xyz_from_lab(lab + np.random.default_rng(seed).normal(0, noise, lab.shape))
        return Readings(INKS, tuple(str(i) for i in range(len(STRIP))), STRIP, seen)


def compared(now: Printer, *, noise: float, seed: int = 0) -> Drift:
    """Then and now, read with the same noise."""
    return drift(Printer().read(noise, seed), now=now.read(noise, seed + 10_000), model=MODEL, noise=max(noise, 0.05))


def misses(printer: Printer, found: Drift) -> tuple[np.ndarray, np.ndarray]:
    """ΔE00 of 400 printable colours, printed with the charted model's inks, and with those of the drifted one."""
    inks = np.random.default_rng(5).random((400, 4))
    inks *= np.minimum(1, 2.2 / inks.sum(axis=1, keepdims=True))
    wanted = MODEL.xyz(inks)
    sent = [model.exact_inks_for(wanted, RULES) for model in (MODEL, Drifted(MODEL, found.curves))]
    before, after = (difference(lab_from_xyz(printer.xyz(amounts)), lab_from_xyz(wanted)) for amounts in sent)
    return before, after


@pytest.mark.parametrize("noise", [0.2, 0.4])
def test_noise_alone_is_no_movement(noise: float) -> None:
    """Of 200 strips of a steady printer no more than 5 % are said to have moved in anything at all."""
    verdicts = [compared(Printer(), noise=noise, seed=seed).verdict for seed in range(200)]
    assert np.mean([verdict is not Verdict.STEADY for verdict in verdicts]) <= 0.05


@pytest.mark.parametrize("ink", range(4))
def test_a_small_shift_of_tone_is_told(ink: int) -> None:
    """Dots 3 % larger at half tone, noise 0.2: the ink is named in 95 % of 60 strips, and hardly ever another."""
    gain = tuple(0.03 * (i == ink) for i in range(4))
    curves = [compared(Printer(gain), noise=0.2, seed=seed).curves.inks for seed in range(60)]
    assert np.mean([INKS[ink] in inks for inks in curves]) >= 0.95
    assert np.mean([len(inks) > 1 for inks in curves]) <= 0.05


@pytest.mark.parametrize(("noise", "bar"), [(0.0, 0.1), (0.2, 0.35), (0.4, 0.7)])
def test_curves_mend_tones(noise: float, bar: float) -> None:
    """Dots 3 to 6 % larger or smaller at half tone: from above ΔE00 3 in the mean back to what noise lets one see."""
    printer = Printer((0.05, -0.04, 0.03, 0.06))
    found = compared(printer, noise=noise)
    before, after = misses(printer, found)
    assert found.verdict is Verdict.CURVES
    assert before.mean() > 3
    assert after.mean() < bar
    assert np.percentile(after, 95) < 2 * bar


@pytest.mark.parametrize("noise", [0.0, 0.2])
def test_curves_mend_what_they_can_of_strength(noise: float) -> None:
    """Tones and strengths both moved, some inks weaker: a fifth of the miss is left in the mean, and the strip foretells it."""
    printer = Printer((0.04, 0.05, -0.03, 0.05), (1.1, 0.95, 1.05, 1.0))
    found = compared(printer, noise=noise)
    before, after = misses(printer, found)
    assert found.helps
    assert after.mean() < 0.2 * before.mean()
    assert found.after == pytest.approx(after.mean(), abs=0.5)


def test_the_curve_finds_the_gain() -> None:
    """Without noise a dot gain of 4 % at half tone is told as such, by the tones and by the curve."""
    found = compared(Printer((0.04, 0, 0, 0)), noise=0.0)
    assert list(found.curves.inks) == ["C"]
    half = next(patch for patch in found.patches if patch.inks == {"C": 0.5})
    assert half.acts_as == pytest.approx(0.54, abs=0.002)
    acting = found.curves.acts_as(np.array([[0.5, 0.5, 0.5, 0.5]]), inks=INKS)[0]
    assert acting == pytest.approx([0.54, 0.5, 0.5, 0.5], abs=0.002)
    assert any(line.startswith("Cyan, tones: ") and "50 % prints as 54.0 % did" in line for line in told(found))


def test_a_weaker_full_ink_is_not_hidden() -> None:
    """Magenta of 85 % strength: its density is told, what will stay too, and that no curve lays more than full ink."""
    found = compared(Printer(strength=(1, 0.85, 1, 1)), noise=0.2)
    solid = next(patch for patch in found.patches if patch.part is Part.SOLID and "M" in patch.inks)
    charted = -np.log10(MODEL.forward.halftones.overprints[2, 1])
    assert solid.density == pytest.approx(-0.15 * charted, abs=0.02)
    assert solid.stays
    assert solid.left > 3
    assert found.verdict is Verdict.NEW_CHART
    lines = told(found)
    line = next(line for line in lines if line.startswith("Magenta, full ink"))
    assert "weaker by 0." in line
    assert "no curve lays more than full ink" in line
    assert not any("lie on one another" in line for line in lines)  # overprints with it follow from it


def test_film_white_is_told_by_itself() -> None:
    """A yellower film moves film white alone: colours are compared over it, and no ink gets a curve."""
    found = compared(Printer(white=(93.0, 0.0, 1.5)), noise=0.2)
    assert [patch.part for patch in found.movements] == [Part.FILM]
    assert found.verdict is Verdict.WATCH
    assert not found.curves.inks
    assert any(line.startswith("Film white: ") and "yellower" in line for line in told(found))


def test_overprints_that_trap_less() -> None:
    """Inks as before, but lighter where they lie on one another: overprints and grays are told, single inks are not."""
    found = compared(Printer(trapping=0.85), noise=0.2)
    parts = {patch.part for patch in found.movements}
    assert Part.OVERPRINT in parts
    assert not parts & {Part.SOLID, Part.TONE, Part.FILM}
    assert not found.curves.inks
    assert any("lie on one another" in line for line in told(found))


def test_a_missing_ink_gets_no_curve() -> None:
    """A printer that lays hardly any cyan: a new chart, and no curve that would call for more of it."""
    found = compared(Printer(strength=(0.02, 1, 1, 1)), noise=0.2)
    assert found.verdict is Verdict.NEW_CHART
    assert not found.curves.inks
    assert not found.helps
    assert any("see to the printer" in line for line in told(found))


def test_hue_of_a_full_ink() -> None:
    """Cyan ink with some magenta in it: the hue's turn is told, in degrees and towards blue."""
    then = Printer().read(0.0, 1)
    seen = then.xyz.copy()
    solid = int(np.flatnonzero((STRIP == [1, 0, 0, 0]).all(axis=1))[0])
    to_relative = D50_WHITE / xyz_from_lab(np.array(FILM_WHITE))
    L, a, b = lab_from_xyz(seen[solid] * to_relative)
    cos, sin = np.cos(np.radians(8)), np.sin(np.radians(8))
    seen[solid] = xyz_from_lab(np.array([L, a * cos - b * sin, a * sin + b * cos])) / to_relative
    found = drift(then, now=Readings(INKS, then.names, STRIP, seen), model=MODEL, noise=0.2)
    assert any(line.startswith("Cyan, full ink: ") and "hue turned by 8° towards blue" in line for line in told(found))


def test_without_an_earlier_reading() -> None:
    """The model foretells the strip: a printer that is as the model says has not moved, one with dot gain has."""
    for gain, moved in ((0.0, False), (0.05, True)):
        now = Printer((gain, 0, 0, 0)).read(0.2, 7)
        found = drift(foretold(now, model=MODEL), now=now, model=MODEL, noise=0.2, reference_noise=0.0)
        assert ("C" in found.curves.inks) == moved


def test_columns_and_rows_may_come_in_any_order() -> None:
    """The same readings in another order of patches and inks tell the same."""
    then, now = Printer().read(0.2, 1), Printer((0.05, 0, 0, 0)).read(0.2, 2)
    order = np.random.default_rng(3).permutation(len(STRIP))
    turned = Readings(("K", "C", "M", "Y"), now.names, now.amounts[order][:, [3, 0, 1, 2]], now.xyz[order])
    plain, other = (drift(then, now=readings, model=MODEL, noise=0.2) for readings in (now, turned))
    assert other.after == pytest.approx(plain.after)
    assert other.curves == plain.curves


@pytest.mark.parametrize("rows", [slice(2, None), slice(0, 2)])
def test_strips_that_cannot_be_compared(rows: slice) -> None:
    """No film white, or nothing but film white, or an ink missing: refused, and it is said what to measure."""
    whole = Printer().read(0.2, 1)
    part = Readings(INKS, whole.names[rows], whole.amounts[rows], whole.xyz[rows])
    with pytest.raises(SettingsError, match="Measure the whole control strip"):
        drift(whole, now=part, model=MODEL)
    fewer = Readings(INKS[:3], whole.names, whole.amounts[:, :3], whole.xyz)
    with pytest.raises(SettingsError, match="nothing of the ink K"):
        drift(foretold(fewer, model=MODEL), now=fewer, model=MODEL)


@pytest.fixture(scope="module")
def charted() -> tuple[SyntheticPrinter, ChartedModel]:
    """A printer that is not filmhand's ink model, and the model fitted to a chart of it: 3^4 mixes and tones, noise 0.2."""
    printer = SyntheticPrinter(INKS)
    mixes = np.array(np.meshgrid(*[[0, 0.4, 1]] * 4)).reshape(4, -1).T
    tones = np.concatenate([np.eye(4) * tone for tone in (0.1, 0.2, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9)])
    return printer, ChartedModel(fit(printer.measure(np.concatenate([mixes, tones]), noise_lab=0.2, seed=1)).model)


@pytest.mark.parametrize(("full", "bar"), [(1.0, 0.3), (0.96, 0.4)])
def test_a_printer_of_other_physics(charted: tuple[SyntheticPrinter, ChartedModel], full: float, bar: float) -> None:
    """The strip that filmhand lays out, noise 0.2: dots 3 to 5 % off at half tone, and all inks thinner: most of it is mended."""
    printer, model = charted
    patches = control_strip(INKS, Wanted(), printer="synthetic").lists[0]
    amounts = patches.amounts[:, [patches.inks.index(ink) for ink in INKS]]

    def lays(sent: np.ndarray) -> np.ndarray:
        return full * (sent + 4 * np.array([0.05, -0.03, 0.04, 0.05]) * sent * (1 - sent))

    then = printer.measure(amounts, noise_lab=0.2, seed=5)
    now = replace(printer.measure(lays(amounts), noise_lab=0.2, seed=6), amounts=amounts)
    found = drift(then, now=now, model=model, noise=0.2)
    assert set(found.curves.inks) == set(INKS)
    mixes = np.random.default_rng(9).random((200, 4)) * [0.9, 0.9, 0.9, 0.5]
    wanted = lab_from_xyz(printer.xyz(mixes))
    sent = (mixes, found.curves.sent_for(mixes, inks=INKS))
    before, after = (difference(lab_from_xyz(printer.xyz(lays(one))), wanted).mean() for one in sent)
    assert before > 1.5
    assert after < bar


def test_the_fitted_model_stands_in_for_an_earlier_reading(charted: tuple[SyntheticPrinter, ChartedModel]) -> None:
    """A steady printer against its fitted model: the model's own error is no movement where it is allowed for."""
    printer, model = charted
    now = printer.measure(STRIP, noise_lab=0.2, seed=8)
    found = drift(foretold(now, model=model), now=now, model=model, noise=0.2, reference_noise=0.6)
    assert found.verdict is Verdict.STEADY

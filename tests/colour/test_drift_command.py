"""`filmhand drift` from the strip that `filmhand chart` lays out to curves beside the printer's profile."""

from pathlib import Path

import numpy as np
import pytest

from filmhand.cli.drift import Asked, report_drift
from filmhand.cli.name_profile import with_profile
from filmhand.cli.new import make
from filmhand.colour.chart.model import PatchList, Wanted
from filmhand.colour.chart.strip import control_strip
from filmhand.colour.choose import curves_beside
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.drifted import Drifted, drifted
from filmhand.colour.expense import Expense
from filmhand.colour.profile import ProfileModel
from filmhand.colour.transfer import UnusableCurvesError
from filmhand.errors import NotFoundError, SettingsError
from filmhand.rules import ColourRules

CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(not CMYK.exists(), reason="needs default_cmyk.icc (Debian libgs-common)"),
]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop whose printer has a profile of its own."""
    root = make(tmp_path / "shop").root
    (root / "house.icc").write_bytes(CMYK.read_bytes())
    printer = root / "printer.toml"
    printer.write_text(with_profile(printer.read_text("utf-8"), "house.icc"), "utf-8")
    return root


def measured(path: Path, *, gain: float, inks: str = "CMYK") -> Path:
    """The strip as an instrument's program writes it, of the profile's printer with cyan dots larger at half tone; noise 0.1."""
    strip: PatchList = control_strip(tuple("CMYK"), Wanted(), printer="test").lists[0]
    printed = strip.amounts.copy()
    cyan = strip.inks.index("C")
    printed[:, cyan] += 4 * gain * printed[:, cyan] * (1 - printed[:, cyan])
    order = [strip.inks.index(ink) for ink in "CMYK"]
    lab = lab_from_xyz(ProfileModel(CMYK.read_bytes()).xyz(printed[:, order]))
    lab += np.random.default_rng(round(1000 * gain)).normal(0, 0.1, lab.shape)
    fields = ["SAMPLE_ID", *(f"CMYK_{ink}" for ink in inks), "LAB_L", "LAB_A", "LAB_B"]
    rows = [
        " ".join([str(number), *(f"{100 * a:.0f}" for a in amounts), *(f"{value:.2f}" for value in colour)])
        for number, (amounts, colour) in enumerate(zip(strip.amounts[:, order[: len(inks)]], lab, strict=True), 1)
    ]
    head = ["CGATS.17", f"NUMBER_OF_FIELDS {len(fields)}", "BEGIN_DATA_FORMAT", " ".join(fields), "END_DATA_FORMAT"]
    path.write_text("\n".join([*head, f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA", *rows, "END_DATA", ""]), "utf-8")
    return path


def test_curves_are_told_and_kept(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Dots of cyan 5 % larger: told by ink, kept only when asked, and less cyan is sent from then on."""
    then, now = measured(tmp_path / "then.txt", gain=0.0), measured(tmp_path / "now.txt", gain=0.05)
    kept = curves_beside(shop / "house.icc")
    report_drift(shop, Asked(now, reference=then))
    said = capsys.readouterr().out
    assert "Cyan, tones: " in said
    assert "Magenta, tones" not in said
    assert not kept.exists()
    report_drift(shop, Asked(now, reference=then, write=True))
    assert "The curves are kept" in capsys.readouterr().out
    charted = ProfileModel(CMYK.read_bytes(), expense=Expense((7.0,) * 4, (1.0, 2.0, 3.0, 4.0)))  # prices are no matter of curves
    model = drifted(charted, kept.read_bytes())
    assert isinstance(model, Drifted)
    wanted, rules = charted.xyz(np.array([[0.5, 0.3, 0.3, 0.0]])), ColourRules()
    less = charted.exact_inks_for(wanted, rules) - model.exact_inks_for(wanted, rules)
    assert less[0] == pytest.approx([0.05, 0, 0, 0], abs=0.01)
    report_drift(shop, Asked(then, reference=then, write=True))
    assert "back at its chart" in capsys.readouterr().out
    assert not drifted(charted, kept.read_bytes()).curves.inks


def test_against_the_model_itself(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without an earlier reading the model stands in: a steady printer is steady, a moved one is told."""
    report_drift(shop, Asked(measured(tmp_path / "then.txt", gain=0.0)))
    assert "Nothing has moved" in capsys.readouterr().out
    report_drift(shop, Asked(measured(tmp_path / "now.txt", gain=0.08)))
    assert "Cyan, tones: " in capsys.readouterr().out


def test_curves_of_another_model_are_refused(shop: Path, tmp_path: Path) -> None:
    """After a new chart old curves do not fit."""
    then, now = measured(tmp_path / "then.txt", gain=0.0), measured(tmp_path / "now.txt", gain=0.05)
    report_drift(shop, Asked(now, reference=then, write=True))
    other = ProfileModel(CMYK.read_bytes(), yule_nielsen=1.5)
    with pytest.raises(UnusableCurvesError, match="another ink model"):
        drifted(other, curves_beside(shop / "house.icc").read_bytes())


def test_what_cannot_be_used(shop: Path, tmp_path: Path) -> None:
    """No file, an ink missing, no profile: refused with the file and what to do."""
    with pytest.raises(NotFoundError, match=r"none\.txt"):
        report_drift(shop, Asked(tmp_path / "none.txt"))
    with pytest.raises(SettingsError, match="nothing of the ink K"):
        report_drift(shop, Asked(measured(tmp_path / "cmy.txt", gain=0.0, inks="CMY")))
    plain = make(tmp_path / "plain").root
    with pytest.raises(SettingsError, match="filmhand fit"):
        report_drift(plain, Asked(measured(tmp_path / "then.txt", gain=0.0)))

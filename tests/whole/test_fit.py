"""`filmhand fit` as a person runs it: a measured chart's file in, and beside the printer file a model, a report and its name."""

import hashlib
import json
import tomllib
from pathlib import Path

import numpy as np
import pytest

from colour.published_sets import published
from colour.report.judged import chart
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.fitted.file import from_bytes
from filmhand.colour.littlecms import XYZ_PROFILE, Space, Way
from filmhand.colour.measured.readings import Readings
from filmhand.rules import Intent
from small_shop import filmhand, new_shop, picture

EIGHT = ("C", "M", "Y", "K", "R", "G", "B", "O")


def _cgats(readings: Readings, *, header: str = "") -> str:
    """The readings as a measuring program might write them (ANSI CGATS.17): amounts and XYZ from 0 to 100."""
    inks = readings.inks
    fields = (
        [f"CMYK_{ink}" for ink in inks] if inks == ("C", "M", "Y", "K") else [f"{len(inks)}CLR_{i + 1}" for i in range(len(inks))]
    )
    rows = [
        f"{name} {' '.join(f'{100 * v:.2f}' for v in amounts)} {' '.join(f'{100 * v:.4f}' for v in xyz)}"
        for name, amounts, xyz in zip(readings.names, readings.amounts, readings.xyz, strict=True)
    ]
    keyword = f'KEYWORD "FILMHAND_INKS"\nFILMHAND_INKS "{" ".join(inks)}"\n'
    body = "\n".join(rows)
    return (
        f"CGATS.17\n{header}{keyword}NUMBER_OF_FIELDS {len(fields) + 4}\nBEGIN_DATA_FORMAT\n"
        f"SAMPLE_ID {' '.join(fields)} XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\nNUMBER_OF_SETS {len(rows)}\n"
        f"BEGIN_DATA\n{body}\nEND_DATA\n"
    )


def _shop(root: Path, *, inks: tuple[str, ...] = ("C", "M", "Y", "K")) -> Path:
    filmhand("new", root)
    printer = root / "printer.toml"
    letters = ", ".join(f'"{ink}"' for ink in (*inks, "W"))
    printer.write_text(printer.read_text("utf-8").replace('["C", "M", "Y", "K", "W"]', f"[{letters}]"), "utf-8")
    return root


def _fit(shop: Path, readings: Readings, *words: str | Path, code: int = 0) -> str:
    path = shop.parent / "measured chart.txt"
    path.write_text(_cgats(readings), "utf-8")
    return filmhand("fit", shop, path, *words, code=code)


@pytest.mark.outside
def test_a_published_chart_becomes_the_printers_model(tmp_path: Path) -> None:
    """FOGRA39L: of 156 patches in the file, the model in the shop foretells the other 1432 within the bars of
    tests/colour/fitted (mean ΔE00 0.5, 95 % within 1.2); the terminal, the report and the model's file say the same figures."""
    data = published("FOGRA39L")
    shop = _shop(tmp_path / "shop")
    before = (shop / "printer.toml").read_bytes()
    said = _fit(shop, data.readings(data.small), "--name", "autumn")
    kept = from_bytes((shop / "autumn.inks").read_bytes())
    model, about = kept.model, kept.about
    missed = difference(lab_from_xyz(model.absolute_xyz(data.amounts[~data.small])), data.lab[~data.small])
    assert missed.mean() <= 0.5
    assert np.percentile(missed, 95) <= 1.2
    page = (shop / "autumn-report.html").read_text("utf-8")
    for figure in (f"{about['mean_de00']:.2f}", f"{about['percentile95_de00']:.2f}"):
        assert figure in said
        assert figure in page
    assert "156 readings of 156 different patches" in said
    digest = hashlib.sha256((tmp_path / "measured chart.txt").read_bytes()).hexdigest()
    assert about["charts_sha256"] == [digest]
    assert digest in page
    after = (shop / "printer.toml").read_bytes()
    assert tomllib.loads(after.decode())["profile"] == "autumn.inks"
    assert after.replace(b'profile = "autumn.inks"\n', b"", 1) == before


@pytest.mark.slow
def test_eight_inks_and_a_bad_reading(tmp_path: Path) -> None:
    """A synthetic printer's chart in another order of columns than the printer's, a patch of it read thrice and once wrongly: the
    model is of the printer's order, and the wrong reading is named, left out and of no harm."""
    shop = _shop(tmp_path / "shop", inks=EIGHT)
    readings = chart(EIGHT, mixtures=120, noise=0.1)
    row = readings.names.index("P40")
    order = [*range(len(readings.names)), row, row]
    xyz = readings.xyz[order].copy()
    xyz[-1] *= 0.6
    columns = list(range(8))[::-1]
    spoiled = Readings(
        tuple(EIGHT[i] for i in columns),
        (*readings.names, "again", "spoiled"),
        readings.amounts[order][:, columns],
        xyz,
    )
    said = _fit(shop, spoiled)
    assert f"{len(order)} readings of {len(readings.names)} different patches" in said
    assert "spoiled is ΔE00" in said
    kept = from_bytes((shop / "house.inks").read_bytes())
    model, about = kept.model, kept.about
    assert model.inks == EIGHT
    assert about["left_out"][-1] == "spoiled"
    seen = model.absolute_xyz(readings.amounts[[row]])
    assert difference(lab_from_xyz(seen), lab_from_xyz(readings.xyz[[row]]))[0] < 1.5


def test_a_profile_for_other_programs(tmp_path: Path) -> None:
    """LittleCMS finds full cyan of the profile where the chart had it, absolutely."""
    shop = _shop(tmp_path / "shop")
    readings = chart(("C", "M", "Y", "K"))
    _fit(shop, readings, "--icc")
    way = Way(((shop / "house.icc").read_bytes(), Space.CMYK), (XYZ_PROFILE, Space.XYZ), Intent.ABSOLUTE, bpc=False)
    cyan = np.array([[1.0, 0.0, 0.0, 0.0]])
    wanted = readings.xyz[(readings.amounts == cyan).all(axis=1)]
    assert difference(lab_from_xyz(way(cyan)), lab_from_xyz(wanted))[0] < 1.0


def test_a_dry_run_writes_nothing_and_the_white_wedge_is_told(tmp_path: Path) -> None:
    """With --dry-run the shop is as it was; without, the report has the white's contrast ratio and the model's file its opacity.

    Kubelka and Munk 1931, computed independently: R∞ 0.9 and SX 2 give 0.66096 on black and 0.84364 on 0.80, a ratio of 0.7835.
    """
    shop = _shop(tmp_path / "shop")
    wedge = {}
    for ground, bare, full in (("black", 0.0, 0.66096), ("white", 0.80, 0.84364)):
        amounts = np.linspace(0, 1, 6)
        light = bare + amounts * (full - bare)
        xyz = light[:, None] * [0.9642, 1, 0.8249]
        wedge[ground] = tmp_path / f"{ground}.txt"
        wedge[ground].write_text(_cgats(Readings(("W",), tuple("abcdef"), amounts[:, None], xyz)), "utf-8")
    white = ("--white-on-black", wedge["black"], "--white-on-white", wedge["white"])
    files = {path: path.read_bytes() for path in shop.iterdir() if path.is_file()}
    said = _fit(shop, chart(("C", "M", "Y", "K")), *white, "--dry-run")
    assert "Nothing was written" in said
    assert {path: path.read_bytes() for path in shop.iterdir() if path.is_file()} == files
    _fit(shop, chart(("C", "M", "Y", "K")), *white)
    assert "full white sends back 78\xa0%" in (shop / "house-report.html").read_text("utf-8")
    opacity = from_bytes((shop / "house.inks").read_bytes()).opacity
    assert opacity is not None
    assert opacity.contrast_ratio(1.0) == pytest.approx(0.7835, abs=0.005)


def test_fitting_again_changes_only_the_model(tmp_path: Path) -> None:
    """The printer file is left as it is, to the byte, once it names the model; a model named before is told. Curves for drift
    since the earlier chart, which fit no other model, are gone."""
    shop = _shop(tmp_path / "shop")
    printer = shop / "printer.toml"
    printer.write_text(printer.read_text("utf-8").replace('# profile = "house.inks"', 'profile  =  "old.icc"'), "utf-8")
    assert "instead of old.icc" in _fit(shop, chart(("C", "M", "Y", "K")))
    named, first = printer.read_bytes(), (shop / "house.inks").read_bytes()
    assert b'profile  =  "house.inks"' in named
    curves = shop / "house.inks.drift.json"
    curves.write_text("{}", "utf-8")
    said = _fit(shop, chart(("C", "M", "Y", "K"), noise=0.5))
    assert "curves of an earlier chart" in said
    assert not curves.exists()
    assert "instead of" not in said
    assert printer.read_bytes() == named
    assert (shop / "house.inks").read_bytes() != first


@pytest.mark.slow
def test_orders_are_separated_with_the_fitted_model(tmp_path: Path) -> None:
    """A new shop's sheet is of nominal colour; after the fit the next one is not."""
    shop = new_shop(tmp_path / "shop")
    told = []
    for seed in (1, 2):
        (shop / "in" / "small" / f"A{seed}_40mm_x1.png").write_bytes(picture(seed))
        assert f"ordered {seed}: delivered {seed}" in filmhand("batch", shop)
        sheet = max((shop / "out" / "small").iterdir())
        told.append(json.loads((sheet / "ticket.json").read_text("utf-8"))["colour"])
        _fit(shop, chart(("C", "M", "Y", "K")))
    assert told == ["nominal", "profile"]


def test_what_cannot_serve_is_refused(tmp_path: Path) -> None:
    """Each says what is wrong, in which file, and what to do; nothing is written, and the exit codes are those of errors.py."""
    shop = _shop(tmp_path / "shop")
    files = {path: path.read_bytes() for path in shop.iterdir() if path.is_file()}
    said = _fit(shop, chart(("C", "M", "Y", "K", "O")), code=3)
    assert "printed with O, which this printer does not have" in said
    assert "measured chart.txt" in said
    again = tmp_path / "measured chart.txt"
    assert "given twice" in filmhand("fit", shop, again, again, code=3)
    assert "cannot be read" in filmhand("fit", shop, tmp_path / "nothing.txt", code=5)
    assert "cannot be called" in filmhand("fit", shop, tmp_path / "nothing.txt", "--name", "../escaped", code=3)
    assert "both grounds" in filmhand("fit", shop, tmp_path / "nothing.txt", "--white-on-black", "x.txt", code=2)
    assert {path: path.read_bytes() for path in shop.iterdir() if path.is_file()} == files

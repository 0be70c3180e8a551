"""`filmhand chart` as a person runs it."""

import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from filmhand.cli.chart import PAGE
from filmhand.colour.chart.charts import chart
from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.model import Wanted
from filmhand.colour.measured.read import read_chart
from filmhand.rules import Printer, UnderbaseRules
from small_shop import filmhand

PRINTER = 'name = "small printer"\nfilm_width = "330 mm"\nresolution = [360, 360]\n'
RULE = 'title = "{0}"\n[halftone]\ninks = {{ screen = "{0}" }}\n'


@pytest.fixture
def printer(tmp_path: Path) -> Path:
    """A printer file with four inks and white."""
    path = tmp_path / "printer.toml"
    path.write_text(PRINTER, "utf-8")
    return path


def test_what_lies_there_afterwards(printer: Path, tmp_path: Path) -> None:
    """A folder a chart: a TIFF an ink, a preview as wide as the film, the lists; and a page that names all of them in order."""
    out = tmp_path / "out"
    said = filmhand("chart", printer, "white", "strip", "nozzles", "strip", "--out", out)
    assert str(out / PAGE) in said
    assert sorted(path.name for path in out.iterdir()) == sorted([PAGE, "white", "strip", "nozzles"])
    lists = {"white": {"white-on-black.txt", "white-on-white.txt"}, "strip": {"strip.txt"}, "nozzles": set()}
    page = (out / PAGE).read_text("utf-8")
    HTMLParser().feed(page)
    for kind, texts in lists.items():
        tiffs = {f"{kind}_{ink}.tif" for ink in "CMYKW"}
        assert {path.name for path in (out / kind).iterdir()} == tiffs | texts | {"preview.png"}
        width = {tifffile.TiffFile(out / kind / name).pages.first.imagewidth for name in tiffs}
        assert width == {round(330 / 25.4 * 360)}
        with Image.open(out / kind / "preview.png") as preview:
            assert preview.width * 25.4 / preview.info["dpi"][0] == pytest.approx(330, abs=2)
        for name in (tiffs | texts) | {"preview.png"}:
            assert f"{kind}/{name}" in page
    assert page.index("white/preview") < page.index("strip/preview") < page.index("nozzles/preview")
    for word in ("heat press", "powder", "fumes", "safety data sheets"):
        assert word in page.lower()


def test_the_list_names_what_an_instrument_measures(printer: Path, tmp_path: Path) -> None:
    """Measurements that name patches only, joined with the delivered list, give the chart's own amounts in its own order."""
    filmhand("chart", printer, "grid", "--out", tmp_path / "out", "--patches", "130", "--seed", "7")
    text = (tmp_path / "out" / "grid" / "grid.txt").read_bytes()
    names = re.findall(rb'^\d+\t"(\w+)"', text, re.MULTILINE)
    rows = "\n".join(f"{name.decode()} {20 + place / 2} 0 0" for place, name in enumerate(names))
    head = f"NUMBER_OF_SETS {len(names)}\nBEGIN_DATA\n"
    measured = f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n{head}{rows}\nEND_DATA\n"
    readings = read_chart(measured.encode(), patch_list=text)
    own = chart(
        Kind.GRID,
        Wanted(patches=130, seed=7),
        printer=Printer.model_validate({"name": "p", "film_width": "330 mm"}),
        underbase=UnderbaseRules(),
    ).lists[0]
    assert readings.inks == own.inks == ("C", "M", "Y", "K")
    assert readings.names == own.names
    assert np.abs(readings.amounts - own.amounts).max() < 1e-6


def test_printed_charts_are_not_overwritten(printer: Path, tmp_path: Path) -> None:
    """A list must stay the one that belongs to the print: a second run says so and changes nothing."""
    out = tmp_path / "out"
    filmhand("chart", printer, "strip", "--out", out)
    before = {path: path.read_bytes() for path in out.rglob("*.*") if path.is_file()}
    assert "Name another folder" in filmhand("chart", printer, "strip", "white", "--out", out, code=3)
    assert {path: path.read_bytes() for path in out.rglob("*.*") if path.is_file()} == before


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("grid", "--patch", "5 mm"), 3, "too small to measure"),
        (("grid", "--patch", "9"), 2, "length with its unit"),
        (("grid", "--patches", "34"), 3, "at least 44"),
        (("rainbow",), 2, "rainbow"),
        (("strip", "--height", "20 mm"), 3, "no room"),
    ],
)
def test_what_cannot_be_done_is_refused(printer: Path, tmp_path: Path, words: tuple[str, ...], code: int, message: str) -> None:
    """With what to do instead; nothing is left behind."""
    assert message in " ".join(filmhand("chart", printer, *words, "--out", tmp_path / "out", code=code).replace("│", "").split())
    assert not (tmp_path / "out").exists()


def test_a_shop_prints_charts_with_its_own_screens(tmp_path: Path) -> None:
    """Its printer and its rules' ink screen; where rules differ it must be told which, for each has other colours."""
    shop = tmp_path / "shop"
    filmhand("new", shop)
    for starter in (shop / "rules").glob("*.toml"):
        starter.unlink()
    (shop / "printer.toml").write_text(PRINTER, "utf-8")
    dots = {}
    for screen in ("am", "blue-noise"):
        (shop / "rules" / f"{screen}.toml").write_text(RULE.format(screen), "utf-8")
    assert "--rule" in filmhand("chart", shop, "strip", "--out", tmp_path / "none", code=3)
    for screen in ("am", "blue-noise"):
        filmhand("chart", shop, "strip", "--out", tmp_path / screen, "--rule", screen)
        dots[screen] = tifffile.imread(tmp_path / screen / "strip" / "strip_C.tif").astype(int)
    changes = {screen: np.abs(np.diff(samples, axis=1)).sum() for screen, samples in dots.items()}
    assert changes["am"] < 0.5 * changes["blue-noise"]  # dots that cling together have fewer edges
    assert dots["am"].sum() == pytest.approx(dots["blue-noise"].sum(), rel=0.01)

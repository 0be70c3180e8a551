"""Which way round the views of a sheet lie, and what each side of the film shows."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.opacity import NOMINAL
from filmhand.colour.srgb import xyz_from_srgb
from filmhand.proof import light_table
from filmhand.proof.delivered import DeliveredSheet
from filmhand.proof.picture import Scale
from filmhand.proof.write import write_region
from proof.sheets import INKS, MODEL, deliver, placed, printer

Shape = NDArray[np.bool_]


def letter() -> Shape:
    """An F, which reads one way only."""
    shape = np.zeros((200, 160), bool)
    shape[30:170, 30:60] = shape[30:60, 30:130] = shape[90:115, 30:100] = True
    return shape


def shown(tmp_path: Path, view: str, *, mirrored: bool) -> NDArray[np.uint8]:
    """The whole sheet in a view, a pixel a dot: full magenta over white, as its file would be for an F that reads rightly."""
    in_file = letter()[:, ::-1] if mirrored else letter()
    planes = {ink: (in_file & (ink in "MW")).astype(np.uint8) for ink in INKS}
    folder = deliver(tmp_path / f"s-{view}-{mirrored}", planes, [placed((0, 0, 160, 200))], mirrored=mirrored)
    with DeliveredSheet(folder, printer=printer()) as sheet:
        write_region(sheet, sheet.frame, tmp_path / "r.png", view=view, scale=Scale(), model=MODEL)
    return np.asarray(Image.open(tmp_path / "r.png").convert("RGB"))


def silhouette(pixels: NDArray[np.uint8]) -> Shape:
    """What differs from the corner."""
    return np.asarray((pixels != pixels[0, 0]).any(axis=2))


@pytest.mark.parametrize("mirrored", [True, False])
@pytest.mark.parametrize("view", ["garment", "M", "W"])
def test_the_garment_and_the_planes_read_rightly(tmp_path: Path, view: str, mirrored: bool) -> None:
    """Whether the film is mirrored or not, what is shown of the garment is the F."""
    assert np.array_equal(silhouette(shown(tmp_path, view, mirrored=mirrored)), letter())


@pytest.mark.parametrize("mirrored", [True, False])
def test_the_film_has_two_sides(tmp_path: Path, mirrored: bool) -> None:
    """Printed side: as the file lies. Back: the other way round, so that mirrored film reads rightly from there."""
    printed, back = (silhouette(shown(tmp_path, view, mirrored=mirrored)) for view in ("film-print-side", "film-back"))
    assert np.array_equal(printed, letter()[:, ::-1] if mirrored else letter())
    assert np.array_equal(back, printed[:, ::-1])


def test_white_hides_the_colour_on_the_printed_side(tmp_path: Path) -> None:
    """The same full magenta: pale gray from the printed side, more than twice as colourful (C* of CIELAB) from the back."""
    chroma = {}
    for view in ("film-print-side", "film-back"):
        pixels = shown(tmp_path, view, mirrored=False)
        lab = lab_from_xyz(xyz_from_srgb(pixels[silhouette(pixels)][:1]))[0]
        chroma[view] = np.hypot(lab[1], lab[2])
    assert chroma["film-back"] > 2 * chroma["film-print-side"] > 0


@pytest.mark.parametrize("thickness", [0.05, 0.5, 1.0, 2.0])
def test_light_through_white(thickness: float) -> None:
    """T = b / (a sinh bSX + b cosh bSX) and R = sinh bSX / (a sinh bSX + b cosh bSX), Kubelka 1948 (formulas from memory)."""
    reflected, passed = light_table._white(np.array(thickness), NOMINAL)
    infinite, sx = NOMINAL.infinite.mean(), NOMINAL.scatter.mean() * thickness
    a, b = (1 / infinite + infinite) / 2, (1 / infinite - infinite) / 2
    below = a * np.sinh(b * sx) + b * np.cosh(b * sx)
    assert float(passed) == pytest.approx(b / below, rel=1e-9)
    assert float(reflected) == pytest.approx(np.sinh(b * sx) / below, rel=1e-9)
    assert float(reflected + passed) < 1


def test_bare_film_is_the_table(tmp_path: Path) -> None:
    """Where nothing is printed, both sides show the light of the table and no colour."""
    for view in ("film-print-side", "film-back"):
        corner = shown(tmp_path, view, mirrored=True)[0, 0]
        assert np.ptp(corner) == 0
        assert xyz_from_srgb(corner)[1] / D50_WHITE[1] == pytest.approx(light_table.TABLE, abs=0.01)

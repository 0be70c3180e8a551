"""The preview from counts of dots: its colours against the formula reckoned apart; thin white and choked white told apart."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from filmhand.colour.nominal import nominal_model
from filmhand.colour.opacity import NOMINAL
from filmhand.colour.srgb import srgb_from_xyz, xyz_of_hex
from filmhand.delivery.preview import Ground, PreviewBuilder, View

GROUP, SIDE = 16, 16
MODEL = replace(
    nominal_model(tuple("CMYK")),
    opacity=replace(NOMINAL, amounts=(0.0, 0.25, 0.5, 0.75, 1.0), volumes=(0.0, 0.34, 0.63, 0.85, 1.0)),
)
BLACK = "#1b1b1d"
Planes = Mapping[str, np.ndarray]


def counted(plane: np.ndarray) -> np.ndarray:
    """Dots (h, w) bool in blocks, summed by numpy."""
    h, w = plane.shape
    return plane.reshape(h // SIDE, SIDE, w // GROUP, GROUP).sum(axis=(1, 3)).astype(np.float32)


def rendered(
    tmp_path: Path, film: np.ndarray, planes: Planes, *, choked: np.ndarray | None = None, grounds: tuple[Ground, ...] = ()
) -> np.ndarray:
    """The picture (h, w, 3) of dots on a black garment, one block a pixel."""
    view = View(film.shape[1], film.shape[0], (720, 720), False, MODEL, BLACK, grounds)
    with PreviewBuilder(tmp_path / "p.png", view, group=GROUP) as builder:
        assert builder.block == (GROUP, SIDE)
        counts = {ink: counted(plane) for ink, plane in planes.items()}
        picture = builder.render(0, counted(film), counts, choked=None if choked is None else counted(choked))
        builder.append(picture)
    assert (np.asarray(Image.open(tmp_path / "p.png")) == picture).all()
    return picture.astype(int)


def seen(garment: str, film: float, inks: np.ndarray, *whites: tuple[float, float]) -> np.ndarray:
    """sRGB (3,) by the formula: film on a garment, its parts each with a share of it and a volume of white."""
    n, ground = MODEL.yule_nielsen, xyz_of_hex(garment)
    colour = MODEL.xyz(inks)
    over = sum(share * (colour * MODEL.opacity.share(volume, garment=ground)) ** (1 / n) for share, volume in whites)
    return srgb_from_xyz(((1 - film) * ground ** (1 / n) + film * np.asarray(over)) ** n).astype(int)


def blank(blocks: tuple[int, int] = (1, 1), planes: str = "CMYKW") -> dict[str, np.ndarray]:
    """Planes without a dot."""
    return {ink: np.zeros((blocks[0] * SIDE, blocks[1] * GROUP), bool) for ink in planes}


def test_evenly_thin_white_is_what_its_wedge_says(tmp_path: Path) -> None:
    """White sent at 1/4, 1/2, 3/4 and full under whole film: the volume of its wedge, by the opacity."""
    planes = blank((1, 4))
    film = np.ones((SIDE, 4 * GROUP), bool)
    planes["M"][::2] = True
    for block in range(4):
        planes["W"][: SIDE * (block + 1) // 4, block * GROUP : (block + 1) * GROUP] = True
    picture = rendered(tmp_path, film, planes)
    inks = np.array([0, 0.5, 0, 0])
    expected = [seen(BLACK, 1.0, inks, (1.0, volume)) for volume in (0.34, 0.63, 0.85, 1.0)]
    assert np.abs(picture[0] - expected).max() <= 1
    plain = seen(BLACK, 1.0, inks, (1.0, 0.5))
    assert np.abs(picture[0, 1] - plain).max() > 5, "the wedge matters here"


def test_a_second_white_is_laid_on_the_first(tmp_path: Path) -> None:
    """Under gray, W2 at a half and full adds its volume: lighter than one layer alone, by the formula."""
    planes = blank((1, 3)) | {"W2": np.zeros((SIDE, 3 * GROUP), bool)}
    film = np.ones((SIDE, 3 * GROUP), bool)
    planes["W"][:], planes["K"][:, ::2] = True, True
    planes["W2"][::2, GROUP : 2 * GROUP], planes["W2"][:, 2 * GROUP :] = True, True
    picture = rendered(tmp_path, film, planes)
    expected = [seen(BLACK, 1.0, np.array([0, 0, 0, 0.5]), (1.0, volume)) for volume in (1.0, 1.63, 2.0)]
    assert np.abs(picture[0] - expected).max() <= 1
    assert (np.diff(picture[0], axis=0) > 0).all()


@pytest.mark.parametrize("told", [True, False])
def test_colour_over_bare_garment_at_an_edge(tmp_path: Path, told: bool) -> None:
    """Film over 12 of 16 columns whose white was pulled in by 3: a quarter of the film lies on bare garment, told or guessed."""
    planes, film = blank(), np.zeros((SIDE, GROUP), bool)
    film[:, :12] = True
    planes["Y"][:, :12] = True
    planes["W"][:, :9] = True
    picture = rendered(tmp_path, film, planes, choked=planes["W"] if told else None)
    expected = seen(BLACK, 0.75, np.array([0, 0, 1.0, 0]), (0.25, 0.0), (0.75, 1.0))
    assert np.abs(picture[0, 0] - expected).max() <= 1


def test_thin_white_within_the_choke(tmp_path: Path) -> None:
    """Told where white may lie, thin white at an edge is thin there, and what was pulled in is bare; W2 within it likewise."""
    planes, film = blank() | {"W2": np.zeros((SIDE, GROUP), bool)}, np.zeros((SIDE, GROUP), bool)
    film[:, :12] = True
    within = film & (np.arange(GROUP) < 8)
    planes["W"] = within.copy()
    planes["W2"] = within & (np.arange(SIDE)[:, None] % 4 == 0)
    picture = rendered(tmp_path, film, planes, choked=within)
    assert np.abs(picture[0, 0] - seen(BLACK, 0.75, np.zeros(4), (1 / 3, 0.0), (2 / 3, 1.34))).max() <= 1
    planes["W"] &= np.arange(SIDE)[:, None] % 2 == 0
    planes["W2"][:] = False
    picture = rendered(tmp_path, film, planes, choked=within)
    assert np.abs(picture[0, 0] - seen(BLACK, 0.75, np.zeros(4), (1 / 3, 0.0), (2 / 3, 0.63))).max() <= 1


def test_random_dots_on_several_garments(tmp_path: Path) -> None:
    """Blocks of random dots over three garments: each within 1/255 of the formula, with film, inks and white counted by numpy."""
    rng = np.random.default_rng(11)
    blocks = 12
    size = SIDE, blocks * GROUP
    tone = np.repeat(rng.random((6, blocks)), GROUP, axis=1)[:, None]
    film = rng.random(size) < np.repeat(np.linspace(0, 1, blocks), GROUP)
    within = film & (rng.random(size) < tone[5])
    planes = {ink: film & (rng.random(size) < tone[i]) for i, ink in enumerate("CMYK")}
    planes["W"] = within & (rng.random(size) < tone[4])
    garments = ("#c4152b", "#d8c8a0")
    grounds = tuple(Ground((4 + 4 * i) * GROUP, 0, (8 + 4 * i) * GROUP, SIDE, garment) for i, garment in enumerate(garments))
    picture = rendered(tmp_path, film, planes, choked=within, grounds=grounds)
    for block in range(blocks):
        dots = np.s_[:, block * GROUP : (block + 1) * GROUP]
        covered, room = film[dots].sum(), within[dots].sum()
        inks = np.array([planes[ink][dots].sum() for ink in "CMYK"]) / max(covered, 1)
        volume = np.interp(planes["W"][dots].sum() / max(room, 1), MODEL.opacity.amounts, MODEL.opacity.volumes)
        bare = 1 - room / max(covered, 1)
        garment = (BLACK, *garments)[block // 4]
        expected = seen(garment, covered / (SIDE * GROUP), inks, (bare, 0.0), (1 - bare, float(volume)))
        assert np.abs(picture[0, block] - expected).max() <= 1, block
    assert tuple(picture[0, 0]) == (0x1B, 0x1B, 0x1D)


def test_bands_without_film_show_the_garments(tmp_path: Path) -> None:
    """No dot at all: the garment of each box, exactly."""
    planes, film = blank((1, 2)), np.zeros((SIDE, 2 * GROUP), bool)
    picture = rendered(tmp_path, film, planes, grounds=(Ground(GROUP, 0, 2 * GROUP, SIDE, "#c4152b"),))
    assert picture.tolist() == [[[0x1B, 0x1B, 0x1D], [0xC4, 0x15, 0x2B]]]

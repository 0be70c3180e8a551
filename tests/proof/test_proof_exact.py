"""A region of a proof against the very files, as tifffile reads them."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand.colour.srgb import srgb_from_xyz, xyz_of_hex
from filmhand.proof.delivered import Box, DeliveredSheet
from filmhand.proof.picture import Scale
from filmhand.proof.write import write_region
from filmhand.rules import Printer
from proof.sheets import DARK, MODEL, RED, as_tifffile_reads, deliver, placed, printer, random_planes

SIZE = 150, 331
"""Rows and dots a row: no whole bytes, no whole strips."""
BOXES = {DARK: (0, 0, 120, 150), RED: (120, 0, 211, 150)}
DOT_FOR_DOT = Scale()
REGION = Box(61, 33, 170, 90)
DROPS = (4.0, 7.0, 14.0)
SHARES = {1: (0.0, 1.0), 2: (0.0, 4 / 14, 7 / 14, 1.0), 8: tuple(np.arange(256) / 255)}


def region(folder: Path, path: Path, *, view: str = "garment", scale: Scale = DOT_FOR_DOT, **keys: object) -> NDArray[np.uint8]:
    """The picture of REGION, or of the `box` given."""
    box = keys.pop("box", REGION)
    with DeliveredSheet(folder, printer=Printer.model_validate(keys.pop("printer"))) as sheet:
        size = write_region(sheet, box, path, view=view, scale=scale, model=MODEL)
    pixels = np.asarray(Image.open(path).convert("RGB"))
    assert pixels.shape[:2] == size[::-1]
    return pixels


def reckoned(folder: Path, *, bits: int) -> NDArray[np.uint8]:
    """Every dot of a sheet in sRGB: the garment, or its inks over its own white on that garment, one formula for all dots."""
    samples = as_tifffile_reads(folder)
    share = {ink: np.array(SHARES[bits])[levels] for ink, levels in samples.items()}
    colour = MODEL.xyz(np.stack([share[ink] for ink in MODEL.inks], axis=-1))
    white = share["W"] + share.get("W2", 0)
    film = np.max(np.stack(list(samples.values())), axis=0) > 0
    seen = np.empty((*SIZE, 3))
    for garment, (left, _, width, _) in BOXES.items():
        part, ground = np.s_[:, left : left + width], xyz_of_hex(garment)
        over = colour[part] * MODEL.opacity.share(white[part], garment=ground)
        seen[part] = np.where(film[part][..., None], over, ground)
    return srgb_from_xyz(seen)


@pytest.mark.parametrize("mirrored", [True, False])
@pytest.mark.parametrize("one_file", [False, True])
@pytest.mark.parametrize(("bits", "second_white"), [(1, False), (1, True), (2, True)])
def test_a_region_at_one_pixel_a_dot_is_exact(
    tmp_path: Path, bits: int, second_white: bool, one_file: bool, mirrored: bool
) -> None:
    """Every pixel is its dot's own colour, equal to the last bit, on both garments, wherever the region's edges fall."""
    inks = ("C", "M", "Y", "K", "W", *(("W2",) if second_white else ()))
    copies = [placed(box, job=garment[1:], garment=garment) for garment, box in BOXES.items()]
    planes = random_planes(SIZE, inks=inks, bits=bits)
    folder = deliver(tmp_path / "s", planes, copies, bits=bits, one_file=one_file, mirrored=mirrored)
    machine = printer(bits=bits, highlight_white=second_white, drop_pl={"default": DROPS if bits == 2 else 7.0})
    seen = region(folder, tmp_path / "r.png", printer=machine)
    wanted = reckoned(folder, bits=bits)
    wanted = wanted[:, ::-1] if mirrored else wanted
    assert np.array_equal(seen, wanted[33 : 33 + 90, 61 : 61 + 170])
    assert len(np.unique(seen.reshape(-1, 3), axis=0)) > 20


def test_a_region_of_continuous_tone_is_its_tones(tmp_path: Path) -> None:
    """8 bits: where film is full, a pixel is the model's colour of its dot's tones, but for the last bit or two of speed."""
    planes = random_planes(SIZE, bits=8)
    planes["W"] = np.full_like(planes["W"], 255)
    copies = [placed(box, job=garment[1:], garment=garment) for garment, box in BOXES.items()]
    folder = deliver(tmp_path / "s", planes, copies, bits=8, mirrored=False)
    seen = region(folder, tmp_path / "r.png", printer=printer(bits=8))
    wanted = reckoned(folder, bits=8)[33 : 33 + 90, 61 : 61 + 170]
    assert np.abs(seen.astype(int) - wanted).max() <= 2


@pytest.mark.parametrize("bits", [1, 2, 8])
@pytest.mark.parametrize("plane", ["M", "W"])
def test_a_plane_alone_is_its_samples(tmp_path: Path, bits: int, plane: str) -> None:
    """Ink is the darker, white the lighter, the more of it a dot has."""
    folder = deliver(tmp_path / "s", random_planes(SIZE, bits=bits), [placed(BOXES[DARK])], bits=bits, mirrored=False)
    machine = printer(bits=bits, drop_pl={"default": DROPS if bits == 2 else 7.0})
    seen = region(folder, tmp_path / "r.png", view=plane, printer=machine)[..., 0].astype(float)
    share = np.array(SHARES[bits])[as_tifffile_reads(folder)[plane][33 : 33 + 90, 61 : 61 + 170]]
    wanted = 30 + 225 * share if plane == "W" else 255 * (1 - share)
    assert np.abs(seen - wanted).max() <= 0.51


def test_below_one_a_pixel_is_the_mean_of_a_block(tmp_path: Path) -> None:
    """A quarter: numpy's mean over 4 × 4 dots from the region's own corner; what lies beyond the sheet is bare."""
    planes = random_planes(SIZE)
    folder = deliver(tmp_path / "s", planes, [placed(BOXES[DARK])], mirrored=False)
    scale = Scale.of(1 / 4, resolution=(720, 720))
    seen = region(folder, tmp_path / "r.png", view="C", scale=scale, box=Box(10, 10, 321, 140), printer=printer())
    dots = np.zeros((140, 324))
    dots[:, :321] = planes["C"][10:, 10:]
    wanted = 255 * (1 - dots.reshape(35, 4, 81, 4).mean(axis=(1, 3)))
    assert np.abs(seen[..., 0] - wanted).max() <= 0.51


def test_pixels_are_square_where_dots_are_not(tmp_path: Path) -> None:
    """720 × 1440 dots an inch: a mean takes twice as many dots along the film as across; pixels are square."""
    folder = deliver(tmp_path / "s", random_planes((200, 100)), [placed((0, 0, 100, 200))], resolution=(720, 1440))
    machine = printer(resolution=(720, 1440))
    scale = Scale.of(1 / 5, resolution=(720, 1440))
    seen = region(folder, tmp_path / "r.png", scale=scale, box=Box(0, 0, 100, 200), printer=machine)
    assert seen.shape == (20, 20, 3)
    assert Image.open(tmp_path / "r.png").info["dpi"] == pytest.approx((144, 144), rel=1e-3)


def test_magnified_dots_lie_where_they_are(tmp_path: Path) -> None:
    """Eight pixels a dot: the middle of each dot has the colour that it has at one, but for the last bit or two of speed."""
    planes = random_planes(SIZE)
    copies = [placed(box, job=garment[1:], garment=garment) for garment, box in BOXES.items()]
    folder = deliver(tmp_path / "s", planes, copies)
    box = Box(100, 40, 60, 50)
    exact = region(folder, tmp_path / "1.png", box=box, printer=printer()).astype(int)
    large = region(folder, tmp_path / "8.png", scale=Scale(magnified=8), box=box, printer=printer()).astype(int)
    flipped = {ink: plane[:, ::-1][40:90, 100:160] for ink, plane in planes.items()}
    alone = np.max(np.stack(list(flipped.values())), axis=0) > 0  # a bare dot's middle may lie under its neighbours' spread
    middles = large[4::8, 4::8]
    assert large.shape == (400, 480, 3)
    assert np.abs(middles - exact)[alone & (flipped["W"] > 0)].max() <= 2

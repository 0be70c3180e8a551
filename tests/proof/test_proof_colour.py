"""The colour of a composed sheet's proof, at the scale of patches, against the ink model's own forward prediction."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand import units
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.neugebauer import between
from filmhand.colour.srgb import FROM_XYZ, TO_XYZ, xyz_from_srgb, xyz_of_hex
from filmhand.gang.compose import Piece, Target, compose
from filmhand.gang.sheet import Placement, Sheet
from filmhand.halftone.screening import screening_for
from filmhand.proof.delivered import DeliveredSheet
from filmhand.proof.write import write_proof
from filmhand.rules import OutputRules, Printer, Rule
from filmhand.separation.model import Separation
from proof.sheets import DARK, DPI, INKS, MODEL, RED, SAND, printer
from proof.tickets import write_ticket

GARMENTS = (DARK, RED, SAND)
COVERAGES = (0.2, 0.4, 0.6, 0.8, 1.0)
# Shares of C, M, Y, K and white, in 255ths so that planes hold them exactly.
INK_SETS = (
    (0, 0, 0, 0, 255),
    (255, 0, 0, 0, 255),
    (0, 128, 204, 0, 255),
    (102, 26, 0, 51, 255),
    (0, 204, 204, 0, 166),
    (51, 51, 51, 128, 204),
)
SIDE_PX, SIDE_DOTS = 72, 216
"""A patch: 7.6 mm each way."""


def store_patches(folder: Path) -> None:
    """A row a coverage, a column a set of inks."""
    planes = np.empty((5, len(COVERAGES), len(INK_SETS)), np.uint8)
    planes[:] = np.array(INK_SETS, np.uint8).T[:, None]
    coverage = np.repeat(np.rint(255 * np.array(COVERAGES)).astype(np.uint8)[:, None], len(INK_SETS), axis=1)
    big = np.ones((SIDE_PX, SIDE_PX), np.uint8)
    side = units.px_to_mm(SIDE_DOTS, DPI)
    folder.mkdir()
    size = side * len(INK_SETS), side * len(COVERAGES)
    Separation(INKS, np.stack([np.kron(plane, big) for plane in planes]), np.kron(coverage, big), *size).save(folder)


def predicted(garment: str) -> NDArray[np.float64]:
    """XYZ (coverages, ink sets, 3): the mixing equation; what sRGB cannot show is clipped, as in pictures."""
    ground, amounts = xyz_of_hex(garment), np.array(INK_SETS) / 255
    colour = MODEL.xyz(amounts[:, :4]) * MODEL.opacity.share(amounts[:, 4], garment=ground)
    share = np.rint(255 * np.array(COVERAGES)) / 255
    seen = between(np.broadcast_to(ground, colour.shape), colour, share[:, None, None], n=MODEL.yule_nielsen)
    return np.clip(seen @ FROM_XYZ.T, 0, 1) @ TO_XYZ.T


def composed(root: Path, machine: Printer) -> Path:
    """A sheet composed of the patches, three times, for three garments."""
    store_patches(root / "patches")
    rule = Rule.model_validate({"title": "t", "underbase": {"choke": "0 mm", "island_choke": "0 mm"}})
    width, height = (units.px_to_mm(SIDE_DOTS * count, DPI) for count in (len(INK_SETS), len(COVERAGES)))
    places = [
        Placement(garment, 1, 7.0 + 2 * place, 5.0 + (height + 6) * place, width, height, 0.0)
        for place, garment in enumerate(GARMENTS)
    ]
    sheet = Sheet("s", 200.0, 10.0 + (height + 6) * len(GARMENTS), tuple(places))
    screening = screening_for(rule, printer=machine, cache=root)
    pieces = {garment: Piece(root / "patches", screening, garment) for garment in GARMENTS}
    folder = root / "s"
    folder.mkdir()
    compose(sheet, pieces, target=Target(machine, OutputRules(), MODEL), folder=folder)
    write_ticket(folder, sheet, machine, {garment: garment for garment in GARMENTS})
    return folder


@pytest.mark.parametrize("bits", [1, 2, 8])
def test_patches_have_the_colour_the_model_foretells(tmp_path: Path, bits: int) -> None:
    """Coverage, tones of ink and white full or thin, on three garments of one sheet: the mean of each patch within ΔE00 1.

    At 8 bits only where some ink is full within the film: files of continuous tone do not say otherwise how much of it is film.
    """
    machine = printer(film_width="200 mm", bits=bits, drop_pl={"default": (4.0, 7.0, 14.0) if bits == 2 else 7.0})
    with DeliveredSheet(composed(tmp_path, machine), printer=machine) as sheet:
        write_proof(sheet, tmp_path, model=MODEL)
        boxes = {item.garment: sheet.flipped(sheet.box_of(item)) for item in sheet.facts.placements}
        with Image.open(tmp_path / "garment.png") as picture:
            dots_a_pixel, light = sheet.width / picture.width, xyz_from_srgb(np.asarray(picture.convert("RGB")))
    misses = {}
    for garment, box in boxes.items():
        wanted, corner = predicted(garment), np.array([box.top, box.left])
        for row, column in np.ndindex(len(COVERAGES), len(INK_SETS)):
            first = np.rint((corner + SIDE_DOTS * (np.array([row, column]) + 0.25)) / dots_a_pixel).astype(int)
            last = first + round(SIDE_DOTS / 2 / dots_a_pixel)
            seen = light[first[0] : last[0], first[1] : last[1]].mean(axis=(0, 1))
            if bits != 8 or max(INK_SETS[column]) == 255:
                miss = difference(lab_from_xyz(seen), lab_from_xyz(wanted[row, column]))
                misses[garment, COVERAGES[row], INK_SETS[column]] = float(miss)
    print(
        f"{bits} bits, ΔE00 of {len(misses)} patches: mean {np.mean(list(misses.values())):.2f}, most {max(misses.values()):.2f}"
    )
    assert {patch: miss for patch, miss in misses.items() if miss > 1} == {}
    assert len(misses) >= 60

"""Artwork of known geometry, and the settings that it is looked at with."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.artwork.model import Artwork, Kind
from filmhand.rules import Printer, Rule


@pytest.fixture(scope="session")
def printer() -> Printer:
    """600 mm of film with 10 mm margins: 580 mm printable."""
    return Printer.model_validate({"name": "test", "film_width": "600 mm", "margin": "10 mm"})


@pytest.fixture(scope="session")
def rule_of() -> Callable[..., Rule]:
    """A rule with these tables."""
    return lambda **tables: Rule.model_validate({"title": "test", **tables})


@pytest.fixture(scope="session")
def drawn() -> Callable[..., Artwork]:
    """An artwork whose alpha is drawn in millimetres, antialiased eight times over, in one colour."""

    def draw(width_mm: float, height_mm: float, ppi: float, paint: Callable[[Any, float], None]) -> Artwork:
        width, height = round(width_mm * ppi / 25.4), round(height_mm * ppi / 25.4)
        alpha = Image.new("L", (width * 8, height * 8))
        paint(ImageDraw.Draw(alpha), 8 * ppi / 25.4)
        pixels = np.full((height, width, 4), 120, np.uint8)
        pixels[..., 3] = np.asarray(alpha.reduce(8))
        return Artwork(pixels, None, (ppi, ppi), Kind.PNG)

    return draw

"""Artwork made in the tests, and the settings that it is opened with."""

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.artwork.model import Artwork
from filmhand.artwork.open import open_artwork
from filmhand.intake.ticket import Ticket
from filmhand.mending.mend import cleared
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule, load_printer

Opener = Callable[..., Artwork | Finding]


@pytest.fixture(scope="session")
def printer() -> Printer:
    """The printer of a new shop: 600 mm of film, 720 dots an inch."""
    return load_printer(Path(str(files("filmhand") / "templates" / "printer.toml")))


@pytest.fixture
def opened(tmp_path: Path, printer: Printer) -> Opener:
    """Opens bytes as an artwork, cleared as the rule says, ordered 100 mm wide; the file's name never says what it is."""

    def open_bytes(data: bytes, *, rule: Rule | None = None, ticket: Ticket | None = None) -> Artwork | Finding:
        path = tmp_path / "artwork.bin"
        path.write_bytes(data)
        ticket = ticket or Ticket.model_validate({"width": "100 mm"})
        rule = rule or Rule(title="test")
        artwork = open_artwork(path, ticket=ticket, rule=rule, printer=printer)
        return artwork if isinstance(artwork, Finding) else cleared(artwork, ticket=ticket, rule=rule)

    return open_bytes


@pytest.fixture(scope="session")
def crest() -> Image.Image:
    """A red ellipse on nothing, 120 × 90, with a border of 10."""
    picture = Image.new("RGBA", (120, 90), (0, 0, 0, 0))
    ImageDraw.Draw(picture).ellipse((10, 10, 109, 79), fill=(200, 30, 40, 255))
    return picture


@pytest.fixture(scope="session")
def photo() -> Image.Image:
    """Smooth noise in three channels, 160 × 120: all of it differs, so losing any part shows."""
    rng = np.random.default_rng(5)
    coarse = Image.fromarray(rng.integers(0, 256, (12, 16, 3), dtype=np.uint8))
    fine = rng.integers(-12, 13, (120, 160, 3))
    smooth = np.asarray(coarse.resize((160, 120), Image.Resampling.BICUBIC)).astype(int)
    return Image.fromarray(np.clip(smooth + fine, 0, 255).astype(np.uint8))

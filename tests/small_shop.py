"""A small shop for tests of the whole, and artwork to drop in it."""

import shutil
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

RULE = """
title = "Small prints for tests"
garment = "#1b1b1d"
[ticket]
filename = '(?P<order>[^_]+)_(?P<width>[\\d.]+mm)_x(?P<copies>\\d+)'
[size]
width = "40 mm"
[preflight]
ppi = { reject = 50 }
[gang]
nest = "box"
seconds = 0.5
max_length = "300 mm"
[gang.close]
after = "1 s"
"""
SHOP = 'quiet = "0.1 s"\npatience = "0.3 s"\nlisting = "0.3 s"\n'


def filmhand(*words: str | Path, code: int = 0, seconds: float = 150) -> str:
    """Run a command as a person would; what it printed."""
    done = subprocess.run(
        [sys.executable, "-m", "filmhand", *map(str, words)], capture_output=True, text=True, timeout=seconds, check=False
    )
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stdout + done.stderr, done.stdout + done.stderr
    return done.stdout + done.stderr


def picture(seed: int = 1, *, size: tuple[int, int] = (160, 140), ground: tuple[int, int, int, int] = (0, 0, 0, 0)) -> bytes:
    """A PNG of a few discs in bright colours, on transparent ground unless another is given."""
    rng = np.random.default_rng(seed)
    image = Image.new("RGBA", size, ground)
    draw = ImageDraw.Draw(image)
    for _ in range(6):
        x, y, r = rng.uniform(0.2, 0.8) * size[0], rng.uniform(0.2, 0.8) * size[1], rng.uniform(0.08, 0.18) * size[0]
        draw.ellipse((x - r, y - r, x + r, y + r), fill=(*(int(v) for v in rng.integers(90, 255, 3)), 255))
    buffer = BytesIO()
    image.save(buffer, "PNG")
    return buffer.getvalue()


@pytest.fixture(scope="session")
def warm_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The colour tables and screens of the small rule, made once for all tests."""
    root = new_shop(tmp_path_factory.mktemp("warm") / "shop")
    (root / "in" / "small" / "A_40mm_x1.png").write_bytes(picture())
    filmhand("batch", root)
    return root / ".filmhand" / "cache"


@pytest.fixture
def shop(tmp_path: Path, warm_cache: Path) -> Path:
    """A shop with the one hot folder `small`."""
    root = new_shop(tmp_path / "shop")
    shutil.copytree(warm_cache, root / ".filmhand" / "cache", dirs_exist_ok=True)
    return root


def new_shop(root: Path, *, rule: str = RULE) -> Path:
    """A shop with the one hot folder `small`, its cache empty."""
    filmhand("new", root)
    for starter in (root / "rules").glob("*.toml"):
        starter.unlink()
        for parent in ("in", "out", "rejects"):
            (root / parent / starter.stem).rmdir()
    (root / "rules" / "small.toml").write_text(rule, "utf-8")
    (root / "shop.toml").write_text(SHOP, "utf-8")
    (root / "in" / "small").mkdir()
    return root

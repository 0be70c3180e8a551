"""What the tests of profiles share: quick printers, an independent reader of a profile's tags, and LittleCMS's own programs."""

import shutil
import struct
import subprocess
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache, cached_property
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.colour.charted import ChartedModel
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.icc.lut import Lut
from filmhand.colour.icc.output import About, Tables, output_profile
from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.nominal import nominal_model
from filmhand.rules import ColourRules, Intent

Floats = NDArray[np.float64]

needs_transicc = pytest.mark.skipif(shutil.which("transicc") is None, reason="needs transicc (Debian liblcms2-utils)")
CREATED = datetime(2024, 2, 29, 23, 58, 7, tzinfo=UTC)
FILM_WHITE = np.array([0.8448, 0.8762, 0.7457])
LIMIT = 240
RULES = ColourRules(intent=Intent.RELATIVE, ink_limit=LIMIT)


@dataclass(frozen=True, eq=False)
class Gaining:
    """An `InkModel` that is quick both ways: the nominal inks with tone gain, and inks for a colour by a plain rule.

    Its inks are not those that give the colour: it stands in where only the way of numbers into a profile matters.
    """

    inks: tuple[str, ...]
    yule_nielsen: float = 1.7
    is_nominal: bool = True
    digest: str = "gaining"

    @cached_property
    def _plain(self) -> ChartedModel:
        return nominal_model(self.inks)

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3) of ink amounts (..., k)."""
        return self._plain.xyz(np.clip(inks + 0.7 * inks * (1 - inks), 0, 1))

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Smooth inks (..., k) within the limit."""
        lack = 1 - np.clip(xyz / D50_WHITE, 0, 1) ** (1 / 2.2)
        black = lack.min(axis=-1) ** 2
        rest = {ink: np.abs(lack[..., i % 3] - lack[..., (i + 1) % 3]) ** 2 for i, ink in enumerate("RGBO")}
        own = {**dict(zip("CMY", np.moveaxis(lack, -1, 0), strict=True)), "K": black, **rest}
        inks = np.stack([own[ink] for ink in self.inks], axis=-1)
        return np.asarray(inks * np.minimum(1, rules.ink_limit / 100 / np.maximum(inks.sum(axis=-1, keepdims=True), 1e-9)))

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """As `inks_for`."""
        return self.inks_for(xyz, rules)

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:  # noqa: ARG002 -- an InkModel's
        """As they are."""
        return inks


@cache
def tables_of(inks: str, *, with_white: bool = False) -> dict[tuple[str, Intent], Lut]:
    """The tables that `profile_of` writes."""
    tables = Tables(Gaining(tuple(inks)), RULES, with_white)
    intents = (Intent.PERCEPTUAL, Intent.RELATIVE, Intent.SATURATION)
    return {**{("A2B", i): tables.to_colour(i) for i in intents}, **{("B2A", i): tables.to_inks(i) for i in intents}}


@cache
def profile_of(inks: str, *, with_white: bool = False) -> bytes:
    """The profile of a quick printer."""
    about = About("Test film", FILM_WHITE, CREATED)
    return output_profile(Gaining(tuple(inks)), RULES, about=about, with_white=with_white)


def tags_of(icc: bytes) -> dict[bytes, bytes]:
    """The tags of a profile, read by ICC.1:2010 section 7.3 and nothing of the package."""
    (count,) = struct.unpack_from(">I", icc, 128)
    rows = [struct.unpack_from(">4sII", icc, 132 + 12 * i) for i in range(count)]
    return {signature: icc[at : at + size] for signature, at, size in rows}


def transicc(values: Floats, *options: str) -> Floats:
    """LittleCMS's calculator: rows in, rows out; ink in percent."""
    text = "\n".join(" ".join(f"{value:.6f}" for value in row) for row in values) + "\n"
    done = subprocess.run(["transicc", "-n", *options], input=text, capture_output=True, text=True, check=True)
    return np.array([[float(x) for x in line.split()] for line in done.stdout.splitlines() if line.strip()])


SRGB = Path("/usr/share/color/icc/ghostscript/srgb.icc")
needs_srgb = pytest.mark.skipif(not SRGB.exists(), reason="needs srgb.icc (Debian libgs-common)")
needs_linkicc = pytest.mark.skipif(shutil.which("linkicc") is None, reason="needs linkicc (Debian liblcms2-utils)")


def link_from_srgb(folder: Path) -> Path:
    """A device link from sRGB to C, M, Y and K of the quick printer, made by LittleCMS's own program."""
    printer, link = kept(profile_of("CMYK"), folder), folder / "house-link.icc"
    subprocess.run(["linkicc", "-t1", "-o", link, SRGB, printer], check=True, capture_output=True)
    return link


def kept(icc: bytes, folder: Path) -> Path:
    """A file of a profile, for programs that want one."""
    path = folder / "test.icc"
    path.write_bytes(icc)
    return path

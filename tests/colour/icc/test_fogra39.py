"""A profile of our own of a published printing condition, against that condition's profile as others made it."""

import io
import subprocess
import sys
import tarfile
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pikepdf
import pytest

from colour.icc.printers import CREATED, kept, needs_transicc, transicc
from colour.published_sets import published as published_set
from filmhand.colour.charted import ChartedModel
from filmhand.colour.ciede2000 import difference
from filmhand.colour.fitted.fit import fit
from filmhand.colour.icc.output import About, output_profile
from filmhand.rules import ColourRules, Intent

pytestmark = [pytest.mark.outside, pytest.mark.slow, needs_transicc]


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The FOGRA39 output intent of tests/resources/pdfx.pdf in pikepdf's source distribution, which is never kept."""
    folder = tmp_path_factory.mktemp("pikepdf")
    wanted = f"pikepdf=={version('pikepdf')}"
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", ":all:", "--dest", folder, wanted]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    archives = list(folder.glob("pikepdf-*.tar.gz"))
    if done.returncode or not archives:
        pytest.skip("needs pikepdf's source distribution from the package index")
    with tarfile.open(archives[0]) as archive:
        name = next(name for name in archive.getnames() if name.endswith("tests/resources/pdfx.pdf"))
        member = archive.extractfile(name)
        assert member is not None
        with pikepdf.open(io.BytesIO(member.read())) as pdf:
            icc = pdf.Root.OutputIntents[0].DestOutputProfile.read_bytes()
    return kept(icc, folder)


@pytest.fixture(scope="module")
def ours(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The profile of the model fitted to FOGRA39L."""
    data = published_set("FOGRA39L")
    model = ChartedModel(fit(data.readings(np.ones(len(data.amounts), np.bool_))).model)
    rules = ColourRules(ink_limit=330, intent=Intent.RELATIVE)
    about = About("A press", model.film_white, CREATED)
    return kept(output_profile(model, rules, about=about), tmp_path_factory.mktemp("ours"))


def test_the_same_colours(published: Path, ours: Path) -> None:
    """Absolute colorimetric, any inks within 330 %: ΔE00 1.0 on average; bare paper 0.1."""
    rng = np.random.default_rng(50)
    inks = rng.random((2000, 4)) * rng.random((2000, 1))
    inks = 100 * inks * np.minimum(1, 3.3 / inks.sum(axis=1, keepdims=True))
    off = difference(transicc(inks, f"-i{ours}", "-o*Lab", "-t3"), transicc(inks, f"-i{published}", "-o*Lab", "-t3"))
    print(f"mean {off.mean():.3f} p95 {np.percentile(off, 95):.3f} worst {off.max():.3f}")
    assert off.mean() < 1.0
    bare = np.zeros((1, 4))
    paper = difference(transicc(bare, f"-i{ours}", "-o*Lab", "-t3"), transicc(bare, f"-i{published}", "-o*Lab", "-t3"))
    assert paper[0] < 0.1


def test_our_inks_on_that_press(published: Path, ours: Path) -> None:
    """Colours that the published profile prints within 250 %, by our inks and that profile's colour for them: mean 1.0."""
    rng = np.random.default_rng(51)
    inks = rng.random((2000, 4)) * rng.random((2000, 1))
    inks = 100 * inks * np.minimum(1, 2.5 / inks.sum(axis=1, keepdims=True))
    wanted = transicc(inks, f"-i{published}", "-o*Lab", "-t1")
    printed = transicc(np.clip(transicc(wanted, "-i*Lab", f"-o{ours}", "-t1"), 0, 100), f"-i{published}", "-o*Lab", "-t1")
    off = difference(printed, wanted)
    print(f"mean {off.mean():.3f} p95 {np.percentile(off, 95):.3f} worst {off.max():.3f}")
    assert off.mean() < 1.0

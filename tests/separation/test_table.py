"""Tables against LittleCMS, and their cache."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from looking import opaque

from filmhand.colour.charted import ChartedModel
from filmhand.colour.profile import ProfileModel
from filmhand.rules import Rule
from filmhand.separation import axes
from filmhand.separation import table as tables
from filmhand.separation.table import build_table, cached_table

CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
A98 = Path("/usr/share/color/icc/ghostscript/a98.icc")


def rule_of(**values: object) -> Rule:
    """A rule with these tables."""
    return Rule.model_validate({"title": "test", **values})


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("transicc") is None, reason="needs transicc (Debian liblcms2-utils)")
@pytest.mark.skipif(not CMYK.exists(), reason="needs default_cmyk.icc (Debian libgs-common)")
@pytest.mark.parametrize(("intent", "number"), [("perceptual", 0), ("relative", 1)])
@pytest.mark.parametrize("source", [None, A98])
def test_nodes_are_littlecms_own(intent: str, number: int, source: Path | None) -> None:
    """Without knockout and under the ink limit, nodes are transicc's numbers from source to CMYK profile, to 8-bit rounding."""
    rule = rule_of(colour={"intent": intent, "ink_limit": 400})
    profile = source.read_bytes() if source else None
    table = build_table(profile, model=ProfileModel(CMYK.read_bytes()), garment="#ffffff", rule=rule)
    rgb = axes.nodes(table.axes)[::97]
    text = "\n".join(" ".join(map(str, row)) for row in rgb.tolist()) + "\n"
    command = ["transicc", "-n", f"-i{source or '*sRGB'}", f"-o{CMYK}", f"-t{number}", "-b"]
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    expected = np.array([[float(x) for x in line.split()] for line in done.stdout.splitlines() if line.strip()]) * 2.55
    inks, coverage = table.apply(opaque(rgb))
    assert (coverage == 255).all()
    assert np.abs(inks[:, 0].T - expected).max() <= 0.5 + 0.4  # rounding, and the standard's sRGB matrix of four decimals


@pytest.fixture
def few_nodes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables of eight nodes."""
    monkeypatch.setattr(axes, "EVEN", np.array([0, 255], np.uint8))


@pytest.mark.usefixtures("few_nodes")
def test_kept_and_read_again(model: ChartedModel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second time the table comes from the cache, alike in every number; no half-written file is left."""
    wanted = {"model": model, "garment": "#1b1b1d", "rule": rule_of(knockout={"strength": 1}), "cache": tmp_path / "cache"}
    first = cached_table(None, **wanted)
    monkeypatch.setattr(tables, "build_table", lambda *_, **__: pytest.fail("built again"))
    second = cached_table(None, **wanted)
    assert second.inks == first.inks
    assert all(np.array_equal(a, b) for a, b in zip(first.axes, second.axes, strict=True))
    assert np.array_equal(first.values, second.values)
    assert np.array_equal(first.misses, second.misses)
    assert len(list((tmp_path / "cache").iterdir())) == 1


@pytest.mark.usefixtures("few_nodes")
@pytest.mark.parametrize(
    "damage", [lambda content: content[:-9], lambda content: content[:0], lambda content: content[:900] + b"?" + content[901:]]
)
def test_a_damaged_file_is_built_anew(model: ChartedModel, tmp_path: Path, damage: object) -> None:
    """Cut short, emptied, or with one byte changed: the table is right all the same, and the file afterwards too."""
    wanted = {"model": model, "garment": "#1b1b1d", "rule": rule_of(), "cache": tmp_path}
    first = cached_table(None, **wanted)
    (file,) = tmp_path.iterdir()
    whole = file.read_bytes()
    file.write_bytes(damage(whole))  # type: ignore[operator]
    assert np.array_equal(cached_table(None, **wanted).values, first.values)
    assert file.read_bytes() == whole


@pytest.mark.usefixtures("few_nodes")
def test_all_that_decides_is_in_the_key(model: ChartedModel, tmp_path: Path) -> None:
    """Another garment, colour rule or knockout is another table; another title or choke is not."""
    variants = [
        ("#1b1b1d", rule_of()),
        ("#1b1b1e", rule_of()),
        ("#1b1b1d", rule_of(colour={"black": "heavy"})),
        ("#1b1b1d", rule_of(knockout={"tolerance": 3.0})),
        ("#1b1b1d", rule_of(underbase={"choke": "0.3 mm"})),
    ]
    for garment, rule in variants:
        cached_table(None, model=model, garment=garment, rule=rule, cache=tmp_path)
    assert len(list(tmp_path.iterdir())) == 4

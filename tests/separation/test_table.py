"""Tables against LittleCMS, and their cache."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from filmhand.colour.charted import ChartedModel
from filmhand.colour.printer_tone import printer_tone
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
    """Without knockout and under the ink limit, nodes are transicc's numbers from source to CMYK profile."""
    rule = rule_of(colour={"intent": intent, "ink_limit": 400})
    profile = source.read_bytes() if source else None
    model = ProfileModel(CMYK.read_bytes())
    table = build_table(profile, model=model, garment="#ffffff", rule=rule)
    rgb = axes.nodes(table.axes)[::97]
    text = "\n".join(" ".join(map(str, row)) for row in rgb.tolist()) + "\n"
    command = ["transicc", "-n", f"-i{source or '*sRGB'}", f"-o{CMYK}", f"-t{number}", "-b"]
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    expected = np.array([[float(x) for x in line.split()] for line in done.stdout.splitlines() if line.strip()]) * 2.55
    coverage, *tones = table.values.reshape(-1, 5)[::97].T
    assert (coverage == 1).all()
    inks = 255 * printer_tone(model).amounts(np.stack(tones, axis=-1), inks=model.inks)
    assert np.abs(inks - expected).max() <= 0.4  # the standard's sRGB matrix of four decimals


@pytest.fixture
def few_nodes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables of eight nodes."""
    monkeypatch.setattr(axes, "EVEN", np.array([0, 255], np.uint8))


@pytest.mark.usefixtures("few_nodes")
def test_kept_and_read_again(model: ChartedModel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second time the table comes from the cache, alike in every number; no half-written file is left."""
    rule = rule_of(garment="#1b1b1d", knockout={"strength": 1})
    wanted = {"model": model, "rule": rule, "cache": tmp_path / "cache", "second_white": True}
    first = cached_table(None, **wanted)
    monkeypatch.setattr(tables, "build_table", lambda *_, **__: pytest.fail("built again"))
    second = cached_table(None, **wanted)
    assert second.inks == first.inks
    assert all(np.array_equal(a, b) for a, b in zip(first.axes, second.axes, strict=True))
    for name in ("values", "white", "misses", "film_share"):
        assert np.array_equal(getattr(first, name), getattr(second, name))
    assert second.most_white == 2
    assert len(list((tmp_path / "cache").iterdir())) == 1


@pytest.mark.usefixtures("few_nodes")
@pytest.mark.parametrize(
    "damage", [lambda content: content[:-9], lambda content: content[:0], lambda content: content[:900] + b"?" + content[901:]]
)
def test_a_damaged_file_is_built_anew(model: ChartedModel, tmp_path: Path, damage: object) -> None:
    """Cut short, emptied, or with one byte changed: the table is right all the same, and the file afterwards too."""
    wanted = {"model": model, "rule": rule_of(), "cache": tmp_path}
    first = cached_table(None, **wanted)
    (file,) = tmp_path.iterdir()
    whole = file.read_bytes()
    file.write_bytes(damage(whole))  # type: ignore[operator]
    assert np.array_equal(cached_table(None, **wanted).values, first.values)
    assert file.read_bytes() == whole


@pytest.mark.usefixtures("few_nodes")
def test_all_that_decides_is_in_the_key(model: ChartedModel, tmp_path: Path) -> None:
    """Another garment, colour rule, knockout, white or second white is another table; another title or choke is not."""
    plain = {"garment": "#1b1b1d"}
    differing = [
        plain,
        {"garment": "#1b1b1e"},
        {**plain, "colour": {"black": "heavy"}},
        {**plain, "knockout": {"tolerance": 3.0}},
        *({**plain, "underbase": {key: 50}} for key in ("density", "least_density", "highlight")),
        {**plain, "underbase": {"tolerance": 0.5}},
    ]
    same = [{**plain, "title": "other"}, {**plain, "underbase": {"choke": "0.3 mm", "island_choke": "0.1 mm"}}]
    for values in differing + same:
        cached_table(None, model=model, rule=Rule.model_validate({"title": "test", **values}), cache=tmp_path)
    cached_table(None, model=model, rule=rule_of(**plain), cache=tmp_path, second_white=True)
    assert len(list(tmp_path.iterdir())) == len(differing) + 1

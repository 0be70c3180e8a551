"""Coverage raised between nodes, on the part of a table where one printer's blues turn from clear sparse film to dense black."""

import numpy as np
import pytest
from looking import miss, under

from filmhand.colour.charted import ChartedModel
from filmhand.colour.printer_tone import printer_tone
from filmhand.rules import Rule
from filmhand.separation.axes import nodes
from filmhand.separation.gentle import gentle
from filmhand.separation.knockout import Ground, least_coverage
from filmhand.separation.knockout_between import Wanted, raised_between
from filmhand.separation.wanted import Looks, Setting

Floats = np.ndarray
GARMENT = "#7a3fa0"
AXES = (np.arange(16, 65, 8, np.uint8), np.arange(0, 49, 8, np.uint8), np.arange(88, 137, 8, np.uint8))
SIZES = (7, 7, 7)
TOLERANCE = 2.5


@pytest.fixture(scope="module")
def setting(model: ChartedModel) -> Setting:
    """A purple garment."""
    rule = Rule.model_validate({"title": "test", "knockout": {"strength": 1, "tolerance": TOLERANCE}})
    return Setting(None, model, under(GARMENT, model=model), rule)


@pytest.fixture(scope="module")
def ground(setting: Setting) -> Ground:
    """Film on it."""
    return Ground.under(setting.garment, setting.model, setting.rule.colour)


@pytest.fixture(scope="module")
def found(setting: Setting, ground: Ground) -> tuple[Floats, Wanted]:
    """The least coverage at the nodes, and what is wanted there."""
    look = Looks(setting).of(nodes(AXES))
    coverage, solid_miss = least_coverage(look.wanted, ground, look.slack - 0.1)
    return coverage.reshape(SIZES), Wanted(AXES, look.wanted.reshape(*SIZES, 3), solid_miss.reshape(SIZES), TOLERANCE)


def misses_in_cells(coverage: Floats, wanted: Wanted, setting: Setting, ground: Ground) -> Floats:
    """ΔE00 half-way along 5000 edges and diagonals of cells, from the look wanted of the very value: film mixed by area, its
    inks as tones."""
    tone, model, rng = printer_tone(ground.model), ground.model, np.random.default_rng(3)
    inks = ground.inks(wanted.colours.reshape(-1, 3), coverage.ravel()).reshape(*SIZES, -1)
    tones = tone.tones(inks, inks=model.inks)
    start = rng.integers(0, 6, (5000, 3))
    end = start + rng.integers(0, 2, (5000, 3))
    a, b = (coverage[tuple(at.T)][:, None] for at in (start, end))
    mixed = (a * tones[tuple(start.T)] + b * tones[tuple(end.T)]) / (a + b)
    shown = ground.seen(tone.amounts(mixed, inks=model.inks), (a + b)[:, 0] / 2)
    values = np.stack([axis[0] + 4 * (start + end)[:, i] for i, axis in enumerate(AXES)], axis=1).astype(np.uint8)
    return miss(shown, Looks(setting).of(values).wanted)


def test_what_failed_between_nodes_is_kept(found: tuple[Floats, Wanted], setting: Setting, ground: Ground) -> None:
    """With the least coverage, though gentle, places between nodes miss their colour by more than the tolerance; raised, none."""
    least, wanted = found
    plain = gentle(least, AXES, wanted.solid_miss > wanted.most)
    assert misses_in_cells(plain, wanted, setting, ground).max() > TOLERANCE
    raised = raised_between(least, wanted, ground)
    assert misses_in_cells(raised, wanted, setting, ground).max() <= TOLERANCE


def test_no_less_film_and_little_more(found: tuple[Floats, Wanted], ground: Ground) -> None:
    """Coverage only ever rises, not by much over all, and not where nothing was wrong: a wide tolerance changes nothing."""
    least, wanted = found
    plain, raised = gentle(least, AXES, wanted.solid_miss > wanted.most), raised_between(least, wanted, ground)
    assert (raised >= plain).all()
    assert 0 < (raised - plain).mean() < 0.1
    wide = wanted._replace(tolerance=20.0)
    assert (raised_between(least, wide, ground) == gentle(least, AXES, wide.solid_miss > wide.most)).all()


def test_bare_and_sparse_nodes_stay(found: tuple[Floats, Wanted], ground: Ground) -> None:
    """Bare nodes stay bare, and nodes that solid film could not do keep the film they had."""
    least, wanted = (found[0].copy(), found[1])
    least[2:4, 2, 2] = 0
    solid_miss = wanted.solid_miss.copy()
    solid_miss[5, 5, 5] = 9.0
    raised = raised_between(least, wanted._replace(solid_miss=solid_miss), ground)
    assert ((raised == 0) == (least == 0)).all()
    assert raised[5, 5, 5] == least[5, 5, 5]

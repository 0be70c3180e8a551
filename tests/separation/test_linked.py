"""Separation tables of a device link: kept apart by what the link's file holds, and never smoothed away from it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from colour.icc.printers import SRGB, link_from_srgb, needs_linkicc, needs_srgb, needs_transicc, transicc
from filmhand.colour.charted import ChartedModel
from filmhand.colour.choose import device_link
from filmhand.colour.printer_tone import printer_tone
from filmhand.rules import Rule
from filmhand.separation.linked import Linked
from filmhand.separation.table import cached_table

pytestmark = [pytest.mark.outside, needs_linkicc, needs_srgb]
RULE = Rule.model_validate({"title": "t", "colour": {"link": "house.icc", "black": "least-ink", "ink_limit": 400}})


@pytest.fixture(scope="module")
def link(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """From sRGB to CMYK."""
    return link_from_srgb(tmp_path_factory.mktemp("link"))


@needs_transicc
def test_every_node_is_the_links(link: Path, model: ChartedModel, tmp_path: Path) -> None:
    """Also where the rule would have least ink: nothing of the tolerance is spent on a link's inks."""
    linked = Linked(device_link(link.name, base=link.parent))
    table = cached_table(None, model=model, rule=RULE, cache=tmp_path, linked=linked)
    places = np.random.default_rng(80).integers(0, 32, (200, 3))
    coverage, *tones = table.values[tuple(places.T)].T
    assert (coverage == 1).all()
    inks = 100 * printer_tone(model).amounts(np.stack(tones, axis=-1), inks=model.inks)
    assert pytest.approx(transicc(8.0 * places, f"-l{link}"), abs=0.2) == inks


def test_the_cache_tells_links_apart(link: Path, model: ChartedModel, tmp_path: Path) -> None:
    """By their contents and what they are made for; names in the rule, and profiles that do not matter, are nothing to it."""
    plain = {"model": model, "rule": RULE, "cache": tmp_path}
    own = device_link(link.name, base=link.parent)
    other = replace(own, icc=own.icc + bytes(4))
    for linked in (None, Linked(own), Linked(other), Linked(own, SRGB.read_bytes())):
        cached_table(None, **plain, linked=linked)  # type: ignore[arg-type]
    assert len(list(tmp_path.iterdir())) == 4
    renamed = RULE.model_copy(update={"colour": RULE.colour.model_copy(update={"link": "x.icc", "assume_cmyk": "y.icc"})})
    cached_table(None, **{**plain, "rule": renamed}, linked=Linked(own))  # type: ignore[arg-type]
    assert len(list(tmp_path.iterdir())) == 4

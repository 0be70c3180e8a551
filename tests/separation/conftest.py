"""What the tests of separation share."""

import numpy as np
import pytest
from looking import Build

from filmhand.colour.charted import ChartedModel
from filmhand.colour.nominal import nominal_model
from filmhand.rules import Rule
from filmhand.separation import axes
from filmhand.separation.table import SeparationTable, build_table


@pytest.fixture(scope="session")
def model() -> ChartedModel:
    """The nominal inks."""
    return nominal_model(("C", "M", "Y", "K"))


@pytest.fixture
def coarse(monkeypatch: pytest.MonkeyPatch, model: ChartedModel) -> Build:
    """Builds tables with nine even nodes an axis instead of 33: right at the nodes, and quick."""
    monkeypatch.setattr(axes, "EVEN", np.append(np.arange(0, 255, 32), 255).astype(np.uint8))

    def build(garment: str = "#1b1b1d", *, second_white: bool = False, **rules: dict[str, object]) -> SeparationTable:
        rule = Rule.model_validate({"title": "test", **rules})
        return build_table(None, model=model, garment=garment, rule=rule, second_white=second_white)

    return build


@pytest.fixture(scope="session")
def on_black(model: ChartedModel) -> SeparationTable:
    """The full table for a black garment at full knockout."""
    return build_table(
        None, model=model, garment="#1b1b1d", rule=Rule.model_validate({"title": "t", "knockout": {"strength": 1}})
    )

"""The shipped schema of ticket files says what the program takes."""

import json
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from filmhand.intake.ticket import Ordered

SCHEMA = json.loads((files("filmhand") / "schemas" / "ticket.schema.json").read_text("utf-8"))


def test_the_schema_has_the_tickets_keys() -> None:
    """No key more, none fewer."""
    assert set(SCHEMA["properties"]) == set(Ordered.model_fields)


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"copies": 3, "width": "280 mm"},
        {"height": "11in", "garment": "#1B1B1D"},
        {"due": "2031-05-04T22:00:00+02:00"},
        {"width": '4"'},
        {"garment": "navy tee", "placement": "left chest"},
        {"due": "2031-05-04", "language": "de-AT"},
    ],
)
def test_both_take(values: dict[str, Any]) -> None:
    """What the schema takes, the program takes."""
    jsonschema.validate(values, SCHEMA)
    Ordered.model_validate(values)


@pytest.mark.parametrize(
    "values", [{"copies": 0}, {"width": "280"}, {"language": "in German"}, {"size": "280 mm"}, {"width": "3 ell"}]
)
def test_both_refuse(values: dict[str, Any]) -> None:
    """What the schema refuses, the program refuses."""
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(values, SCHEMA)
    with pytest.raises(ValueError, match="validation error"):
        Ordered.model_validate(values)

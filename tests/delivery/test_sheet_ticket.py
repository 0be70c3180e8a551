"""ticket.json against its published schema, as jsonschema reads it."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from filmhand.delivery.sheet_ticket import CopyFacts, Made, sheet_ticket
from filmhand.estimate.estimate import estimate
from filmhand.estimate.hand import Hand, sheet_hand
from filmhand.estimate.orders import Design, orders_json, orders_of, taken_m2
from filmhand.gang.sheet import Placement, Sheet, Spot
from filmhand.intake.ticket import Ticket
from filmhand.printer import Printer

SCHEMA = json.loads((files("filmhand") / "schemas" / "sheet.schema.json").read_text("utf-8"))
PRINTER = Printer(name="p", film_width="600 mm", highlight_white=True)
HAND = Hand(0.01, 0.52, 30.0, 51.0, {"C": 0.01, "W": 0.05, "W2": 0.01}, {"C": 0.02, "W": 0.1, "W2": 0.02})
FACTS = CopyFacts(Ticket(copies=2, order="A1"), "crest.png", "0" * 64, "#1b1b1d", 60.0, (), "2" * 64, HAND)


def ticket(facts: Mapping[str, CopyFacts], placed: Iterable[Placement] = ()) -> dict[str, Any]:
    """The ticket of a sheet with a copy of each job, or what is placed, read back from JSON."""
    placements = tuple(placed) or tuple(Placement(job, 1, 10, 10, 60, 40, 0) for job in facts)
    laid = estimate({"C": [1e6], "W": [4e6], "W2": [1e6]}, 5e6, length_mm=200, printer=PRINTER, passes=None)
    hand = sheet_hand(laid, [one.hand for one in facts.values()], printer=PRINTER)
    designs = {
        job: Design(one.ticket.order, one.shown_name, dict.fromkeys((0, 1, 2), 2400.0), one.hand) for job, one in facts.items()
    }
    sheet = Sheet("s1", 600, 200, placements)
    laid = replace(laid, used_m2=taken_m2(sheet, designs))
    orders = orders_json(orders_of(sheet, designs, laid=laid, printer=PRINTER), laid)
    figures = {"estimate": laid.to_json(), "hand": None if hand is None else hand.to_json(), "orders": orders}
    made = sheet_ticket(
        sheet,
        facts,
        printer=PRINTER,
        made=Made("Dark cotton", datetime(2031, 5, 4, 22, 0, tzinfo=UTC), is_nominal=True, passes=6, film="the cheapest"),
        figures=figures,
        digests={"s1_C.tif": "1" * 64},
    )
    return dict(json.loads(json.dumps(made)))


def test_every_design_once_with_its_hand() -> None:
    """One entry a job, however it is named; the sheet's own beside it; a second white among the inks."""
    values = ticket({"j1": FACTS, "j2": replace(FACTS, shown_name="back.png")})
    jsonschema.validate(values, SCHEMA)
    assert values["inks"] == ["C", "M", "Y", "K", "W", "W2"]
    assert [(one["job"], one["file"], one["garment"]) for one in values["designs"]] == [
        ("j1", "crest.png", "#1b1b1d"),
        ("j2", "back.png", "#1b1b1d"),
    ]
    first = values["designs"][0]
    assert (first["coverage_percent"], first["film_g_m2"], first["saved_percent"]) == (52, 30, 50)
    # 1e6 dots of 7 pl and 5e6 of 7 pl (no line of white's own): 0.042 ml of 0.28 ml, so 85 % less.
    assert sum(values["hand"]["ink_ml"].values()) == pytest.approx(0.042)
    assert values["hand"]["saved_percent"] == pytest.approx(85)


def test_pieces_and_labels_are_told() -> None:
    """A copy in two pieces, with a label: which of how many, and where the label lies; rush and due time for the operator."""
    due = datetime(2031, 5, 5, 6, 0, tzinfo=UTC)
    facts = {"j1": replace(FACTS, ticket=Ticket(copies=1, rush=True, due=due))}
    pieces = [Placement("j1", 1, 10.0, 10.0, 60.0, 40.0, 45.0, part, Spot(80.123456, 9.0, 9.0, 36.0, 90.0)) for part in (1, 2)]
    values = ticket(facts, pieces)
    jsonschema.validate(values, SCHEMA)
    first = values["placements"][0]
    assert (first["part"], first["parts"], first["rush"], first["due"]) == (1, 2, True, "2031-05-05T06:00:00+00:00")
    assert first["label"] == {"x_mm": 80.1235, "y_mm": 9.0, "width_mm": 9.0, "height_mm": 36.0, "rotation_deg": 90.0}
    assert (values["rule"], values["passes"], values["film"]["why"]) == ("Dark cotton", 6, "the cheapest")
    assert values["orders"][0]["copies"] == 1


def test_a_job_prepared_before() -> None:
    """Its design has no figures, and the sheet's are null, not half true."""
    values = ticket({"j1": FACTS, "j2": replace(FACTS, hand=None)})
    jsonschema.validate(values, SCHEMA)
    assert values["hand"] is None
    assert values["designs"][1] == {"job": "j2", "file": "crest.png", "garment": "#1b1b1d", "rule_sha256": "2" * 64}


@pytest.mark.parametrize("spoilt", ["film_g_m2", "ink_ml", "saved_percent"])
def test_half_a_hand_is_refused(spoilt: str) -> None:
    """The schema wants all of a design's figures, or none."""
    values = ticket({"j1": FACTS})
    del values["designs"][0][spoilt]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(values, SCHEMA)

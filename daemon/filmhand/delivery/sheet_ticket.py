"""The ticket of a delivered sheet, ticket.json: what lies where, what it takes. Its JSON Schema is schemas/sheet.schema.json."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from filmhand.estimate.hand import Hand
from filmhand.gang.sheet import Placement, Sheet, Spot
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer

TICKET = "ticket.json"
SCHEMA = 1


@dataclass(frozen=True)
class Made:
    """How and when a sheet was made. `passes`: None where neither rule nor printer says. `film`: why it is this film."""

    rule: str
    """The rule's title."""
    at: datetime
    is_nominal: bool
    """Its colours are those of the built-in inks."""
    passes: int | None = None
    film: str = ""


@dataclass(frozen=True)
class CopyFacts:
    """What the ticket says of each copy of a job."""

    ticket: Ticket
    shown_name: str
    digest: str
    garment: str
    width_mm: float
    """Printed width, before the knockout took bare margins away."""
    findings: tuple[Finding, ...]
    rule_digest: str = ""
    """SHA-256 of the rule that it was claimed under."""
    hand: Hand | None = None
    """Of one copy; None where it was prepared before that was reckoned."""


def sheet_ticket(
    sheet: Sheet,
    facts: Mapping[str, CopyFacts],
    *,
    printer: Printer,
    made: Made,
    figures: Mapping[str, Any],
    digests: Mapping[str, str],
) -> dict[str, Any]:
    """Plain values for JSON. `facts` by job id; `figures`: the sheet's `estimate`, `hand`, `orders`; `digests` by file name."""
    parts = Counter((item.job, item.copy) for item in sheet.placements)
    return {
        "schema": SCHEMA,
        "sheet": sheet.name,
        "rule": made.rule,
        "date": made.at.isoformat(timespec="seconds"),
        "printer": printer.name,
        "passes": made.passes,
        "film": {"width_mm": sheet.film_width_mm, "why": made.film},
        "film_width_mm": sheet.film_width_mm,
        "length_mm": sheet.length_mm,
        "resolution": list(printer.resolution),
        "bits": printer.bits,
        "inks": list(printer.planes),
        "mirrored": printer.mirror,
        "colour": "nominal" if made.is_nominal else "profile",
        "placements": [_placement(item, facts[item.job], parts=parts[item.job, item.copy]) for item in sheet.placements],
        "designs": [_design(job, one) for job, one in facts.items()],
        "findings": list(_findings(facts)),
        **figures,
        "digests": dict(digests),
    }


def _placement(item: Placement, one: CopyFacts, *, parts: int) -> dict[str, Any]:
    """A copy, or a piece of one."""
    ticket = one.ticket
    return {
        "job": item.job,
        "order": ticket.order,
        "file": one.shown_name,
        "sha256": one.digest,
        "copy": item.copy,
        "copies": ticket.copies,
        **({"part": item.part, "parts": parts} if item.part else {}),
        "garment": one.garment,
        **({} if ticket.garment_name is None else {"garment_name": ticket.garment_name}),
        **({} if ticket.due is None else {"due": ticket.due.isoformat()}),
        **({"rush": True} if ticket.rush else {}),
        **_box(item),
        **({} if item.label is None else {"label": _box(item.label)}),
    }


def _box(place: Placement | Spot) -> dict[str, float]:
    return {
        "x_mm": round(place.x_mm, 4),
        "y_mm": round(place.y_mm, 4),
        "width_mm": round(place.width_mm, 4),
        "height_mm": round(place.height_mm, 4),
        "rotation_deg": round(place.rotation_deg, 4),
    }


def _design(job: str, one: CopyFacts) -> dict[str, Any]:
    """What a copy of a design takes, as it was prepared: what screening changes is in the sheet's own figures alone."""
    hand = {} if one.hand is None else one.hand.to_json()
    return {"job": job, "file": one.shown_name, "garment": one.garment, "rule_sha256": one.rule_digest, **hand}


def _findings(facts: Mapping[str, CopyFacts]) -> Iterable[dict[str, Any]]:
    for job, one in facts.items():
        yield from ({"job": job, "file": one.shown_name, **finding.to_json()} for finding in one.findings)

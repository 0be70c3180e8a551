"""The ticket of a delivered sheet, ticket.json: what lies where, what it takes. Its JSON Schema is schemas/sheet.schema.json."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from filmhand.estimate.hand import Hand
from filmhand.gang.sheet import Sheet
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer

TICKET = "ticket.json"
SCHEMA = 1


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
    hand: Hand | None = None
    """Of one copy; None where it was prepared before that was reckoned."""


def sheet_ticket(
    sheet: Sheet,
    facts: Mapping[str, CopyFacts],
    *,
    printer: Printer,
    is_nominal: bool,
    figures: Mapping[str, Any],
    digests: Mapping[str, str],
) -> dict[str, Any]:
    """Plain values for JSON. `facts` by job id; `figures`: the sheet's `estimate` and `hand`; `digests` SHA-256 by file name."""
    return {
        "schema": SCHEMA,
        "sheet": sheet.name,
        "printer": printer.name,
        "film_width_mm": sheet.film_width_mm,
        "length_mm": sheet.length_mm,
        "resolution": list(printer.resolution),
        "bits": printer.bits,
        "inks": list(printer.planes),
        "mirrored": printer.mirror,
        "colour": "nominal" if is_nominal else "profile",
        "placements": [
            {
                "job": item.job,
                "order": facts[item.job].ticket.order,
                "file": facts[item.job].shown_name,
                "sha256": facts[item.job].digest,
                "copy": item.copy,
                "copies": facts[item.job].ticket.copies,
                "garment": facts[item.job].garment,
                **{key: round(value, 4) for key, value in asdict(item).items() if key not in ("job", "copy")},
            }
            for item in sheet.placements
        ],
        "designs": [_design(job, one) for job, one in facts.items()],
        "findings": list(_findings(facts)),
        **figures,
        "digests": dict(digests),
    }


def _design(job: str, one: CopyFacts) -> dict[str, Any]:
    """What a copy of a design takes, as it was prepared: what screening changes is in the sheet's own figures alone."""
    return {"job": job, "file": one.shown_name, "garment": one.garment, **({} if one.hand is None else one.hand.to_json())}


def _findings(facts: Mapping[str, CopyFacts]) -> Iterable[dict[str, Any]]:
    for job, one in facts.items():
        yield from ({"job": job, "file": one.shown_name, **finding.to_json()} for finding in one.findings)

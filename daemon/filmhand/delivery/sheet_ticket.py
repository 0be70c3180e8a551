"""The ticket of a delivered sheet, ticket.json: what lies where, what it cost. Its JSON Schema is schemas/sheet.schema.json."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

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


def sheet_ticket(
    sheet: Sheet,
    facts: Mapping[str, CopyFacts],
    *,
    printer: Printer,
    is_nominal: bool,
    estimate: Mapping[str, Any],
    digests: Mapping[str, str],
) -> dict[str, Any]:
    """Plain values for JSON. `facts` by job id; `digests` SHA-256 by file name."""
    return {
        "schema": SCHEMA,
        "sheet": sheet.name,
        "printer": printer.name,
        "film_width_mm": sheet.film_width_mm,
        "length_mm": sheet.length_mm,
        "resolution": list(printer.resolution),
        "bits": printer.bits,
        "inks": [str(ink) for ink in printer.inks],
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
        "findings": list(_findings(facts)),
        "estimate": dict(estimate),
        "digests": dict(digests),
    }


def _findings(facts: Mapping[str, CopyFacts]) -> Iterable[dict[str, Any]]:
    for job, one in facts.items():
        yield from ({"job": job, "file": one.shown_name, **finding.to_json()} for finding in one.findings)

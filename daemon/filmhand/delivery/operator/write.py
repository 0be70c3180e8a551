"""Writing the operator's sheet beside a gang sheet's preview: operator.html and operator.pdf, from the sheet's ticket."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from PIL import Image

from filmhand.delivery.operator.facts import SheetFacts, facts_of
from filmhand.delivery.operator.legible import legible
from filmhand.delivery.operator.page import PAGE, page_of
from filmhand.delivery.operator.paper import PAPER, paper_of
from filmhand.delivery.operator.sayings import CAUTIONS, DEFER, SAYS, STEPS
from filmhand.gang_rules import PressRules

PREVIEW: Final = "preview.png"


def write_operator_sheet(
    folder: Path, ticket: Mapping[str, Any], *, press: PressRules, title: str, shop: str, at: datetime
) -> tuple[str, ...]:
    """Write both into the sheet's folder, and give their names.

    `ticket`: as delivery/sheet_ticket.py makes it; `title`: the rule's; `at`: when the sheet was made, said on the page and the
    PDF's own date. OSError as the disk says, or where preview.png is no picture.
    """
    facts = facts_of(ticket, press)
    told = _told(facts, title=title, shop=shop, at=at)
    with Image.open(folder / PREVIEW) as preview:
        paper = paper_of(told, facts, preview, at=at)
    (folder / PAGE).write_text(page_of(told, facts), "utf-8")
    (folder / PAPER).write_bytes(paper)
    return PAGE, PAPER


def _told(facts: SheetFacts, *, title: str, shop: str, at: datetime) -> dict[str, Any]:
    """What both templates are filled with: plain values."""
    return {
        "say": dict(SAYS),
        "steps": STEPS,
        "cautions": CAUTIONS,
        "defer": DEFER,
        "title": legible(title),
        "shop": legible(shop),
        "at": f"{at:%d %B %Y, %H:%M}".lstrip("0"),
        "facts": {key: value for key, value in asdict(facts).items() if key != "numbered"},
    }

"""The ticket of a sheet that was composed."""

import json
from collections.abc import Mapping
from pathlib import Path

from filmhand.durable import sha256_of
from filmhand.gang.sheet import Sheet
from filmhand.rules import Printer


def write_ticket(folder: Path, sheet: Sheet, machine: Printer, garments: Mapping[str, str]) -> None:
    """Into the sheet's folder; `garments` by job."""
    ticket = {
        "schema": 1,
        "sheet": sheet.name,
        "printer": machine.name,
        "film_width_mm": sheet.film_width_mm,
        "length_mm": sheet.length_mm,
        "resolution": list(machine.resolution),
        "bits": machine.bits,
        "inks": list(machine.planes),
        "mirrored": machine.mirror,
        "colour": "nominal",
        "placements": [
            {
                **{"job": item.job, "order": None, "file": f"{item.job}.png", "sha256": "0" * 64, "copy": item.copy, "copies": 1},
                **{"garment": garments[item.job], "x_mm": item.x_mm, "y_mm": item.y_mm, "rotation_deg": item.rotation_deg},
                **{"width_mm": item.width_mm, "height_mm": item.height_mm},
            }
            for item in sheet.placements
        ],
        "digests": {path.name: sha256_of(path) for path in folder.glob("*.tif")},
    }
    (folder / "ticket.json").write_text(json.dumps(ticket), "utf-8")

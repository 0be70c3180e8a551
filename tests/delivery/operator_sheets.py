"""Gang sheets for tests of the operator's sheet: a ticket of an invented night, and a preview with a colour for every copy."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from PIL import Image, ImageDraw

from filmhand.delivery.operator.write import write_operator_sheet
from filmhand.gang_rules import PressRules

DARK, SAND = "#1b1b1d", "#d9c7a3"
PRESS: Final = PressRules(temperature="150 °C", time="12 s", pressure="medium, 3 bar", peel="cold", note="Again for 5 s.")
AT: Final = datetime(2031, 3, 14, 2, 7, tzinfo=UTC)

HOSTILE: Final = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "#panic() $x$ *b* @ref <label> \\ `raw` // no comment",
    "{{ 7 * 7 }} {% raw %}",
    "\u202egnp.exe\u202c\u2066\u200f",
    "שלום עולם مرحبا بالعالم",
    "中文字 日本語 한국어 ไทย हिन्दी",
    "😀👩‍👩‍👧‍👦🏴\U000e0067\U000e0062\U000e007f",
    "Z͑ͫ̓a̴͙l̷g̸o",
    "half \ud800 a pair",
    "\x00\x07\x1b[31m\r\n\t\u2028",
    "\ue000\ufffe",
    "Donaudampfschifffahrtsgesellschaftskapitän" * 5,
    "W" * 200,
    "",
)
"""Names that have broken pages of others: markup, directions, scripts that fonts lack, no text at all, no end of letters."""


def placement(job: str, copy: int, box: tuple[float, float, float, float], **more: Any) -> dict[str, Any]:
    """One copy; `box`: left, top, width and height in mm of the film. Its order and file are called after its job."""
    x, y, width, height = box
    said = {"order": f"R{job}", "file": f"{job}.png", "sha256": "0" * 64, "copies": 1, "garment": DARK}
    place = {"x_mm": x, "y_mm": y, "width_mm": width, "height_mm": height, "rotation_deg": 0.0, "part": 0, "label": None}
    return {"job": job, "copy": copy, **said, **place, **more}


def ticket(placements: list[dict[str, Any]], *, width: float = 600.0, length: float = 1000.0, **more: Any) -> dict[str, Any]:
    """A sheet's ticket as the controller gets it, as far as the operator's sheet reads it."""
    return {
        "sheet": "dark-garment-0001",
        "printer": "house printer",
        "film_width_mm": width,
        "length_mm": length,
        "mirrored": True,
        "placements": placements,
        "findings": [],
        "estimate": {"film_m2": width * length / 1e6, "powder_g": 31.0, "minutes": 12.4, "ink_ml": {}, "cost": {"total": 1.0}},
        **more,
    }


def night(copies: int, *, designs: int, side: float = 80.0, width: float = 600.0) -> dict[str, Any]:
    """Square copies in rows, as many of each design, none in the last place of each row: no row is its own mirror image."""
    across = int((width - 20) // (side + 6)) - 1
    boxes = [(10 + (side + 6) * (n % across), 10 + (side + 6) * (n // across), side, side) for n in range(copies)]
    jobs = [f"{100 + n * designs // copies}" for n in range(copies)]
    garments = [(DARK, SAND)[int(job) % 2] for job in jobs]
    copied = enumerate(zip(jobs, boxes, garments, strict=True), 1)
    placed = [placement(job, copy, box, garment=garment) for copy, (job, box, garment) in copied]
    return ticket(placed, width=width, length=20 + (side + 6) * -(-copies // across))


def warning(job: str, message: str = "Lines are thin") -> dict[str, Any]:
    """A finding that only warns, as a ticket has it."""
    words = {"text": message, "values": {}}
    return {"job": job, "file": f"{job}.png", "check": "thin_line", "severity": "warn", "message": words, "advice": None}


def colour_of(place: int) -> tuple[int, int, int]:
    """The colour in which the preview shows the copy at a place of the ticket: no other has it."""
    return 40 + place * 37 % 200, 40 + place * 91 % 201, 40 + place * 53 % 203


def write_preview(folder: Path, said: dict[str, Any], *, px_per_mm: float = 1.0) -> None:
    """preview.png: drawn as the film lies, then flipped by pillow where that is mirrored."""
    size = round(said["film_width_mm"] * px_per_mm), round(said["length_mm"] * px_per_mm)
    film = Image.new("RGB", size, DARK)
    draw = ImageDraw.Draw(film)
    for place, item in enumerate(said["placements"]):
        left, top = item["x_mm"] * px_per_mm, item["y_mm"] * px_per_mm
        right, bottom = left + item["width_mm"] * px_per_mm, top + item["height_mm"] * px_per_mm
        draw.rectangle((left, top, right - 1, bottom - 1), fill=colour_of(place))
    picture = film.transpose(Image.Transpose.FLIP_LEFT_RIGHT) if said["mirrored"] else film
    picture.save(folder / "preview.png")


def write(folder: Path, said: dict[str, Any], *, press: PressRules = PRESS, **more: Any) -> tuple[str, ...]:
    """The preview, and the operator's sheet beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    write_preview(folder, said)
    words = {"title": "Dark cotton, soft hand", "shop": "The Rowing Press", "at": AT, **more}
    return write_operator_sheet(folder, said, press=press, **words)

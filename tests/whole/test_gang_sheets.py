"""What a gang sheet brings with it, as a person finds it: labels, cut paths, the operator's sheet, pieces; two printers."""

import json
from io import BytesIO
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import tifffile
import zxingcpp
from PIL import Image

from small_shop import RULE, filmhand, picture

GANG = """
films = ["330 mm", "600 mm"]
split = "25 mm"
labels = true
marks = { header = true, registration = true }
cut = { offset = "2 mm", files = ["svg", "pdf", "dxf"] }
[press]
temperature = "150 °C"
"""


def _rule(shop: Path, gang: str) -> None:
    (shop / "rules" / "small.toml").write_text(RULE.replace("[gang.close]", f"{gang}\n[gang.close]"), "utf-8")


def _ticket(sheet: Path) -> dict[str, Any]:
    return dict(json.loads((sheet / "ticket.json").read_text("utf-8")))


def _two_far_apart() -> bytes:
    """A page 200 px wide with a picture at either end; printed 90 mm wide they are 36 mm apart."""
    page = Image.new("RGBA", (500, 160))
    for place in (0, 350):
        page.paste(Image.open(BytesIO(picture(place + 1))).crop((0, 0, 150, 140)), (place, 10))
    pixels = np.array(page)
    pixels[20:130, 2:148], pixels[20:130, 352:498] = (240, 120, 20, 255), (30, 160, 220, 255)
    buffer = BytesIO()
    Image.fromarray(pixels).save(buffer, "PNG")
    return buffer.getvalue()


def test_a_sheet_has_all_that_cutting_and_sorting_need(shop: Path) -> None:
    """Its files; the codes of its labels as zxing-cpp reads them from the white plane; as many cut paths as pieces."""
    _rule(shop, GANG)
    (shop / "in" / "small" / "A1_40mm_x2.png").write_bytes(picture(1))
    (shop / "in" / "small" / "A2_90mm_x1.png").write_bytes(_two_far_apart())
    filmhand("batch", shop)
    (sheet,) = sorted((shop / "out" / "small").iterdir())
    extra = {f"{sheet.name}_cut.{form}" for form in ("svg", "pdf", "dxf")} | {"operator.html", "operator.pdf", "preview.png"}
    assert {path.name for path in sheet.iterdir()} == extra | {"ticket.json"} | {f"{sheet.name}_{ink}.tif" for ink in "CMYKW"}
    ticket = _ticket(sheet)
    assert (ticket["film_width_mm"], "the cheapest in stock" in ticket["film"]["why"]) == (330.0, True)
    jobs = {item["order"]: item["job"] for item in ticket["placements"]}
    white = np.fliplr(tifffile.imread(sheet / f"{sheet.name}_W.tif") > 0)  # the film is printed mirrored
    seen = {code.text for code in zxingcpp.read_barcodes(np.where(white, 255, 0).astype(np.uint8))}
    assert seen == {
        *(f"{jobs['A1']};{copy}/2;A1" for copy in (1, 2)),
        *(f"{jobs['A2']};1/1+{part}/2;A2" for part in (1, 2)),
    }
    drawing = ezdxf.readfile(sheet / f"{sheet.name}_cut.dxf")
    assert len(drawing.modelspace().query('LWPOLYLINE[layer=="CUT"]')) == 4
    assert "150 °C" in (sheet / "operator.html").read_text("utf-8")
    assert sum(order["copies"] for order in ticket["orders"]) == 3
    assert set(ticket["digests"]) == extra - {"operator.html", "operator.pdf"} | {f"{sheet.name}_{ink}.tif" for ink in "CMYKW"}


def test_two_printers_share_a_folder_by_load(shop: Path) -> None:
    """Four equal jobs: two sheets, one in each printer's own folder, two copies on each; neither lies in the folder itself."""
    _rule(shop, 'printers = ["left", "right"]')
    (shop / "printers").mkdir()
    for name in ("left", "right"):
        text = (shop / "printer.toml").read_text("utf-8").replace('name = "house printer"', f'name = "the {name} one"')
        (shop / "printers" / f"{name}.toml").write_text(text, "utf-8")
    for number in range(4):
        (shop / "in" / "small" / f"B{number}_40mm_x1.png").write_bytes(picture(number))
    filmhand("batch", shop)
    sheets = sorted((shop / "out" / "small").glob("*/*"))
    assert [sheet.parent.name for sheet in sheets] == ["left", "right"]
    assert [_ticket(sheet)["printer"] for sheet in sheets] == ["the left one", "the right one"]
    assert [len(_ticket(sheet)["placements"]) for sheet in sheets] == [2, 2]


def test_a_printer_that_is_not_there_is_named(shop: Path) -> None:
    """With the rule's file and what to do; so is film that does not fit the printer."""
    _rule(shop, 'printers = ["left"]')
    said = filmhand("batch", shop, code=3)
    assert "small.toml" in said
    assert "printers/left.toml" in said
    _rule(shop, 'films = ["610 mm"]')
    assert "610 mm" in filmhand("batch", shop, code=3)

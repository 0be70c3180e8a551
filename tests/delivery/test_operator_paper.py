"""The operator's sheet as a PDF: read back by poppler's programs, pikepdf and pdfium, and looked at in its pixels."""

import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from delivery.operator_sheets import AT, HOSTILE, PRESS, colour_of, night, placement, ticket, warning, write, write_preview
from filmhand.delivery.operator import write as writing
from filmhand.delivery.operator.facts import facts_of
from filmhand.delivery.operator.legible import legible
from filmhand.delivery.operator.numbers import numbered
from filmhand.delivery.operator.paper import PAPER, paper_of
from filmhand.delivery.operator.sayings import CAUTIONS, DEFER, SAYS
from filmhand.gang_rules import PressRules

A4 = (595.28, 841.89)
"""ISO 216: 210 × 297 mm, in points."""

_SPACES = re.compile(r"[\s\u200b\u2066-\u2069\u202a-\u202e\u200e\u200f]+")


class Word(NamedTuple):
    """A word on a page, in points from its top left corner."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def poppler(program: str, *arguments: str | Path) -> str:
    """What one of poppler's programs prints."""
    if shutil.which(program) is None:
        pytest.skip(f"{program} (Debian package poppler-utils) is not installed")
    return subprocess.run([program, *map(str, arguments)], capture_output=True, text=True, timeout=60, check=True).stdout


def plain(text: str) -> str:
    """Without spaces of any kind: lines may break anywhere."""
    return _SPACES.sub("", text)


def words(path: Path) -> list[list[Word]]:
    """Every word of every page, as pdftotext finds them."""
    tree = ET.fromstring(re.sub(r"[\x00-\x08\x0b-\x1f]", "", poppler("pdftotext", "-bbox", path, "-")))
    name = "{http://www.w3.org/1999/xhtml}"
    sides = ("xMin", "yMin", "xMax", "yMax")
    return [
        [Word(one.text or "", *(float(one.attrib[side]) for side in sides)) for one in page.iter(name + "word")]
        for page in tree.iter(name + "page")
    ]


def pages(path: Path) -> int:
    """How many there are."""
    with pikepdf.open(path) as opened:
        return len(opened.pages)


def drawn(path: Path, *, page: int = 0, scale: float = 2.0) -> "np.ndarray[Any, Any]":
    """A page as pdfium draws it, h×w×3 uint8."""
    with pypdfium2.PdfDocument(path) as opened:
        return np.asarray(opened[page].render(scale=scale).to_pil().convert("RGB"))


@pytest.mark.outside
def test_a_usual_sheet_is_one_page_with_all_that_an_operator_needs(tmp_path: Path) -> None:
    """Every order, file, size, press setting, caution and figure; one page of A4, and it says so."""
    said = night(40, designs=6, side=100)
    assert write(tmp_path, said) == ("operator.html", "operator.pdf")
    with pikepdf.open(tmp_path / PAPER) as opened:
        assert [float(side) for side in opened.pages[0].mediabox] == pytest.approx([0, 0, *A4], abs=0.01)
    assert pages(tmp_path / PAPER) == 1
    text = plain(poppler("pdftotext", tmp_path / PAPER, "-"))
    for job in range(100, 106):
        assert f"R{job}" in text
        assert f"{job}.png" in text
    for said_there in ("dark-garment-0001", "150°C", "12s", "medium,3bar", "cold", "Againfor5s.", "100×100mm", "1of1", "12min"):
        assert said_there in text
    for sentence in (DEFER, SAYS["seen_mirrored"], *(part for caution in CAUTIONS for part in caution)):
        assert plain(sentence) in text
    assert "The Rowing Press".replace(" ", "") in text


@pytest.mark.outside
@pytest.mark.parametrize("machine_fonts", [True, False])
def test_fonts_are_in_the_file(tmp_path: Path, machine_fonts: bool) -> None:
    """All of them, with a table back to text (pdffonts' columns emb and uni), whether the machine has fonts or not."""
    write_preview(tmp_path, said := night(5, designs=1))
    facts = facts_of(said, PRESS)
    told = writing._told(facts, title="t", shop="שלום", at=AT)
    with Image.open(tmp_path / "preview.png") as preview:
        (tmp_path / PAPER).write_bytes(paper_of(told, facts, preview, at=AT, machine_fonts=machine_fonts))
    fonts = poppler("pdffonts", tmp_path / PAPER).splitlines()[2:]
    assert fonts
    assert all(re.search(r"\byes +(yes|no) +yes +\d+ +\d+$", line) for line in fonts)
    assert machine_fonts or all("Libertinus" in line or "DejaVuSansMono" in line or "NewCM" in line for line in fonts)


@pytest.mark.outside
def test_hundreds_of_lines_go_on_over_the_page(tmp_path: Path) -> None:
    """Every page says which of how many it is and repeats the list's head; no line is lost."""
    write(tmp_path, night(300, designs=150))
    found = words(tmp_path / PAPER)
    assert len(found) > 3
    for number, page in enumerate(found, 1):
        text = " ".join(word.text for word in page)
        assert f"{number} of {len(found)}" in text
    assert {word.text for page in found for word in page} >= {f"{job}.png" for job in range(100, 250)}
    assert sum("Artwork and garment" in " ".join(word.text for word in page) for page in found) >= len(found) - 1


@pytest.mark.outside
@pytest.mark.parametrize("is_mirrored", [True, False])
def test_numbers_stand_on_their_copies_on_paper(tmp_path: Path, is_mirrored: bool) -> None:
    """Beside each number on the page, as drawn by pdfium, is the colour of the copy that has it: at most 12 off, for JPEG."""
    said = night(23, designs=4, side=90) | {"mirrored": is_mirrored}
    write(tmp_path, said, press=PressRules())
    page, picture = words(tmp_path / PAPER)[0], drawn(tmp_path / PAPER, scale=4.0).astype(int)
    colours = {(item["job"], item["copy"]): colour_of(place) for place, item in enumerate(said["placements"])}
    at = {(item["job"], item["x_mm"], item["y_mm"]): item["copy"] for item in said["placements"]}
    for one in numbered(said):
        left = said["film_width_mm"] - one.box.left - one.box.width if is_mirrored else one.box.left
        copy = next(number for (job, x, y), number in at.items() if (job, y) == (one.job, one.box.top) and abs(x - left) < 0.01)
        word = min((word for word in page if word.text == one.text and word.top > 105), key=lambda word: word.top)
        beside = picture[round(2 * (word.top + word.bottom)), round(4 * word.left) - 36]
        assert np.abs(beside - colours[one.job, copy]).max() <= 12, (one.text, beside)


@pytest.mark.outside
@pytest.mark.parametrize("machine_fonts", [True, False])
def test_any_text_is_shown_and_stays_on_the_page(tmp_path: Path, machine_fonts: bool) -> None:
    """Names that broke pages of others are in the PDF, escaped where they cannot be shown; no word leaves the page."""
    placed = [
        placement(str(n), 1, (10, 10 + 60 * n, 50, 50), file=name, order=name, garment_name=name, due=name)
        for n, name in enumerate(HOSTILE)
    ]
    said = ticket(placed, length=1000, sheet=HOSTILE[-3][:120], printer=HOSTILE[-2], film={"width_mm": 600, "why": HOSTILE[0]})
    said["findings"] = [{**warning(str(n), name), "file": name} for n, name in enumerate(HOSTILE)]
    write_preview(tmp_path, said)
    facts = facts_of(said, PressRules(temperature=HOSTILE[0], time=HOSTILE[-2], peel=HOSTILE[5], note=HOSTILE[-3]))
    told = writing._told(facts, title=HOSTILE[-2], shop=HOSTILE[2], at=AT)
    with Image.open(tmp_path / "preview.png") as preview:
        (tmp_path / PAPER).write_bytes(paper_of(told, facts, preview, at=AT, machine_fonts=machine_fonts))
    text = plain(poppler("pdftotext", tmp_path / PAPER, "-"))
    for name in (*HOSTILE[:4], *HOSTILE[-3:]):
        assert plain(name) in text or plain(legible(name)) in text, name
    for page in words(tmp_path / PAPER):
        assert all(word.left >= 20 and word.right <= A4[0] - 20 and word.bottom <= A4[1] for word in page)
        assert page


@pytest.mark.parametrize("name", ["中文字", "हिन्दी", "\U0001f9a9\U0001f9a9"])
def test_signs_that_no_font_has_leave_a_mark(tmp_path: Path, name: str) -> None:
    """With typst's own fonts alone there is ink where the name stands, and none where there is no name."""
    inks = []
    for shop in (name, "\u2003"):
        said = night(3, designs=1)
        write_preview(tmp_path, said)
        facts = facts_of(said, PRESS)
        told = writing._told(facts, title=shop, shop="s", at=AT)
        with Image.open(tmp_path / "preview.png") as preview:
            (tmp_path / PAPER).write_bytes(paper_of(told, facts, preview, at=AT, machine_fonts=False))
        top = drawn(tmp_path / PAPER)[40:86, 700:]
        inks.append(int((top.min(axis=2) < 128).sum()))
    assert inks[0] > inks[1] + 40 * len(name)


def test_the_same_sheet_gives_the_same_bytes(tmp_path: Path) -> None:
    """Twice, in two folders; the PDF's date is the sheet's (ISO 32000-2, 7.9.4)."""
    said = night(30, designs=5)
    said["findings"] = [warning("101")]
    made = []
    for name in ("one", "two"):
        write(tmp_path / name, said)
        made.append([(tmp_path / name / file).read_bytes() for file in ("operator.html", "operator.pdf")])
    assert made[0] == made[1]
    with pikepdf.open(tmp_path / "one" / PAPER) as opened:
        assert str(opened.docinfo["/CreationDate"]).startswith("D:20310314020700")


@pytest.mark.outside
def test_press_settings_that_nobody_stated(tmp_path: Path) -> None:
    """Each says that it is not stated, and where to look."""
    write(tmp_path, night(3, designs=1), press=PressRules(temperature="160 °C"))
    text = poppler("pdftotext", tmp_path / PAPER, "-")
    assert text.count(SAYS["not_stated"]) == 3
    assert plain(SAYS["follow"]) in plain(text)


@pytest.mark.outside
def test_small_copies_are_shown_large_on_a_page_of_their_own(tmp_path: Path) -> None:
    """Where numbers could not be read beside the press settings; the page says so, and the numbers are on the other."""
    write(tmp_path, night(1200, designs=3, side=40))
    assert plain(SAYS["overleaf"]) in plain(poppler("pdftotext", tmp_path / PAPER, "-"))
    numbers = [word for page in words(tmp_path / PAPER)[1:] for word in page if word.text.isdecimal()]
    assert {word.text for word in numbers} >= {str(number) for number in range(1, 1201)}
    assert min(word.bottom - word.top for word in numbers) > 4


def _luminance(colour: str) -> float:
    """WCAG 2.2, "relative luminance" (from memory)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio" (from memory): 21 of black on white."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _wide(colour: str) -> str:
    return "#" + "".join(sign * 2 for sign in colour[1:]) if len(colour) == 4 else colour


def test_text_stands_out_on_paper_and_on_the_screen(tmp_path: Path) -> None:
    """At least 4.5 : 1 for every text on every ground it stands on, in both themes and in print (WCAG 2.2, 1.4.3)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    template = (files("filmhand.delivery") / "templates/operator.typ").read_text("utf-8")
    colours = dict(re.findall(r'#let ([\w-]+) = rgb\("(#\w+)"\)', template))
    for ink in ("ink", "soft", "warn"):
        assert contrast(colours[ink], "#ffffff") >= 4.5, ink
    for ink in ("ink", "soft"):
        assert contrast(colours[ink], colours["quiet"]) >= 4.5, ink
    assert contrast("#ffffff", colours["bad"]) >= 4.5
    write(tmp_path, night(3, designs=1))
    blocks = re.findall(r":root \{(.*?)\}", (tmp_path / "operator.html").read_text("utf-8"), re.DOTALL)
    light, dark, printed = ({name: _wide(value) for name, value in re.findall(r"--([\w-]+): (#\w+)", block)} for block in blocks)
    for theme in (light, {**light, **dark}, {**light, **printed}):
        pairs = [(ink, ground) for ink in ("ink", "soft") for ground in ("paper", "quiet")]
        pairs += [("warn", "paper"), ("on-strong", "bad"), ("on-strong", "good"), ("number", "disc")]
        for ink, ground in pairs:
            assert contrast(theme[ink], theme[ground]) >= 4.5, (ink, ground)

"""`filmhand proof`: what it writes, and what it says where it cannot."""

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from filmhand.cli.proof import Asked, proof
from filmhand.errors import FilmhandError, MachineError, NotFoundError, SettingsError
from filmhand.proof.region import Region
from proof.sheets import INKS, SAND, deliver, placed, random_planes
from small_shop import filmhand

SIZE = 1200, 1417  # 50 mm of film


@pytest.fixture(scope="module")
def delivered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with one delivered sheet of two designs."""
    root = tmp_path_factory.mktemp("shop") / "shop"
    filmhand("new", root)
    copies = [placed((100, 100, 500, 900), job="dark"), placed((700, 200, 600, 800), job="sand/../1", garment=SAND)]
    return deliver(root / "out" / "soft-hand" / "s1", random_planes(SIZE), copies)


@pytest.fixture
def sheet(delivered: Path, tmp_path: Path) -> Path:
    """The same in a shop of its own, to be damaged."""
    root = tmp_path / "shop"
    root.mkdir()
    for name in ("shop.toml", "printer.toml"):
        (root / name).write_bytes((delivered.parents[2] / name).read_bytes())
    folder = root / "out" / "soft-hand" / "s1"
    folder.mkdir(parents=True)
    for path in delivered.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    return folder


def refusal(sheet: Path, kind: type[FilmhandError], **keys: object) -> str:
    """What a person is told."""
    with pytest.raises(kind) as caught:
        proof(Asked(sheet, **keys))  # type: ignore[arg-type]
    return str(caught.value)


def test_a_proof_lies_in_the_shop(delivered: Path) -> None:
    """As a person calls it: every view and every design, and a page that names them all; the delivered folder is as it was."""
    before = {path.name: path.read_bytes() for path in delivered.iterdir()}
    said = filmhand("proof", delivered)
    out = delivered.parents[2] / "proofs" / "s1"
    assert str(out / "index.html") in said
    views = ["garment", "film-print-side", "film-back", *INKS]
    dots = [f"{job}-dots{times}" for job in ("dark", "sand_.._1") for times in ("", "-x8")]
    assert sorted(path.name for path in out.iterdir()) == sorted([*(f"{name}.png" for name in views + dots), "index.html"])
    page = (out / "index.html").read_text("utf-8")
    assert all(f'src="{name}.png"' in page for name in views + dots)
    assert "http:" not in page and "https:" not in page
    sizes = {name: Image.open(out / f"{name}.png").size for name in (*views, *dots)}
    assert len({sizes[view] for view in views}) == 1
    assert [sizes[name] for name in dots] == [(227, 227), (1816, 1816)] * 2
    assert before == {path.name: path.read_bytes() for path in delivered.iterdir()}


def test_a_region_as_a_person_asks_for_it(delivered: Path, tmp_path: Path) -> None:
    """Millimetres from the garment view's top left: as many dots as they are, from where they are; its size is said."""
    said = filmhand("proof", delivered, "--out", tmp_path, "--region", "12.7 25.4 5.08 2.54", "--view", "C", "--zoom", "2/2")
    assert "144 × 72 pixels, one a dot" in said
    cyan = tifffile.imread(delivered / "s1_C.tif")[:, ::-1]
    seen = np.asarray(Image.open(tmp_path / "region.png").convert("L"))
    assert np.array_equal(seen == 0, cyan[720:792, 360:504])
    assert sorted(path.name for path in tmp_path.iterdir()) == ["region.png"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--region", "1 2 3"), "left, top, width and height"),
        (("--zoom", "2"), "--region"),
        (("--region", "1 2 3 4", "--zoom", "0"), "pixels a dot"),
    ],
)
def test_wrong_words_are_said(delivered: Path, words: tuple[str, ...], says: str) -> None:
    """Exit code 2, and what is expected."""
    assert says in " ".join(filmhand("proof", delivered, *words, code=2).replace("│", " ").split())


def test_nothing_is_written_among_what_is_the_controllers(sheet: Path) -> None:
    """Neither in the sheet's folder nor in one below it."""
    for out in (sheet, sheet / "proof", sheet / ".." / "s1" / "x"):
        assert "controller's" in refusal(sheet, SettingsError, out=out)
    assert not (sheet / "proof").exists()


def test_no_sheet_no_proof(tmp_path: Path, sheet: Path) -> None:
    """A folder without a ticket, and no folder at all."""
    for folder in (sheet.parent, sheet.parent / "none"):
        assert "no ticket.json" in refusal(folder, NotFoundError)


def test_a_sheet_outside_a_shop_needs_one_named(sheet: Path, tmp_path: Path) -> None:
    """Wherever the controller took it: --shop says whose it is."""
    taken = sheet.rename(tmp_path / "s1")
    assert "--shop" in refusal(taken, SettingsError)
    asked = Asked(taken, shop=tmp_path / "shop", out=tmp_path / "out", region=Region(1, 1, 2, 2))
    proof(asked)
    assert (tmp_path / "out" / "region.png").exists()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"sheet": "s1"}', "\x00"])
def test_a_damaged_ticket_is_said(sheet: Path, text: str) -> None:
    """Whatever is left of it."""
    (sheet / "ticket.json").write_text(text, "utf-8")
    assert "ticket is damaged" in refusal(sheet, MachineError)


def test_a_missing_plane_is_named(sheet: Path) -> None:
    """By its file."""
    (sheet / "s1_M.tif").unlink()
    assert "s1_M.tif" in refusal(sheet, NotFoundError)


@pytest.mark.parametrize("kept", [0, 8, 300, -40, -2])
def test_a_plane_cut_short_is_said(sheet: Path, kept: int) -> None:
    """At the start, in its strips, in its directory: never a traceback, never a picture of what is not there."""
    path = sheet / "s1_W.tif"
    path.write_bytes(path.read_bytes()[:kept])
    assert "s1_W.tif" in refusal(sheet, MachineError)
    assert not (sheet.parents[2] / "proofs" / "s1" / "index.html").exists()


def test_a_strip_that_is_no_code_is_said(sheet: Path) -> None:
    """Bytes in the middle overwritten: a region, which does not ask for digests, finds out in decoding."""
    path = sheet / "s1_W.tif"
    data = bytearray(path.read_bytes())
    data[100:30_000] = b"\xff" * 29_900
    path.write_bytes(data)
    assert "damaged" in refusal(sheet, MachineError, region=Region(1, 0.5, 4, 2))


def test_one_changed_bit_is_not_passed_off(sheet: Path) -> None:
    """A file that can be read but is not the one that was delivered: its digest tells."""
    path = sheet / "s1_C.tif"
    data = bytearray(path.read_bytes())
    data[5000] ^= 1
    path.write_bytes(data)
    assert "not as it was delivered" in refusal(sheet, MachineError)


def test_another_printers_sheet_is_refused(sheet: Path) -> None:
    """The printer file has other inks, or the ticket another size, than the files."""
    printer = sheet.parents[2] / "printer.toml"
    text = printer.read_text("utf-8")
    printer.write_text(text.replace('"K", ', ""), "utf-8")
    assert "has C, M, Y, W" in refusal(sheet, SettingsError)
    printer.write_text(text, "utf-8")
    ticket = json.loads((sheet / "ticket.json").read_text("utf-8"))
    (sheet / "ticket.json").write_text(json.dumps({**ticket, "length_mm": 99.0}), "utf-8")
    assert "the sheet's ticket says" in refusal(sheet, MachineError)


def test_a_region_off_the_sheet_and_an_unknown_view(sheet: Path, tmp_path: Path) -> None:
    """Each says what there is; a region that reaches beyond is cut at the edge."""
    assert "50 × 42 mm" in refusal(sheet, SettingsError, region=Region(60, 1, 5, 5))
    assert "film-back" in refusal(sheet, NotFoundError, region=Region(1, 1, 5, 5), view="Q")
    proof(Asked(sheet, out=tmp_path / "o", region=Region(48, -2, 5, 4)))
    assert Image.open(tmp_path / "o" / "region.png").size == (1417 - 1361, 57)

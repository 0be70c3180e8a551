"""Orders as customers send them: lists, archives, documents of several pages, tickets without artwork and the other way round."""

import io
import json
import zipfile
from collections import Counter
from pathlib import Path

import pikepdf
import pytest

from small_shop import RULE, filmhand, picture

pytestmark = pytest.mark.slow


def _printed(shop: Path) -> Counter[str]:
    """How many copies of each file lie on delivered sheets, by the sheets' own tickets."""
    tickets = (json.loads(path.read_bytes()) for path in (shop / "out").rglob("ticket.json"))
    copies = (copy for one in tickets for copy in one["placements"])
    return Counter(f"{copy['file']} {max(copy['width_mm'], copy['height_mm']):.0f}" for copy in copies)


def _note(shop: Path, place: str) -> str:
    return " ".join((shop / place / "note.txt").read_text("utf-8").split())


def _drop(shop: Path, name: str, data: bytes | str) -> None:
    (shop / "in" / "small" / name).write_bytes(data if isinstance(data, bytes) else data.encode())


def _zip(members: dict[str, bytes | str]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return buffer.getvalue()


def _pdf(pages: int) -> bytes:
    """Pages of 40 mm (113.4 points) with two squares each, corner to corner."""
    document = pikepdf.new()
    for page in range(pages):
        document.add_blank_page(page_size=(113.4, 113.4))
        content = f"0.{page + 3} 0.2 0.8 rg 10 10 50 50 re 55 55 48 48 re f".encode()
        document.pages[page].Contents = document.make_stream(content)
    buffer = io.BytesIO()
    document.save(buffer)
    return buffer.getvalue()


def test_an_order_list_is_followed_line_by_line(shop: Path) -> None:
    """Three lines for two files: each line is printed as it says, the list lies under done/ with the originals."""
    _drop(shop, "orders.csv", "file;copies;width\na.png;3;30 mm\nb.png;2;3,5 cm\nA.PNG;1;20 mm\n")
    _drop(shop, "a.png", picture(1))
    _drop(shop, "b.png", picture(2))
    filmhand("batch", shop)
    assert sum(_printed(shop).values()) == 6
    assert sorted(_printed(shop).values()) == [1, 2, 3]
    done = [path.name for path in (shop / "done").rglob("*") if path.suffix in (".png", ".csv")]
    assert Counter(name.split("~")[0] for name in done) == {"a": 2, "b": 1, "orders": 1}
    assert "Copies ordered 6: delivered 6" in filmhand("status", shop)


def test_what_a_list_orders_and_never_comes_is_said(shop: Path) -> None:
    """The list goes back with a note that names file and line; what came was printed."""
    _drop(shop, "orders.csv", "file,copies\na.png,2\ngone.png,5\n")
    _drop(shop, "a.png", picture(1))
    filmhand("batch", shop)
    assert sum(_printed(shop).values()) == 2
    note = _note(shop, "rejects/small/orders.csv")
    assert "gone.png (3)" in note
    assert "a.png (" not in note


def test_a_line_that_cannot_be_followed_holds_its_artwork_alone(shop: Path) -> None:
    """Copies "lots": that file is held with what is wrong with its line, the other is printed."""
    _drop(shop, "orders.csv", "file,copies\na.png,2\nb.png,lots\n")
    _drop(shop, "a.png", picture(1))
    _drop(shop, "b.png", picture(2))
    filmhand("batch", shop)
    assert sum(_printed(shop).values()) == 2
    assert "lots" in _note(shop, "held/small/b.png")


def test_a_ticket_without_its_artwork_goes_back(shop: Path) -> None:
    """Nothing else of it is in the hot folder any more."""
    _drop(shop, "a.png.ticket.toml", "copies = 3\n")
    filmhand("batch", shop)
    assert "never came" in _note(shop, "rejects/small/a.png.ticket.toml")
    assert not list((shop / "in" / "small").glob("a.*"))


def test_artwork_without_the_ticket_it_needs_is_held_and_released_by_moving_the_file(shop: Path) -> None:
    """The file out of the held folder, laid in `release/`, is a yes; it is then printed by the rule."""
    (shop / "rules" / "small.toml").write_text(RULE.replace("[ticket]", "[ticket]\nneeded = true"), "utf-8")
    _drop(shop, "a.png", picture(1))
    filmhand("batch", shop)
    held = shop / "held" / "small" / "a.png"
    assert "No ticket came" in _note(shop, "held/small/a.png")
    (held / "a.png").rename(shop / "held" / "small" / "release" / "a.png")
    filmhand("batch", shop)
    assert sum(_printed(shop).values()) == 1
    assert [path.name for path in (shop / "held" / "small").iterdir()] == ["release", "refuse"] or not held.exists()
    assert not list((shop / "held" / "small" / "release").iterdir())


def test_an_archive_is_as_good_as_its_files(shop: Path) -> None:
    """Two pictures, one with a ticket, one in a list, a third that takes the copies of the archive; junk is left out."""
    _drop(
        shop,
        "A7_30mm_x2.zip",
        _zip(
            {
                "art/a.png": picture(1),
                "art/a.png.ticket.toml": 'copies = 3\nwidth = "25 mm"\n',
                "b.png": picture(2),
                "list.csv": "file,copies,width\nb.png,4,20 mm\n",
                "c.png": picture(3),
                "__MACOSX/art/._a.png": b"junk",
            }
        ),
    )
    filmhand("batch", shop)
    printed: Counter[str] = Counter()
    for name, count in _printed(shop).items():
        printed[name.split()[0]] += count
    assert printed == {"a.png": 3, "b.png": 4, "c.png": 2}
    assert any("A7_30mm_x2~" in path.name for path in (shop / "done").rglob("*.zip"))
    assert "Copies ordered 9: delivered 9" in filmhand("status", shop)


def test_an_archive_in_an_archive_goes_back(shop: Path) -> None:
    """With a note; the picture beside it is printed."""
    _drop(shop, "outer.zip", _zip({"inner.zip": _zip({"x.png": picture(1)}), "b.png": picture(2)}))
    filmhand("batch", shop)
    assert sum(_printed(shop).values()) == 1
    assert "archive inside an archive" in _note(shop, "rejects/small/inner.zip")


def test_each_page_of_a_document_is_printed(shop: Path) -> None:
    """Three pages, two copies of each."""
    _drop(shop, "A9_30mm_x2.pdf", _pdf(3))
    filmhand("batch", shop)
    files = Counter(name.rsplit(" ", 1)[0] for name in _printed(shop).elements())
    assert files == {f"A9_30mm_x2, page {page}.pdf": 2 for page in (1, 2, 3)}
    assert "Copies ordered 6: delivered 6" in filmhand("status", shop)


def test_the_same_content_again_is_printed_and_said(shop: Path) -> None:
    """Under another name: a page beside the original says so."""
    _drop(shop, "a.png", picture(1))
    filmhand("batch", shop)
    _drop(shop, "b.png", picture(1))
    filmhand("batch", shop)
    assert sum(_printed(shop).values()) == 2
    (page,) = (shop / "done").rglob("b~*.note.html")
    assert "a.png" in page.read_text("utf-8")
    assert not list((shop / "done").rglob("a~*.note.html"))


def test_a_line_is_followed_once_by_the_files_of_an_archive(shop: Path) -> None:
    """A list in the hot folder orders three of a.png; the archive holds two of that name: three, and one by the archive's own."""
    _drop(shop, "list.csv", "file,copies,width\na.png,3,20 mm\n")
    _drop(shop, "A8_30mm_x1.zip", _zip({"one/a.png": picture(1), "two/a.png": picture(2)}))
    filmhand("batch", shop)
    assert sum(_printed(shop).values()) == 4
    assert "Copies ordered 4: delivered 4" in filmhand("status", shop)

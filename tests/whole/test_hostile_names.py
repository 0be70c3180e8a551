"""Names that broke other programs, and things that are no files, in one hot folder: a batch as a person runs it."""

import html.parser
import json
import os
import socket
import unicodedata
from contextlib import suppress
from pathlib import Path

import pytest

from small_shop import filmhand, picture

WORKED = {
    "not UTF-8": b"caf\xe9.png",
    "composed": unicodedata.normalize("NFC", "é-twin.png").encode(),
    "decomposed": unicodedata.normalize("NFD", "é-twin.png").encode(),
    "upper case": b"Twin.PNG",
    "lower case": b"twin.png",
    "newline": b"two\nlines.png",
    "screen codes": b"\x1b[2J\x1b[31mred.png",
    "turned around": "\u202egnp.exe".encode() + b".png",
    "cell formula": b"=cmd|' !A0.png",
    "markup": b"<script>alert(1)<script>.png",
    "attribute": b"\"' onload=alert(1) x=.png",
    "template": b"{{ 7 * 7 }}${7*7}.png",
    "option": b"-rf.png",
    "shell": b"$(touch planted) `touch planted`; &.png",
    "device of Windows": b"CON.png",
    "percent": b"%s%n%2e%2e%2f.png",
    "longest": b"x" * 251 + b".png",
}


class _Page(html.parser.HTMLParser):
    """The elements of a page, and their attributes that run something."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.scripts: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.scripts += [tag] if tag == "script" else []
        self.scripts += [name for name, _ in attrs if name.startswith("on")]


@pytest.mark.slow
def test_names_of_any_bytes_are_worked(shop: Path) -> None:
    """All are printed and archived, each under a harmless name; nothing runs in a page, and each line of the log is one."""
    hot = shop / "in" / "small"
    for number, name in enumerate(WORKED.values()):
        (hot / os.fsdecode(name)).write_bytes(picture(number))
    said = filmhand("batch", shop)
    count = len(WORKED)
    assert f"ordered {count}: delivered {count}," in said
    assert not [path for path in hot.iterdir() if path.name[0] != "."]
    assert "\x1b[2J" not in said

    archived = [path for path in (shop / "done").rglob("*") if path.suffix.lower() == ".png"]
    assert len(archived) == count
    assert all(
        path.name.isprintable() and path.name[0] not in "-." and not set(path.name) & set('<>"|:*?\\') for path in archived
    )
    folded = {unicodedata.normalize("NFC", path.name).casefold() for path in archived}
    assert len(folded) == count, "twins must not meet on a disk that takes them for one"

    for line in (shop / ".filmhand" / "logs" / "filmhand.jsonl").read_text("utf-8").splitlines():
        json.loads(line)
        assert line.isprintable()
    pages = [*(shop / "done").rglob("*.html"), *(shop / "out").rglob("*.html")]
    assert pages
    assert [_Page(page.read_text("utf-8")).scripts for page in pages] == [[]] * len(pages)
    assert not list(shop.rglob("planted")) + list(Path.cwd().glob("planted"))


def test_a_note_of_a_hostile_name(shop: Path) -> None:
    """Held under a harmless name; the note says the customer's name and runs nothing."""
    (shop / "in" / "small" / "<img src=x onerror=alert(1)>.png").write_bytes(picture(1, ground=(255, 255, 255, 255)))
    assert "held 1" in filmhand("batch", shop)
    (held,) = (
        path for path in (shop / "held" / "small").iterdir() if path.name not in ("release", "refuse") and path.name[0] != "."
    )
    assert not set(held.name) & set("<>")
    page = (held / "note.html").read_text("utf-8")
    assert _Page(page).scripts == []
    assert "&lt;img src=x onerror=alert(1)&gt;.png" in page


def test_what_is_no_file_is_left_alone(shop: Path) -> None:
    """Links to a secret and out of the shop, a pipe, a local socket, a device, a folder: not opened, said once each."""
    hot = shop / "in" / "small"
    (shop / "secret.png").write_bytes(picture(9))
    (hot / "link.png").symlink_to(shop / "secret.png")
    (hot / "loop.png").symlink_to("loop.png")
    (hot / "passwd.png").symlink_to("/etc/passwd")
    (hot / "tree").symlink_to("/etc")
    os.mkfifo(hot / "pipe.png")
    (hot / "folder.png").mkdir()
    (hot / "folder.png" / "inside.png").write_bytes(picture(2))
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(os.path.relpath(hot / "socket.png"))
        with suppress(PermissionError):
            os.mknod(hot / "device.png", 0o020666, os.makedev(1, 5))  # the endless zeros of /dev/zero
        left = sorted(path.name for path in hot.iterdir() if path.name[0] != ".")
        (hot / "A1_40mm_x1.png").write_bytes(picture(1))
        said = filmhand("batch", shop)
        assert "ordered 1: delivered 1," in said
        assert sorted(path.name for path in hot.iterdir() if path.name[0] != ".") == left
    log = [json.loads(line) for line in (shop / ".filmhand" / "logs" / "filmhand.jsonl").read_text("utf-8").splitlines()]
    assert sorted(line["name"] for line in log if "left alone" in line["event"]) == left
    assert [path.name for path in (shop / "done").rglob("*.png")] == [
        path.name for path in (shop / "done").rglob("A1_40mm_x1~*.png")
    ]

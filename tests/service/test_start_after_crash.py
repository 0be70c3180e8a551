"""What a start makes of what lies in held/: only folders whose job was answered go; what cannot be read stops nothing."""

from pathlib import Path

import pytest
from shared_folders import Hands, hand_of, two_folders

from filmhand.delivery.file_away import BUILDING
from filmhand.shop import Shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A shop that was never run."""
    return two_folders(tmp_path_factory.mktemp("start") / "shop")


@pytest.mark.parametrize("content", [b"", b'{"job": "j1', b"[]", b"null", b'"j1"', b"\xff\xfe", b'{"job": "nobody\'s"}', b"{}"])
@pytest.mark.parametrize("place", ["small/a.png", f"small/{BUILDING}/j1"])
def test_a_note_that_cannot_be_read_is_left(content: bytes, place: str, shop: Shop) -> None:
    """Killed while it is written, or edited by a person: filmhand starts all the same, and it stays where it is."""
    note = shop.held / place / "note.json"
    note.parent.mkdir(parents=True, exist_ok=True)
    note.write_bytes(content)
    with hand_of(shop, Hands()):
        assert note.read_bytes() == content


def test_a_link_among_the_notes_is_not_followed_to_nowhere(shop: Shop) -> None:
    """A link to nothing under a note's name: likewise."""
    folder: Path = shop.held / "small" / "linked.png"
    folder.mkdir(parents=True)
    (folder / "note.json").symlink_to("nowhere")
    with hand_of(shop, Hands()):
        assert (folder / "note.json").is_symlink()

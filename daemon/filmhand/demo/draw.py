"""Draw the demonstration's artwork: what an invented rowing club orders for its spring regatta, and three files with faults."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from filmhand.demo import back, crest, crews, faulty, marshal, night, river, sleeve, umpire

_MARSHAL_TICKET = """\
# What is ordered, in words of its own: no need to put it in the file's name.
order = "R107"
copies = 5
width = "160 mm"
garment = "#ffffff"
placement = "full back"
customer = "Otterwick Rowing Club, regatta committee"
"""

_NIGHT_TICKET = """\
# The artwork is round: the width says it all.
order = "R108"
copies = 3
width = "200 mm"
placement = "front"
customer = "Otterwick Rowing Club, evening scullers"
"""


@dataclass(frozen=True)
class DemoFile:
    """One drawn file, the hot folder it belongs in, the name to drop it under, and its ticket's text if it has one."""

    path: Path
    hot_folder: str
    name: str
    ticket: str | None = None


def draw_artworks(folder: Path, seed: int = 1) -> tuple[DemoFile, ...]:
    """Draw every artwork into a folder, made if it is missing. The same seed gives the same pictures."""
    folder.mkdir(parents=True, exist_ok=True)

    def rng(number: int) -> np.random.Generator:
        return np.random.default_rng([seed, number])

    scene = river.scene(rng(1))
    crew_list = folder / "R104_240mm_x4.png"
    orders: list[tuple[str, str, str | None, Callable[[Path], None]]] = [
        ("soft-hand", "R101_280mm_x4.png", None, lambda path: river.draw(path, scene, rng(11))),
        ("dark-garment", "R102_90mm_x12.png", None, crest.draw),
        ("dark-garment", "R103_280mm_x4.png", None, lambda path: back.draw(path, rng(3))),
        ("light-garment", crew_list.name, None, lambda path: crews.draw(path, rng(4))),
        ("light-garment", "R105_80mm_x16.png", None, sleeve.draw),
        ("dark-garment", "R106_110mm_x8.pdf", None, umpire.draw),
        ("light-garment", "marshals back.tif", _MARSHAL_TICKET, marshal.draw),
        ("soft-hand", "night scull.tif", _NIGHT_TICKET, lambda path: night.draw(path, rng(8))),
        ("dark-garment", "R109_300mm_x2.jpg", None, lambda path: faulty.draw_photo(path, scene)),
        ("dark-garment", "R110_100mm_x6.png", None, faulty.draw_sponsor),
        ("light-garment", "R111_240mm_x3.png", None, lambda path: faulty.break_off(crew_list, path)),
    ]
    files = []
    for hot_folder, name, ticket, draw in orders:
        draw(folder / name)
        files.append(DemoFile(folder / name, hot_folder, name, ticket))
    return tuple(files)

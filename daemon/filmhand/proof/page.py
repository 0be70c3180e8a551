"""The proof's page: its pictures, with a switch between views of the whole sheet; it fetches nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined

from filmhand.delivery.tiff import ink_name
from filmhand.proof.facts import Placed, SheetFacts
from filmhand.proof.view import BACK, GARMENT, PRINT_SIDE
from filmhand.rules import HIGHLIGHT, is_white

_PAGE: Final = "proof.html"


class Shown(NamedTuple):
    """A view of the whole sheet: the name of its picture, what it is called, what it shows."""

    view: str
    title: str
    says: str


@dataclass(frozen=True)
class Design:
    """A design of the sheet: its first copy, how many there are, and pictures of its dots, with where they lie on the garment
    view and how wide they are."""

    first: Placed
    on_sheet: int
    dots: str
    magnified: str
    left_mm: float
    top_mm: float
    width_mm: float


def page_of(facts: SheetFacts, views: Sequence[str], designs: Sequence[Design]) -> str:
    """The page's text, HTML."""
    templates = Environment(
        loader=PackageLoader("filmhand.proof"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    garments = list(dict.fromkeys(item.garment for item in facts.placements))
    shown = [_shown(view, facts) for view in views]
    return templates.get_template(_PAGE).render(facts=facts, shown=shown, designs=designs, garments=garments)


def _shown(view: str, facts: SheetFacts) -> Shown:
    match view:
        case str() if view == GARMENT:
            return Shown(view, "On the garment", "As it looks once it is pressed, from arm's length and further.")
        case str() if view == PRINT_SIDE:
            says = "The film on a light table, printed side up: white lies on the colour."
            return Shown(view, "Film, printed side", f"{says} It is mirrored." if facts.mirrored else says)
        case str() if view == BACK:
            says = "The film turned over on the light table: colour is seen through the bare film, with its white behind it."
            return Shown(view, "Film, from its back", says)
        case str() if view == HIGHLIGHT:
            return Shown(view, ink_name(view), "The second white alone; the lighter, the more of it.")
        case str() if is_white(view):
            return Shown(view, ink_name(view), "The white alone; the lighter, the more of it.")
        case _:
            return Shown(view, ink_name(view), f"The {ink_name(view).lower()} ink alone; the darker, the more of it.")

"""Every sentence of the operator's sheet, in English, for its two templates."""

from collections.abc import Mapping
from typing import Final

SAYS: Final[Mapping[str, str]] = {
    "what": "Operator’s sheet",
    "film": "film",
    "area": "film area",
    "copies": "copies",
    "designs": "designs",
    "passes": "passes",
    "minutes": "printing",
    "powder": "powder",
    "picture": "The sheet",
    "picture_text": "The whole sheet as it will look on the garments, with a number on every copy",
    "seen_mirrored": "Seen as it will look on the garment. The film itself is printed mirrored: lay it printed side down and it"
    " looks like this; with the printed side up, left and right are exchanged.",
    "seen_plain": "Seen as it will look on the garment; on the film, printed side up, it looks the same.",
    "strips": "The sheet begins at the top left; each strip goes on where the one before it ends.",
    "overleaf": "The picture is on pages of its own, so that its numbers can be read.",
    "press": "Press settings",
    "press_from": "as the shop wrote them",
    "temperature": "Temperature",
    "time": "Time",
    "pressure": "Pressure",
    "peel": "Peel",
    "note": "Note",
    "not_stated": "not stated",
    "follow": "Where nothing is stated, follow the makers’ sheets.",
    "cautions": "Take care",
    "look_twice": "Look twice",
    "pick": "Pick list",
    "pick_says": "the numbers are those of the picture",
    "order": "Order",
    "file": "Artwork and garment",
    "size": "Size",
    "no_order": "Without an order",
    "rush": "rush",
    "due": "due",
    "counted": "counted",
    "of": "of",
    "elsewhere": "more on other sheets",
    "pieces": "pieces each",
    "tick": "Tick copy",
    "tick_each": "Tick each copy",
    "name": "Name",
    "date": "Date",
    "signature": "Signature",
    "page_of": "of",
    "estimates": "Printing time and powder are estimates.",
}

STEPS: Final = ("cut", "counted", "pressed")
"""What is signed for, in the order of the work."""

CAUTIONS: Final[tuple[tuple[str, str], ...]] = (
    ("Hot press", "Plates burn, and closing they crush. Keep hands and bystanders clear."),
    ("Powder", "A fine dust: extract it, no open flame, never sweep it dry or blow it about."),
    ("Curing fumes", "From the oven and under the press: exhaust to the outside, and fresh air."),
    ("Children’s wear", "Stricter limits apply. Press only what the makers declare fit for it."),
    ("Trial first", "One copy on this very cloth before the rest: cloth may scorch, shine, or let its dye through."),
)
"""Consistent with docs/cautions.md, which names what to consult."""

DEFER: Final = "This is no safety instruction. The makers’ data sheets and manuals and your local rules come first."

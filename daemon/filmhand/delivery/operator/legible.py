"""Text from tickets, fit to be shown: nothing in it turns the reading direction, breaks lines, or is no valid text."""

from typing import Final

MOST: Final = 400
"""Signs of a name; nothing that people write is longer."""


def legible(text: object, *, most: int = MOST) -> str:
    """Words parted by single spaces, cut where too long; what cannot be shown is an escape, half a surrogate pair a "?"."""
    valid = " ".join(str(text).split()).encode("utf-8", "replace").decode()
    whole = "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in valid)
    return whole if len(whole) <= most else whole[: most - 1] + "…"

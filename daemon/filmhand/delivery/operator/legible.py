"""Text from tickets, fit to be shown: nothing in it turns the reading direction, breaks lines, or is no valid text."""


def legible(text: object) -> str:
    """Words parted by single spaces; signs that cannot be shown are written as escapes, half a surrogate pair as "?"."""
    valid = " ".join(str(text).split()).encode("utf-8", "replace").decode()
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in valid)

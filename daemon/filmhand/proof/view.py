"""The views of a sheet: on its garments, the film from either side, each plane alone."""

from typing import Final

GARMENT: Final = "garment"
PRINT_SIDE: Final = "film-print-side"
BACK: Final = "film-back"


def views(planes: tuple[str, ...]) -> tuple[str, ...]:
    """All views of a sheet of these planes: their names are those of their pictures."""
    return (GARMENT, PRINT_SIDE, BACK, *planes)


def is_flipped(view: str, *, mirrored: bool) -> bool:
    """Whether a view shows the files left to right the other way round.

    Files are the film as its printed side is seen. Its back is the other way round; what is pressed from mirrored film, and each
    plane of it, is shown as it reads on the garment.
    """
    return view == BACK or (view != PRINT_SIDE and mirrored)

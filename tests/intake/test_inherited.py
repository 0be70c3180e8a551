"""What is said of an archive holds for every file in it, unless the file says otherwise."""

from filmhand.intake.inherited import inherited
from filmhand.intake.ticket import Ticket

UNSAID = Ticket(copies=1, garment="#1b1b1d")


def test_what_a_file_does_not_say_its_archive_says() -> None:
    """Copies, order, customer of the archive; the width that the file's own name states stands alone."""
    container = Ticket(copies=6, garment="#ffffff", order="A17", width="100 mm", height="80 mm", customer="club@example.org")
    own = Ticket(copies=1, garment="#1b1b1d", width="250 mm")
    result = inherited(own, container, unsaid=UNSAID)
    assert (result.copies, result.garment, result.order, result.customer) == (6, "#ffffff", "A17", "club@example.org")
    assert (result.width, result.height) == (250.0, None)


def test_what_a_file_says_goes_first() -> None:
    """Three copies stay three."""
    own, container = Ticket(copies=3, garment="#1b1b1d", order="B2"), Ticket(copies=6, garment="#1b1b1d", order="A17")
    result = inherited(own, container, unsaid=UNSAID)
    assert (result.copies, result.order) == (3, "B2")

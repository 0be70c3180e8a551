"""What a file out of an archive is ordered with: what is said of itself, else what was said of the archive. Pure."""

from typing import Final

from filmhand.intake.ticket import Ticket

_TOGETHER: Final = (("width", "height", "is_boxed"), ("garment", "garment_name"))
"""Keys that say one thing: whoever says one of them says all."""


def inherited(own: Ticket, container: Ticket, *, unsaid: Ticket) -> Ticket:
    """`own` with the container's values where it says no more than `unsaid`, the ticket of a file of which nothing is said."""
    together = {key for keys in _TOGETHER for key in keys}
    groups = (*_TOGETHER, *((key,) for key in Ticket.model_fields if key not in together))
    taken = [keys for keys in groups if all(getattr(own, key) == getattr(unsaid, key) for key in keys)]
    return own.model_copy(update={key: getattr(container, key) for keys in taken for key in keys})

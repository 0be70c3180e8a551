"""Before the first file of a run: what this machine cannot confine is said once, and what is compiled once is compiled."""

import structlog

from filmhand.shop import House
from filmhand.work import kernels
from filmhand.work.confine import offered

_log = structlog.get_logger()


def get_ready(house: House) -> None:
    """Say and do it; the shop is locked already, and nothing has been begun."""
    missing = offered().missing
    if missing:
        _log.warning("this system does not let us confine work on customers' files", left_open=list(missing))
    kernels.keep(house)

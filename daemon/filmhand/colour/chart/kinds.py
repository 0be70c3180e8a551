"""The kinds of charts, apart from what makes them, so that the command line can name them without loading it."""

from enum import StrEnum


class Kind(StrEnum):
    """The charts there are, in the order in which a printer is set up."""

    NOZZLES = "nozzles"
    REGISTRATION = "registration"
    INK_LIMIT = "ink-limit"
    LINEARISATION = "linearisation"
    LEAST = "least"
    CHOKE = "choke"
    SCREENS = "screens"
    WHITE = "white"
    GRID = "grid"
    SECTORS = "sectors"
    STRIP = "strip"

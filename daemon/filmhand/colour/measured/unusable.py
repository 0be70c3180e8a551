"""A measured chart that cannot be used, and what the person who measured it can do about it."""

from filmhand.errors import SettingsError


class UnusableChartError(SettingsError):
    """The chart's file, or what was measured, cannot be followed. `file` is for the caller to fill: readers see bytes only."""

"""When an open sheet is closed: pure."""

from datetime import datetime, timedelta

from filmhand.journal.records import SheetRecord
from filmhand.rules import CloseRules


def reason_to_close(sheet: SheetRecord, rules: CloseRules, *, oldest: datetime, length_mm: float, now: datetime) -> str | None:
    """Why an open sheet is closed now, in words for the log; None to leave it open.

    `oldest` is when the copy that waits longest was ready; `length_mm` an estimate of the film that the waiting copies need.
    """
    if sheet.close_asked:
        return "asked"
    if rules.length is not None and length_mm >= rules.length:
        return f"long enough ({length_mm:.0f} mm)"
    if rules.after is not None and (now - oldest).total_seconds() >= rules.after:
        return "its oldest copy has waited long enough"
    for clock in rules.at:
        if oldest < _last(clock.hour, clock.minute, now) <= now:
            return f"it is past {clock:%H:%M}"
    return None


def _last(hour: int, minute: int, now: datetime) -> datetime:
    """The last time that the clock showed this time of day."""
    today = now.replace(hour=hour, minute=minute, second=0, microsecond=0)
    return today if today <= now else today - timedelta(days=1)

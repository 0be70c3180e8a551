"""Times of day on the shop's clock."""

from datetime import datetime, time, timedelta
from typing import Final

DAY: Final = timedelta(days=1)


def next_time(clock: time, now: datetime) -> datetime:
    """The next time that the clock shows this time of day, not now; a day before that it showed it last."""
    today = now.replace(hour=clock.hour, minute=clock.minute, second=0, microsecond=0)
    return today if today > now else today + DAY

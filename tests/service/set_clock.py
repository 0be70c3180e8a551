"""A clock that is set by hand."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta


@dataclass
class SetClock:
    """Wall time, and the seconds that passed since it was made."""

    wall: datetime = field(default_factory=lambda: datetime(2031, 5, 4, 22, 0, tzinfo=UTC))
    passed_s: float = 1000.0

    def now(self) -> datetime:
        """The wall time."""
        return self.wall

    def monotonic(self) -> float:
        """Seconds."""
        return self.passed_s

    def pass_by(self, seconds: float) -> None:
        """Let time pass."""
        self.passed_s += seconds
        self.wall += timedelta(seconds=seconds)

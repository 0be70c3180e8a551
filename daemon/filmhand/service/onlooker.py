"""Who looks on while the loop works, and tells people."""

from typing import Protocol

from filmhand.service.decide import View
from filmhand.shop import House


class Onlooker(Protocol):
    """The daemon has one, its night desk; a batch has none."""

    def look(self, view: View, house: House) -> None:
        """After a step of the loop, with what it saw."""

    def settings_refused(self, why: str | None) -> None:
        """Why the settings, as they are saved now, cannot be followed; None: they are in force."""

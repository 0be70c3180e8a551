"""What inks cost beside one another, by volume or by money: for separations that spare ink."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from filmhand.rules import Printer, Spared

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Expense:
    """What a full dot of each ink takes. `volumes`: in picolitres. `prices`: for a litre, in the shop's currency."""

    volumes: tuple[float, ...]
    prices: tuple[float, ...]

    @classmethod
    def of(cls, printer: Printer, inks: Sequence[str] = ()) -> Self:
        """The expense of some of a printer's inks, else of its colour inks in print order; of three drop sizes, the largest."""
        some = inks or printer.colours
        return cls(tuple(printer.drop_pl.of(ink)[-1] for ink in some), tuple(printer.price.of(ink) for ink in some))

    @classmethod
    def even(cls, count: int) -> Self:
        """The same for each of `count` inks."""
        return cls((1.0,) * count, (1.0,) * count)

    def costs(self, spared: Spared) -> Floats:
        """Cost (k,) of each ink beside the others, 1 on average; money without prices is volume."""
        costs = np.array(self.volumes)
        if spared is Spared.MONEY and any(self.prices):
            costs = costs * self.prices
        return np.asarray(costs / costs.mean())

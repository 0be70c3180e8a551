"""Small linear programmes: the least of a linear cost under many inequalities that each name a few unknowns.

A primal-dual interior-point method with predictor and corrector (Mehrotra 1992). Every inequality is kept strictly, so that what
is found may be used as it is.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]

_STEPS: Final = 100
_SHARE_OF_WAY: Final = 0.99
_CLOSE: Final = 1e-8


@dataclass(frozen=True)
class Inequalities:
    """Rows `coefficients · unknowns[columns] <= limits`: columns k×w int64, coefficients k×w and limits k float64.

    A row that names fewer than w unknowns has zeros in its coefficients.
    """

    columns: NDArray[np.int64]
    coefficients: Reals
    limits: Reals


def least_cost(cost: Reals, rows: Inequalities) -> Reals | None:
    """The unknowns, n float64, that keep all rows and have the least `cost · unknowns`; None where none were found.

    `cost`: n float64. The rows bound every unknown on both sides, or let the cost do it. Unknowns and limits are of the order of
    1 to 1000.
    """
    unknowns, slack = np.zeros(len(cost)), np.maximum(rows.limits, 1.0)
    price = np.ones_like(slack)
    for _ in range(_STEPS):
        missing = rows.limits - _product(rows, unknowns) - slack
        untrue = -cost - _transposed(rows, price, len(cost))
        between = float(slack @ price) / len(slack)
        if max(np.abs(missing).max(), np.abs(untrue).max(), between) < _CLOSE:
            return unknowns
        if not np.isfinite(between):
            return None
        normal = _normal(rows, price / slack, len(cost))
        try:
            factor = _inverse(normal)
        except np.linalg.LinAlgError:
            return None
        aimed: Reals = -slack * price
        move, slack_move, price_move = _direction(rows, factor, (missing, untrue, aimed), (slack, price))
        ahead = (slack + _length(slack, slack_move) * slack_move) @ (price + _length(price, price_move) * price_move)
        centring = (float(ahead) / len(slack) / between) ** 3
        aimed = aimed + centring * between - slack_move * price_move
        move, slack_move, price_move = _direction(rows, factor, (missing, untrue, aimed), (slack, price))
        way = _SHARE_OF_WAY * _length(slack, slack_move), _SHARE_OF_WAY * _length(price, price_move)
        unknowns, slack, price = unknowns + way[0] * move, slack + way[0] * slack_move, price + way[1] * price_move
    return None


def _direction(
    rows: Inequalities, factor: Reals, wanted: tuple[Reals, Reals, Reals], at: tuple[Reals, Reals]
) -> tuple[Reals, Reals, Reals]:
    """Newton's step of the unknowns, the slack and the prices towards what is wanted of rows, prices and their products."""
    (missing, untrue, aimed), (slack, price) = wanted, at
    move = factor @ (untrue - _transposed(rows, (aimed - price * missing) / slack, len(factor)))
    slack_move = missing - _product(rows, move)
    return move, slack_move, (aimed - price * slack_move) / slack


def _length(values: Reals, moves: Reals) -> float:
    """How far along its move a vector stays positive, at most 1."""
    falls = moves < 0
    return min(1.0, float(np.min(-values[falls] / moves[falls], initial=np.inf)))


def _product(rows: Inequalities, unknowns: Reals) -> Reals:
    result: Reals = np.sum(rows.coefficients * unknowns[rows.columns], axis=1)
    return result


def _transposed(rows: Inequalities, price: Reals, count: int) -> Reals:
    return np.bincount(rows.columns.ravel(), (rows.coefficients * price[:, None]).ravel(), count).astype(np.float64)


def _normal(rows: Inequalities, weights: Reals, count: int) -> Reals:
    """The matrix of the normal equations, count × count."""
    places = rows.columns[:, :, None] * count + rows.columns[:, None, :]
    values = rows.coefficients[:, :, None] * rows.coefficients[:, None, :] * weights[:, None, None]
    return np.bincount(places.ravel(), values.ravel(), count * count).astype(np.float64).reshape(count, count)


def _inverse(matrix: Reals) -> Reals:
    result: Reals = np.linalg.inv(matrix).astype(np.float64)
    return result

"""Small linear programmes: the least of a linear cost under many inequalities that each name a few unknowns. Solved by HiGHS."""

from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]


@dataclass(frozen=True)
class Inequalities:
    """Rows `coefficients · unknowns[columns] <= limits`: columns k×w int64, coefficients k×w and limits k float64.

    A row that names fewer than w unknowns has zeros in its coefficients.
    """

    columns: NDArray[np.int64]
    coefficients: Reals
    limits: Reals


class _Solver(highspy.Highs):
    """One that says nothing: it would print its name when it is made, before it could be told."""

    def __init__(self) -> None:
        super(highspy.Highs, self).__init__()
        self.setOptionValue("output_flag", False)
        self.setOptionValue("threads", 1)


def least_cost(cost: Reals, rows: Inequalities) -> Reals | None:
    """The unknowns, n float64, that keep all rows (within 1e-7) and have the least `cost · unknowns`; None where there are none.

    `cost`: n float64. The rows bound every unknown on both sides, or let the cost do it.
    """
    named = rows.coefficients != 0
    programme = highspy.HighsLp()
    programme.num_col_, programme.num_row_ = len(cost), len(rows.limits)
    programme.col_cost_ = cost
    programme.col_lower_, programme.col_upper_ = np.full(len(cost), -np.inf), np.full(len(cost), np.inf)
    programme.row_lower_, programme.row_upper_ = np.full(len(rows.limits), -np.inf), rows.limits
    programme.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    programme.a_matrix_.start_ = np.concatenate([[0], np.cumsum(named.sum(axis=1))]).astype(np.int32)
    programme.a_matrix_.index_ = rows.columns[named].astype(np.int32)
    programme.a_matrix_.value_ = rows.coefficients[named]
    solver = _Solver()
    solver.passModel(programme)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.array(solver.getSolution().col_value)

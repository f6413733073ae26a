"""Whole numbers that make a weighted sum greatest, within bounds on other sums of them.

HiGHS solves it by branch and cut (Q. Huangfu and J. A. J. Hall, "Parallelizing the dual revised
simplex method", Mathematical Programming Computation 10 (2018)). What it answers is rounded and
checked against every row.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from assess.base.errors import SolverError
from assess.planning.selection_problem import RELATIVE_TOLERANCE

if TYPE_CHECKING:
    import highspy
    import numpy as np

    Columns = np.ndarray[tuple[int], np.dtype[np.float64]]

TOLERANCE = 1e-8
"""How far the solver may miss a bound: well below
:data:`~assess.planning.selection_problem.RELATIVE_TOLERANCE`, so that ties are recognised."""


class Row(NamedTuple):
    """Bounds on a weighted sum of columns."""

    low: float
    weights: Mapping[int, float]
    high: float


class IntegerSolver:
    """Columns of whole numbers under some rows, asked for one sum after another.

    Args:
        rows: bounds on sums of columns, to
            :data:`~assess.planning.selection_problem.RELATIVE_TOLERANCE`.
        least, most: bounds on each column.
    """

    def __init__(self, rows: Sequence[Row], least: Sequence[float], most: Sequence[float]) -> None:
        import numpy as np

        self._every = np.arange(len(least), dtype=np.int32)
        self._entry_row = np.array([n for n, r in enumerate(rows) for _ in r.weights], dtype=int)
        self._entry_column = np.array([at for r in rows for at in r.weights], dtype=np.int32)
        self._entry = np.array([w for r in rows for w in r.weights.values()], dtype=float)
        self._solver = self._passed(rows, least, most)

    def add(self, row: Row) -> None:
        """One more row, from now on."""
        import numpy as np

        columns = np.array(list(row.weights), dtype=np.int32)
        weights = np.array(list(row.weights.values()))
        number = self._solver.getNumRow()
        self._solver.addRow(row.low, row.high, len(columns), columns, weights)
        self._entry_row = np.append(self._entry_row, np.full(len(columns), number))
        self._entry_column = np.append(self._entry_column, columns)
        self._entry = np.append(self._entry, weights)

    def bound_row(self, number: int, low: float, high: float) -> None:
        """Other bounds on the sum of a row."""
        self._solver.changeRowBounds(number, low, high)

    def bound_columns(
        self, least: Sequence[float] | Columns, most: Sequence[float] | Columns
    ) -> None:
        """Other bounds on each column."""
        import numpy as np

        bounds = np.array(least), np.array(most)
        self._solver.changeColsBounds(len(self._every), self._every, *bounds)

    def greatest(self, weights: Mapping[int, float], reached: float) -> list[float] | None:
        """The whole columns that make a weighted sum greatest; None when none are allowed.

        Args:
            weights: by column; those left out do not count.
            reached: what the sum comes to with columns that are known to be allowed; minus
                infinite when none are known.

        Raises:
            SolverError: the solver gave up, refuses what is known to be allowed, or its answer
                does not hold.
        """
        import numpy as np

        costs = np.zeros(len(self._every))
        costs[list(weights)] = list(weights.values())
        self._solver.changeColsCost(len(self._every), self._every, costs)
        # Most often the relaxation, begun where the last one ended, has a whole solution already.
        values = self._solved(relaxed=True)
        if values is not None and np.abs(values - np.rint(values)).max(initial=0.0) > TOLERANCE:
            values = self._whole(values, costs, reached)
        if values is None:
            if reached > -math.inf:
                raise SolverError(
                    "the best choice was not found: the solver refuses one that is allowed"
                )
            return None
        whole = np.rint(values)
        if self._missed(whole) > RELATIVE_TOLERANCE:
            raise SolverError(
                "the best choice was not found: the solver's does not hold in whole steps"
            )
        return list(map(float, whole))

    def _passed(
        self, rows: Sequence[Row], least: Sequence[float], most: Sequence[float]
    ) -> highspy.Highs:
        """The solver, with the rows and columns passed to it."""
        import highspy
        import numpy as np

        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(least), len(rows)
        lp.sense_ = highspy.ObjSense.kMaximize
        lp.col_cost_ = np.zeros(len(least))
        lp.col_lower_ = np.array(least)
        lp.col_upper_ = np.array(most)
        lp.integrality_ = [highspy.HighsVarType.kInteger] * len(least)
        lp.row_lower_ = np.array([row.low for row in rows])
        lp.row_upper_ = np.array([row.high for row in rows])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(row.weights) for row in rows)])
        lp.a_matrix_.index_ = self._entry_column
        lp.a_matrix_.value_ = self._entry
        # The public class prints a banner when it is made, which no option turns off; the class
        # that it is built on does not, and the public one is the fallback.
        solver: highspy.Highs = getattr(highspy, "_Highs", highspy.Highs)()
        solver.setOptionValue("output_flag", False)
        solver.setOptionValue("mip_detect_symmetry", False)
        # Its presolve of whole columns loses solutions: on a large job it called impossible what
        # satisfied every row, depending on the seed of its random numbers (HiGHS 1.16). So it may
        # only suggest where to begin (:meth:`_tried`).
        solver.setOptionValue("presolve", "off")
        for option in ("mip_rel_gap", "mip_abs_gap"):
            solver.setOptionValue(option, 0.0)
        for option in ("mip_feasibility_tolerance", "primal_feasibility_tolerance"):
            solver.setOptionValue(option, TOLERANCE)
        solver.passModel(lp)
        return solver

    def _whole(self, values: Columns, costs: Columns, reached: float) -> Columns | None:
        """The best whole solution, from that of the relaxation."""
        import numpy as np

        relaxed = self._solver.getObjectiveValue()
        rates = np.abs(np.array(self._solver.getSolution().col_dual))
        tried = self._tried()
        if tried is not None:
            reached = max(reached, float(costs @ tried))
        # A column whose reduced cost is more than what the relaxation is above a known selection
        # keeps its value in every solution that is better.
        lp = self._solver.getLp()
        least, most = np.array(lp.col_lower_), np.array(lp.col_upper_)
        settled = rates > relaxed - reached + RELATIVE_TOLERANCE
        kept = np.rint(values)
        self.bound_columns(np.where(settled, kept, least), np.where(settled, kept, most))
        self._begin_from(tried)
        best = self._solved(relaxed=False)
        self.bound_columns(least, most)
        return best

    def _tried(self) -> Columns | None:
        """A whole solution that holds, found with presolve, so not for sure the best."""
        import highspy
        import numpy as np

        self._solver.setOptionValue("presolve", "on")
        self._solver.setOptionValue("solve_relaxation", False)
        status = self._run()
        self._solver.setOptionValue("presolve", "off")
        if status != highspy.HighsModelStatus.kOptimal:
            return None
        found = np.rint(np.array(self._solver.getSolution().col_value))
        return found if self._missed(found) <= RELATIVE_TOLERANCE else None

    def _begin_from(self, known: Columns | None) -> None:
        import highspy

        if known is not None:
            solution = highspy.HighsSolution()
            solution.col_value = list(known)
            self._solver.setSolution(solution)

    def _missed(self, whole: Columns) -> float:
        """By how much whole values miss the bounds of a row at most."""
        import numpy as np

        lp = self._solver.getLp()
        parts = self._entry * whole[self._entry_column]
        sums = np.bincount(self._entry_row, weights=parts, minlength=lp.num_row_)
        below, above = np.array(lp.row_lower_) - sums, sums - np.array(lp.row_upper_)
        return float(max(below.max(), above.max()))

    def _solved(self, relaxed: bool) -> Columns | None:
        import highspy
        import numpy as np

        self._solver.setOptionValue("solve_relaxation", relaxed)
        status = self._run()
        if status == highspy.HighsModelStatus.kModelEmpty:
            return np.zeros(0) if self._allows_nothing() else None
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        if status != highspy.HighsModelStatus.kOptimal:
            why = self._solver.modelStatusToString(status)
            raise SolverError(f"the best choice was not found: the solver gave up: {why}")
        return np.array(self._solver.getSolution().col_value)

    def _run(self) -> highspy.HighsModelStatus:
        """Solve; where the solver gives up from where it last stood, once more from scratch."""
        import highspy

        self._solver.run()
        status = self._solver.getModelStatus()
        if status == highspy.HighsModelStatus.kSolveError:
            self._solver.clearSolver()
            self._solver.run()
            status = self._solver.getModelStatus()
        return status

    def _allows_nothing(self) -> bool:
        # Without columns the solver looks at no row.
        lp = self._solver.getLp()
        return all(x <= 0 <= y for x, y in zip(lp.row_lower_, lp.row_upper_, strict=True))

"""What somebody can work out of a hidden count from everything that is shown."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from lengthwise.report.disclosure.cells import Equation
from lengthwise.report.disclosure.profiles import Profile

INFEASIBLE = 2


@dataclass(frozen=True, slots=True)
class Bounds:
    """The ends between which a count must lie, for somebody who sees what is shown."""

    lower: float = 0.0
    upper: float = float("inf")


def bounds_of(count: int, profile: Profile) -> Bounds:
    """Return what a shown, rounded count says of the true one."""
    shown = profile.rounded(count)
    least = shown - profile.half_base
    if profile.hides_nought or count:
        least = max(least, profile.minimum_count)
    return Bounds(least, shown + (profile.base - 1) // 2)


def components(equations: Iterable[Equation]) -> list[list[Equation]]:
    """Return the equations in groups that share no cell with one another."""
    groups: list[tuple[set[str], list[Equation]]] = []
    for equation in equations:
        names, joined = set(equation), [equation]
        apart = []
        for cells, members in groups:
            if cells & names:
                names |= cells
                joined = [*members, *joined]
            else:
                apart.append((cells, members))
        groups = [*apart, (names, joined)]
    return [members for _, members in groups]


def feasible(
    equations: list[Equation], known: Mapping[str, Bounds], wanted: Iterable[str]
) -> dict[str, Bounds]:
    """Return, for each wanted cell, the least and largest value that fits all equations.

    Linear programmes over real numbers: whole numbers can only narrow the ends to the next
    whole number inside, since every equation is a sum of whole counts.
    """
    names = sorted({name for equation in equations for name in equation})
    place = {name: position for position, name in enumerate(names)}
    matrix = np.zeros((len(equations), len(names)))
    for line, equation in enumerate(equations):
        for name, weight in equation.items():
            matrix[line, place[name]] = weight
    ends = [
        (known.get(name, Bounds()).lower, known.get(name, Bounds()).upper) for name in names
    ]
    return {
        name: Bounds(_end(matrix, ends, place[name], 1), _end(matrix, ends, place[name], -1))
        for name in wanted
        if name in place
    }


def _end(matrix: np.ndarray, ends: list[tuple[float, float]], cell: int, sign: int) -> float:
    from scipy.optimize import linprog

    objective = np.zeros(matrix.shape[1])
    objective[cell] = sign
    solved = linprog(
        objective, A_eq=matrix, b_eq=np.zeros(len(matrix)), bounds=ends, method="highs"
    )
    if solved.status == INFEASIBLE:
        # Rows were corrected between two releases, so that their sums no longer fit. How
        # much somebody makes of that cannot be told; it counts as exposed.
        return 0.0
    # Unbounded: nothing limits the cell on this side.
    return float(sign * solved.fun) if solved.status == 0 else sign * -np.inf

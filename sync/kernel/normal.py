"""Several normal quantities at once: their covariance propagated, narrowed by an observation, and split into a root.

Plain arithmetic on small matrices; nothing here knows what the quantities mean.
"""

from __future__ import annotations

from math import sqrt

Vector = list[float]
Matrix = list[list[float]]
# A combination of quantities: index and factor of each that takes part.
Load = list[tuple[int, float]]


def symmetric(triangle: Matrix) -> Matrix:
    """A symmetric matrix from the rows of its lower triangle [any]."""
    matrix: Matrix = []
    for i in range(len(triangle)):
        row = list(triangle[i])
        for j in range(i):
            matrix[j].append(row[j])
        matrix.append(row)
    return matrix


def added(one: Matrix, other: Matrix) -> Matrix:
    """The sum of two matrices of the same size [any]."""
    return [[one[i][j] + other[i][j] for j in range(len(one[i]))] for i in range(len(one))]


def along(load: Load, vector: Vector) -> float:
    """A combination of quantities [any]."""
    total = 0.0
    for place, share in load:
        total = total + share * vector[place]
    return total


def covariance_of(one: Load, covariance: Matrix, other: Load) -> float:
    """The covariance of two combinations of quantities.

    Args:
        one: a combination [places and factors]
        covariance: of the quantities [m by m]
        other: another, or the same [places and factors]

    Returns:
        their covariance [unit of the one times that of the other]

    Source: JCGM 102:2011, 6.2.1.3.
    """
    total = 0.0
    for place, share in one:
        row, part = covariance[place], 0.0
        for at, other_share in other:
            part = part + other_share * row[at]
        total = total + share * part
    return total


def carried(loads: list[Load], covariance: Matrix) -> Matrix:
    """The covariance of several combinations of quantities.

    Args:
        loads: the combinations [n]
        covariance: of the quantities [m by m]

    Returns:
        of the combinations [n by n]

    Source: JCGM 102:2011, 6.2.1.3.
    """
    matrix: Matrix = []
    for i in range(len(loads)):
        row: Vector = []
        for j in range(i):
            row.append(covariance_of(loads[i], covariance, loads[j]))
            matrix[j].append(row[j])
        row.append(covariance_of(loads[i], covariance, loads[i]))
        matrix.append(row)
    return matrix


def root_of(covariance: Matrix) -> Matrix:
    """The lower triangular root of a covariance; each row ends at its diagonal.

    Args:
        covariance: symmetric and positive definite [n by n]

    Returns:
        L such that L times its transpose is the covariance [n rows]

    Source: Cholesky's factorisation, Golub and Van Loan, Matrix Computations, algorithm 4.2.1, from memory.
    """
    root: Matrix = []
    for i in range(len(covariance)):
        row: Vector = []
        square = covariance[i][i]
        for j in range(i):
            total = covariance[i][j]
            above = root[j]
            for k in range(j):
                total = total - row[k] * above[k]
            part = total / above[j]
            row.append(part)
            square = square - part * part
        row.append(sqrt(square))
        root.append(row)
    return root


def whitened(root: Matrix, vector: Vector) -> Vector:
    """A deviation in units in which its parts are independent: the root's inverse times the vector [1].

    Args:
        root: of the covariance [n rows]
        vector: the deviation; a longer one is cut [n]

    Returns:
        independent parts of variance one [n]

    Source: forward substitution, Golub and Van Loan, Matrix Computations, algorithm 3.1.1, from memory.
    """
    parts: Vector = []
    for i in range(len(root)):
        total = vector[i]
        row = root[i]
        for j in range(i):
            total = total - row[j] * parts[j]
        parts.append(total / row[i])
    return parts


def unwhitened(root: Matrix, parts: Vector) -> Vector:
    """The transposed root's inverse times whitened parts; after `whitened`, the covariance's inverse times a vector.

    Args:
        root: of the covariance [n rows]
        parts: as `whitened` gives them [n]

    Returns:
        the solution [n]

    Source: back substitution, Golub and Van Loan, Matrix Computations, algorithm 3.1.2, from memory.
    """
    solution = list(parts)
    for step in range(len(root)):
        i = len(root) - 1 - step
        total = solution[i]
        for j in range(i + 1, len(root)):
            total = total - root[j][i] * solution[j]
        solution[i] = total / root[i][i]
    return solution


def observe(mean: Vector, covariance: Matrix, load: Load, value: float, variance: float) -> None:
    """Take in one observation of a combination: the mean moves and the covariance narrows, both in place.

    Args:
        mean: of the quantities [m]
        covariance: theirs, symmetric [m by m]
        load: what was observed [places and factors]
        value: the observed value [unit of the combination]
        variance: of the observation, above 0 [its square]

    Source: the rule for normal quantities that depend linearly, Kalman 1960, from memory.
    """
    across = [along(load, row) for row in covariance]
    total = along(load, across) + variance
    surprise = value - along(load, mean)
    for i in range(len(mean)):
        mean[i] = mean[i] + across[i] * surprise / total
        row = covariance[i]
        for j in range(i + 1):
            row[j] = row[j] - across[i] * across[j] / total
            covariance[j][i] = row[j]

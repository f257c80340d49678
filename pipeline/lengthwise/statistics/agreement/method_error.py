"""Each method's own error variance, with no method taken as the truth (A4): estimators.

Model: length_ij = true_i + bias_j + error_ij, with errors independent between methods.
"""

from dataclasses import dataclass

import numpy as np

from lengthwise.statistics.clusters import FloatArray


def contrast_matrices(n_methods: int) -> FloatArray:
    """Return A (N, N, N) with variance_j = trace(A_j S), S the covariance of the methods.

    Every A_j has rows that sum to 0, so the true length drops out. Source: Grubbs FE. J Am
    Stat Assoc 1948;43:243-264, doi:10.1080/01621459.1948.10483261.
    """
    if n_methods < 3:
        raise ValueError("at least three methods are needed.")
    others = 1.0 / ((n_methods - 1) * (n_methods - 2))
    matrices = np.full((n_methods, n_methods, n_methods), others)
    for j in range(n_methods):
        np.fill_diagonal(matrices[j], 0.0)
        matrices[j, j, :] = matrices[j, :, j] = -1.0 / (n_methods - 1)
        matrices[j, j, j] = 1.0
    return matrices


def covariance_from_sums(sums: FloatArray, n_methods: int) -> tuple[FloatArray, FloatArray]:
    """Return means (..., N) and covariances (..., N, N) from (1, x, x x') sums (..., q)."""
    count = sums[..., :1]
    means = sums[..., 1 : 1 + n_methods] / count
    products = sums[..., 1 + n_methods :].reshape(*sums.shape[:-1], n_methods, n_methods)
    centred = products - count[..., None] * means[..., :, None] * means[..., None, :]
    # A resample holds at least two canals unless there is a single patient.
    return means, centred / np.maximum(count[..., None] - 1, 1.0)


def moment_variances(covariance: FloatArray) -> FloatArray:
    """Return the Grubbs moment estimates (..., N), which may be negative."""
    matrices = contrast_matrices(covariance.shape[-1])
    return np.einsum("jkl,...kl->...j", matrices, covariance)


def normal_standard_errors(variances: FloatArray, n: int) -> FloatArray:
    """Return the exact SEs under normal errors, with negative estimates taken as 0."""
    matrices = contrast_matrices(len(variances))
    errors = np.maximum(variances, 0.0)
    scaled = matrices * errors[None, None, :]
    traces = np.einsum("jkl,jlk->j", scaled, scaled)
    return np.sqrt(2 * traces / (n - 1))


@dataclass(frozen=True, slots=True)
class ConstrainedVariances:
    """Restricted likelihood estimates under variance >= 0; at most one can be 0."""

    variances: FloatArray
    on_boundary: bool


def constrained_variances(covariance: FloatArray, start: FloatArray) -> ConstrainedVariances:
    """Return the error variances that maximise the likelihood of the contrasts.

    With method k at 0 the others are var(x_i - x_k), in closed form. Source: Jaech JL.
    Statistical Analysis of Measurement Errors. Wiley 1985.
    """
    boundary = [_at_boundary(covariance, k) for k in range(len(covariance))]
    inner = _scoring(covariance, start)
    values = [_log_likelihood(covariance, one) for one in boundary]
    best = int(np.argmax(values))
    if inner is not None and _log_likelihood(covariance, inner) >= values[best]:
        return ConstrainedVariances(inner, False)
    return ConstrainedVariances(boundary[best], True)


def _at_boundary(covariance: FloatArray, k: int) -> FloatArray:
    diagonal = np.diag(covariance)
    return np.asarray(diagonal + covariance[k, k] - 2 * covariance[k], dtype=float)


def _log_likelihood(covariance: FloatArray, variances: FloatArray) -> float:
    """Return the log-likelihood of the contrasts per degree of freedom, without constants."""
    zero = variances <= 0
    if zero.sum() == 1:
        k = int(np.argmax(zero))
        others = np.delete(variances, k)
        spread = np.delete(_at_boundary(covariance, k), k)
        if np.any(others <= 0):
            return -np.inf
        return float(-(np.log(others).sum() + (spread / others).sum()) / 2)
    if zero.any():
        return -np.inf
    w = 1 / variances
    fit = float(np.trace(_projection(variances) @ covariance))
    return float(-(np.log(variances).sum() + np.log(w.sum()) + fit) / 2)


def _projection(variances: FloatArray) -> FloatArray:
    w = 1 / variances
    return np.asarray(np.diag(w) - np.outer(w, w) / w.sum(), dtype=float)


def _scoring(covariance: FloatArray, start: FloatArray) -> FloatArray | None:
    """Return the inner maximum by Fisher scoring with halved steps, or None."""
    floor = 1e-9 * float(np.max(np.diag(covariance)))
    if floor <= 0:
        return None
    current = np.maximum(start, 1e-3 * float(np.max(_pair_variances(covariance))))
    value = _log_likelihood(covariance, current)
    for _ in range(500):
        p = _projection(current)
        gradient = np.diag(p @ covariance @ p) - np.diag(p)
        step = np.linalg.lstsq(p**2, gradient, rcond=None)[0]
        size = 1.0
        while size > 1e-12:
            trial = current + size * step
            if np.all(trial > floor) and _log_likelihood(covariance, trial) >= value:
                break
            size /= 2
        else:
            return current
        moved = float(np.max(np.abs(trial - current) / current))
        current, value = trial, _log_likelihood(covariance, trial)
        if moved < 1e-12:
            return current
    return current


def _pair_variances(covariance: FloatArray) -> FloatArray:
    diagonal = np.diag(covariance)
    return np.asarray(diagonal[:, None] + diagonal[None, :] - 2 * covariance, dtype=float)

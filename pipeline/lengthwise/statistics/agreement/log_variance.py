"""Mean and spread modelled together: y ~ N(X beta, exp(Z gamma)) (A7).

exp(gamma / 2) is a ratio of SDs.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.clusters import FloatArray, cluster_codes, cluster_sums
from lengthwise.statistics.results import NAN, Estimate, refused

# Log-variances further apart than this mean that a level has no spread of its own.
_WIDEST = 25.0


@dataclass(frozen=True, slots=True)
class LogVarianceFit:
    """Mean coefficients (unit of y) and log-variance coefficients, with standard errors.

    Model errors take rows as independent; CR0 and CR1 are sandwiches by patient and are NaN
    where no patient was given. `minus_two_log_likelihood` holds all constants (ML).
    """

    mean_coefficients: FloatArray
    variance_coefficients: FloatArray
    mean_se: FloatArray
    variance_se: FloatArray
    mean_se_cr0: FloatArray
    variance_se_cr0: FloatArray
    mean_se_cr1: FloatArray
    variance_se_cr1: FloatArray
    minus_two_log_likelihood: float
    n_clusters: int
    n_used: int
    method: str
    valid: bool
    reason: str

    def sd_ratio(self, position: int, *, level: float = 0.95) -> Estimate:
        """Return exp(gamma/2) for one coefficient: the ratio of SDs per unit of it.

        With patients: CR1 and t on G-1; without: model error and z.
        """
        clustered = self.n_clusters > 0
        name = "ratio of SDs; log-variance model, " + ("CR1, t" if clustered else "z interval")
        if not self.valid:
            return refused(self.reason, method=name, n_used=self.n_used, level=level)
        error = (self.variance_se_cr1 if clustered else self.variance_se)[position]
        tail = (1 + level) / 2
        quantile = stats.t.ppf(tail, self.n_clusters - 1) if clustered else stats.norm.ppf(tail)
        gamma, half = self.variance_coefficients[position], quantile * error
        value, low, high = np.exp((gamma + np.array([0.0, -half, half])) / 2)
        return Estimate(float(value), float(low), float(high), level, self.n_used, 0, name)


def log_variance_model(
    response: ArrayLike,
    mean_design: ArrayLike,
    variance_design: ArrayLike,
    *,
    patient: ArrayLike | None = None,
    restricted: bool = False,
) -> LogVarianceFit:
    """Return the fit of `response` (n,) with designs (n, p) and (n, q), each with intercept.

    `restricted` gives REML for the spread; sandwiches belong to ML only. Rows must be
    complete. Sources: Smyth GK, Huele AF, Verbyla AP. Stat Model 2001;1:161-175,
    doi:10.1177/1471082X0100100301; sandwich: White H. Econometrica 1982;50:1-25,
    doi:10.2307/1912526.
    """
    y = np.asarray(response, dtype=float)
    x, z = np.asarray(mean_design, dtype=float), np.asarray(variance_design, dtype=float)
    if x.ndim != 2 or z.ndim != 2 or not len(x) == len(z) == len(y):
        raise ValueError("the designs must be (n, p) and (n, q) for a response (n,).")
    if restricted and patient is not None:
        raise ValueError("patient-robust errors are offered with maximum likelihood only.")
    reason = _impossible(y, x, z)
    if reason:
        return _refused(reason, x.shape[1], z.shape[1], len(y))
    found = _fit(y, x, z, restricted=restricted)
    if found is None:
        reason = "the spread model did not converge: a level may have no spread of its own"
        return _refused(reason, x.shape[1], z.shape[1], len(y))
    return _finish(y, x, z, *found, patient=patient, restricted=restricted)


def _impossible(y: FloatArray, x: FloatArray, z: FloatArray) -> str:
    if len(y) <= x.shape[1] + z.shape[1]:
        return "fewer rows than numbers to estimate"
    if np.linalg.matrix_rank(x) < x.shape[1] or np.linalg.matrix_rank(z) < z.shape[1]:
        return "the explaining columns cannot be told apart in these rows"
    residuals = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
    if np.max(np.abs(residuals)) <= 1e-12 * (1 + np.max(np.abs(y))):
        return "no variation is left to explain"
    return ""


def _weighted(y: FloatArray, x: FloatArray, w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return coefficients and (X'WX)^-1."""
    inverse: FloatArray = np.asarray(np.linalg.inv(x.T @ (x * w[:, None])), dtype=float)
    return np.asarray(inverse @ (x.T @ (w * y)), dtype=float), inverse


def _objective(
    y: FloatArray, x: FloatArray, z: FloatArray, gamma: FloatArray, reml: bool
) -> float:
    log_variance = z @ gamma
    if np.ptp(log_variance) > _WIDEST + 3 or np.max(np.abs(log_variance)) > 300:
        return np.inf
    beta, inverse = _weighted(y, x, np.exp(-log_variance))
    residuals = y - x @ beta
    value = float(log_variance.sum() + np.sum(residuals**2 * np.exp(-log_variance)))
    return value - float(np.linalg.slogdet(inverse)[1]) if reml else value


def _information(
    x: FloatArray, z: FloatArray, w: FloatArray, inverse: FloatArray, reml: bool
) -> tuple[FloatArray, FloatArray]:
    """Return the expected information of gamma and the leverages (0 for ML).

    Z'(P o P)Z with P = I - H is built from p by p products, without an n by n matrix.
    """
    if not reml:
        return z.T @ z / 2, np.zeros(len(z))
    root = np.linalg.cholesky(inverse)
    b = (x * np.sqrt(w)[:, None]) @ root
    leverage = np.sum(b**2, axis=1)
    crossed = z.T @ (b[:, :, None] * b[:, None, :]).reshape(len(b), -1)
    return (z.T @ (z * (1 - 2 * leverage)[:, None]) + crossed @ crossed.T) / 2, leverage


def _fit(
    y: FloatArray, x: FloatArray, z: FloatArray, *, restricted: bool
) -> tuple[FloatArray, FloatArray] | None:
    """Return beta and gamma by scoring with halved steps, or None."""
    residuals = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
    floor = 1e-6 * float(np.mean(residuals**2))
    start = np.linalg.lstsq(z, np.log(residuals**2 + floor) + 1.27, rcond=None)[0]
    gamma: FloatArray = np.asarray(start, dtype=float)
    value = _objective(y, x, z, gamma, restricted)
    for _ in range(200):
        w = np.exp(-(z @ gamma))
        beta, inverse = _weighted(y, x, w)
        information, leverage = _information(x, z, w, inverse, restricted)
        gradient = z.T @ ((y - x @ beta) ** 2 * w - (1 - leverage)) / 2
        step = np.linalg.lstsq(information, gradient, rcond=None)[0]
        size = 1.0
        trial_value = _objective(y, x, z, gamma + step, restricted)
        # Near the maximum the objective cannot tell the steps apart: take the step.
        while not trial_value <= value + 1e-9 * (1 + abs(value)) and size > 1e-8:
            size /= 2
            trial_value = _objective(y, x, z, gamma + size * step, restricted)
        gamma, value = gamma + size * step, trial_value
        if not np.isfinite(value) or np.ptp(z @ gamma) > _WIDEST:
            return None
        if np.max(np.abs(step)) < 1e-10:
            return _weighted(y, x, np.exp(-(z @ gamma)))[0], gamma
    return None


def _finish(
    y: FloatArray,
    x: FloatArray,
    z: FloatArray,
    beta: FloatArray,
    gamma: FloatArray,
    *,
    patient: ArrayLike | None,
    restricted: bool,
) -> LogVarianceFit:
    w = np.exp(-(z @ gamma))
    inverse: FloatArray = np.asarray(np.linalg.inv(x.T @ (x * w[:, None])), dtype=float)
    information, _ = _information(x, z, w, inverse, restricted)
    residuals, p = y - x @ beta, x.shape[1]
    cr0, count = np.full(p + z.shape[1], NAN), 0
    if patient is not None:
        codes, count = cluster_codes(patient)
        if count < 2:
            return _refused("all rows come from one patient", p, z.shape[1], len(y))
        cr0 = _sandwich(residuals, x, z, w, codes, count)
    cr1 = cr0 * np.sqrt(count / (count - 1)) if count else cr0
    constant = len(y) * np.log(2 * np.pi)
    value = float(constant - np.log(w).sum() + np.sum(residuals**2 * w))
    return LogVarianceFit(
        beta,
        gamma,
        np.sqrt(np.diag(inverse)),
        np.sqrt(np.diag(np.linalg.inv(information))),
        cr0[:p],
        cr0[p:],
        cr1[:p],
        cr1[p:],
        value,
        count,
        len(y),
        "REML" if restricted else "maximum likelihood",
        True,
        "",
    )


def _sandwich(
    residuals: FloatArray,
    x: FloatArray,
    z: FloatArray,
    w: FloatArray,
    codes: np.ndarray,
    count: int,
) -> FloatArray:
    """Return CR0 errors of (beta, gamma) from the observed joint Hessian."""
    scaled = residuals**2 * w
    scores = np.column_stack([x * (residuals * w)[:, None], z * ((scaled - 1) / 2)[:, None]])
    corner = (x * (residuals * w)[:, None]).T @ z
    hessian = np.block(
        [[x.T @ (x * w[:, None]), corner], [corner.T, z.T @ (z * (scaled / 2)[:, None])]]
    )
    bread = np.linalg.inv(hessian)
    grouped = cluster_sums(scores, codes, count)
    return np.sqrt(np.diag(bread @ (grouped.T @ grouped) @ bread))


def _refused(reason: str, p: int, q: int, n: int) -> LogVarianceFit:
    a, b = np.full(p, NAN), np.full(q, NAN)
    return LogVarianceFit(a, b, a, b, a, b, a, b, NAN, 0, n, "", False, reason)

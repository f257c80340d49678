"""Mean and spread modelled together: y ~ N(X beta, exp(Z gamma)) (A7).

exp(gamma / 2) is a ratio of SDs.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.spread_jackknife import spread_errors
from lengthwise.statistics.clusters import FloatArray, IntArray, cluster_codes, is_full_rank
from lengthwise.statistics.patterns import (
    ClusteredRows,
    Design,
    Grouped,
    design_of,
    grouped,
)
from lengthwise.statistics.results import NAN, Estimate, refused

# Log-variances further apart than this mean that a level has no spread of its own.
_WIDEST = 25.0


@dataclass(frozen=True, slots=True)
class LogVarianceFit:
    """Mean coefficients (unit of y) and log-variance coefficients, with standard errors.

    Model errors take rows as independent; CR0 and CR1 are sandwiches by patient, the jackknife
    leaves patients out and has `variance_freedom`; all are NaN where no patient was given.
    `minus_two_log_likelihood` holds all constants (ML).
    """

    mean_coefficients: FloatArray
    variance_coefficients: FloatArray
    mean_se: FloatArray
    variance_se: FloatArray
    mean_se_cr0: FloatArray
    variance_se_cr0: FloatArray
    mean_se_cr1: FloatArray
    variance_se_cr1: FloatArray
    variance_se_jackknife: FloatArray
    variance_freedom: FloatArray
    minus_two_log_likelihood: float
    n_clusters: int
    n_used: int
    method: str
    valid: bool
    reason: str

    def sd_ratio(
        self, position: int, *, level: float = 0.95, errors: str = "jackknife"
    ) -> Estimate:
        """Return exp(gamma/2) for one coefficient: the ratio of SDs per unit of it.

        With patients they are left out in turn (t), or `errors` "cr1" takes the sandwich (t
        on G-1), which is narrower than it should be; without: model error and z.
        """
        kind = {"jackknife": "patient jackknife, t", "cr1": "CR1, t"}[errors]
        if not self.n_clusters:
            errors, kind = "model", "z interval"
        name = f"ratio of SDs; log-variance model, {kind}"
        if not self.valid:
            return refused(self.reason, method=name, n_used=self.n_used, level=level)
        error, freedom = {
            "jackknife": (self.variance_se_jackknife, self.variance_freedom[position]),
            "cr1": (self.variance_se_cr1, self.n_clusters - 1),
            "model": (self.variance_se, np.inf),
        }[errors]
        half = stats.t.ppf((1 + level) / 2, freedom) * error[position]
        gamma = self.variance_coefficients[position]
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
    joint = design_of(x if z is x else np.concatenate([x, z], axis=1))
    first = joint.rows if z is x else joint.rows[:, : x.shape[1]]
    second = joint.rows if z is x else joint.rows[:, x.shape[1] :]
    data = _Data(
        y, joint.codes, grouped(y, joint.codes, len(joint.rows)), first, second, restricted
    )
    return _modelled(data, patient)


def log_variance_by_pattern(
    response: FloatArray, design: Design, *, patient: ArrayLike
) -> LogVarianceFit:
    """Return the maximum likelihood fit with one design, given by pattern, for both parts."""
    together = grouped(response, design.codes, len(design.rows))
    data = _Data(response, design.codes, together, design.rows, design.rows, False)
    return _modelled(data, patient)


@dataclass(frozen=True, slots=True)
class _Data:
    """The response by row and by pattern, each row's pattern, and both designs by pattern."""

    response: FloatArray
    codes: IntArray
    y: Grouped
    x: FloatArray
    z: FloatArray
    restricted: bool


def _modelled(data: _Data, patient: ArrayLike | None) -> LogVarianceFit:
    reason = _impossible(data)
    found = None if reason else _fit(data, _start(data))
    if found is None:
        reason = reason or (
            "the spread model did not converge: a level may have no spread of its own"
        )
        return _refused(reason, data.x.shape[1], data.z.shape[1], len(data.response))
    return _finish(data, *found, patient=patient)


def _impossible(data: _Data) -> str:
    y, x, z = data.response, data.x, data.z
    if len(y) <= x.shape[1] + z.shape[1]:
        return "fewer rows than numbers to estimate"
    if not is_full_rank(x) or (z is not x and not is_full_rank(z)):
        return "the explaining columns cannot be told apart in these rows"
    residuals = y - (x @ _weighted(data, np.ones(len(x)))[0])[data.codes]
    if np.max(np.abs(residuals)) <= 1e-12 * (1 + np.max(np.abs(y))):
        return "no variation is left to explain"
    return ""


def _weighted(data: _Data, w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return coefficients and (X'WX)^-1."""
    x, total = data.x, w * data.y.rows
    inverse: FloatArray = np.asarray(np.linalg.inv(x.T @ (x * total[:, None])), dtype=float)
    return np.asarray(inverse @ (x.T @ (total * data.y.mean)), dtype=float), inverse


def _objective(data: _Data, gamma: FloatArray) -> float:
    log_variance = data.z @ gamma
    if np.ptp(log_variance) > _WIDEST + 3 or np.max(np.abs(log_variance)) > 300:
        return np.inf
    w = np.exp(-log_variance)
    beta, inverse = _weighted(data, w)
    squares = data.y.squares_about(data.x @ beta)
    value = float(data.y.rows @ log_variance + np.sum(squares * w))
    return value - float(np.linalg.slogdet(inverse)[1]) if data.restricted else value


def _information(
    data: _Data, w: FloatArray, inverse: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the expected information of gamma and the leverage of one row (0 for ML).

    Z'(P o P)Z with P = I - H is built from p by p products, without an n by n matrix.
    """
    z, rows = data.z, data.y.rows
    if not data.restricted:
        return z.T @ (z * rows[:, None]) / 2, np.zeros(len(z))
    root = np.linalg.cholesky(inverse)
    b = (data.x * np.sqrt(w)[:, None]) @ root
    leverage = np.sum(b**2, axis=1)
    products = (b[:, :, None] * b[:, None, :]).reshape(len(b), -1)
    crossed = (z * rows[:, None]).T @ products
    own = z.T @ (z * (rows * (1 - 2 * leverage))[:, None])
    return (own + crossed @ crossed.T) / 2, leverage


def _fit(data: _Data, gamma: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Return beta and gamma by scoring with halved steps from a start, or None."""
    value = _objective(data, gamma)
    for _ in range(200):
        w = np.exp(-(data.z @ gamma))
        beta, inverse = _weighted(data, w)
        information, leverage = _information(data, w, inverse)
        squares = data.y.squares_about(data.x @ beta)
        gradient = data.z.T @ (squares * w - data.y.rows * (1 - leverage)) / 2
        step = np.linalg.lstsq(information, gradient, rcond=None)[0]
        size = 1.0
        trial_value = _objective(data, gamma + step)
        # Near the maximum the objective cannot tell the steps apart: take the step.
        while not trial_value <= value + 1e-9 * (1 + abs(value)) and size > 1e-8:
            size /= 2
            trial_value = _objective(data, gamma + size * step)
        gamma, value = gamma + size * step, trial_value
        if not np.isfinite(value) or np.ptp(data.z @ gamma) > _WIDEST:
            return None
        if np.max(np.abs(step)) < 1e-10:
            return _weighted(data, np.exp(-(data.z @ gamma)))[0], gamma
    return None


def _start(data: _Data) -> FloatArray:
    """Return gamma from least squares of each row's log squared residual.

    The rows themselves, not their patterns: the likelihood can have several maxima, and
    squares of whole patterns start the search nearer to those of a pattern without spread.
    """
    rows = data.y.rows
    fitted = data.x @ _weighted(data, np.ones(len(rows)))[0]
    squares = (data.response - fitted[data.codes]) ** 2
    logs = np.log(squares + 1e-6 * float(np.mean(squares))) + 1.27
    mean = np.bincount(data.codes, weights=logs, minlength=len(rows)) / rows
    root = np.sqrt(rows)
    found = np.linalg.lstsq(data.z * root[:, None], mean * root, rcond=None)[0]
    return np.asarray(found, dtype=float)


def _finish(
    data: _Data, beta: FloatArray, gamma: FloatArray, *, patient: ArrayLike | None
) -> LogVarianceFit:
    n, w = len(data.response), np.exp(-(data.z @ gamma))
    inverse = _weighted(data, w)[1]
    information, _ = _information(data, w, inverse)
    p, q = data.x.shape[1], data.z.shape[1]
    cr0, count = np.full(p + q, NAN), 0
    left_out = (np.full(q, NAN), np.full(q, NAN))
    if patient is not None:
        clusters, count = cluster_codes(patient)
        if count < 2:
            return _refused("all rows come from one patient", p, q, n)
        rows, hessian = ClusteredRows(clusters, count), _hessian(data, beta, w)
        scores = _scores(data, beta, w, rows)
        cr0 = np.sqrt(np.sum((scores @ np.linalg.inv(hessian)) ** 2, axis=0))
        scaled = (data.response - (data.x @ beta)[data.codes]) ** 2 * w[data.codes]
        design = Design(data.codes, data.z)
        left_out = spread_errors(scores[:, p:], hessian[p:, p:], scaled, design, rows)
    cr1 = cr0 * np.sqrt(count / (count - 1)) if count else cr0
    squares = data.y.squares_about(data.x @ beta)
    value = n * np.log(2 * np.pi) - data.y.rows @ np.log(w) + np.sum(squares * w)
    return LogVarianceFit(
        beta,
        gamma,
        np.sqrt(np.diag(inverse)),
        np.sqrt(np.diag(np.linalg.inv(information))),
        cr0[:p],
        cr0[p:],
        cr1[:p],
        cr1[p:],
        *left_out,
        float(value),
        count,
        n,
        "REML" if data.restricted else "maximum likelihood",
        True,
        "",
    )


def _scores(
    data: _Data, beta: FloatArray, w: FloatArray, patients: ClusteredRows
) -> FloatArray:
    """Return sums by patient (G, p + q) of the scores of (beta, gamma)."""
    residuals = data.response - (data.x @ beta)[data.codes]
    weight = w[data.codes]
    half = (residuals**2 * weight - 1) / 2
    by_mean = patients.by_pattern(Design(data.codes, data.x), residuals * weight)
    by_spread = patients.by_pattern(Design(data.codes, data.z), half)
    return np.concatenate([by_mean @ data.x, by_spread @ data.z], axis=1)


def _hessian(data: _Data, beta: FloatArray, w: FloatArray) -> FloatArray:
    """Return the observed joint Hessian of (beta, gamma)."""
    x, z, rows = data.x, data.z, data.y.rows
    fitted = x @ beta
    corner = (x * (rows * (data.y.mean - fitted) * w)[:, None]).T @ z
    scaled = data.y.squares_about(fitted) * w
    return np.block(
        [
            [x.T @ (x * (rows * w)[:, None]), corner],
            [corner.T, z.T @ (z * (scaled / 2)[:, None])],
        ]
    )


def _refused(reason: str, p: int, q: int, n: int) -> LogVarianceFit:
    a, b = np.full(p, NAN), np.full(q, NAN)
    return LogVarianceFit(a, b, a, b, a, b, a, b, b, b, NAN, 0, n, "", False, reason)

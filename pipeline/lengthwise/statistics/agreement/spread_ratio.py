"""The ratio of two groups' residual SDs with a profile interval (A7, independent rows)."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, stats

from lengthwise.statistics.clusters import FloatArray
from lengthwise.statistics.results import NAN, Estimate, refused


@dataclass(frozen=True, slots=True)
class SpreadRatio:
    """SD of the second group over SD of the reference, with two intervals and a test.

    `wald` uses the curvature of the profile likelihood on the log scale; `profile` is the
    likelihood interval and the one for reports. `mean_coefficients` allow for the spread.
    """

    profile: Estimate
    wald: Estimate
    log_ratio_se: float
    sd_reference: float
    mean_coefficients: FloatArray
    mean_se: FloatArray
    likelihood_ratio: float
    p_value: float


def spread_ratio(
    response: ArrayLike,
    mean_design: ArrayLike,
    is_second_group: ArrayLike,
    *,
    restricted: bool = True,
    level: float = 0.95,
    minimum_per_group: int = 10,
) -> SpreadRatio:
    """Return the ratio of SDs of `response` (n,) around a common mean model (n, p).

    Rows must be complete and independent; a group below `minimum_per_group` is not tested.
    `restricted` is REML. Source: Pinheiro JC, Bates DM. Mixed-Effects Models in S and
    S-PLUS. Springer 2000, doi:10.1007/b98882, chapter 5. ML standard errors of the mean
    carry sqrt(n/(n-p)), as there.
    """
    y, x = np.asarray(response, dtype=float), np.asarray(mean_design, dtype=float)
    second = np.asarray(is_second_group, dtype=bool)
    small = int(min(second.sum(), (~second).sum()))
    name = "ratio of SDs; " + ("REML" if restricted else "ML")
    if small < max(minimum_per_group, 2):
        reason = f"a group has fewer than {max(minimum_per_group, 2)} ({small}): described only"
        return _refused(reason, name, x.shape[1], len(y), level)
    profile = _profile(y, x, second, restricted)
    delta, top = _peak(profile)
    if not np.isfinite(top) or abs(delta) > 6.9:
        return _refused("a group has no spread of its own", name, x.shape[1], len(y), level)
    error = _curvature_error(profile, delta, top)
    low, high = _profile_bounds(profile, delta, top, error, level)
    half = float(stats.norm.ppf((1 + level) / 2)) * error

    def given(lower: float, upper: float, words: str) -> Estimate:
        value, start, end = (float(np.exp(one)) for one in (delta, lower, upper))
        return Estimate(value, start, end, level, len(y), 0, f"{name}, {words}")

    statistic = 2 * (top - profile(0.0))
    beta, errors, sd = _mean_fit(y, x, second, delta, restricted)
    return SpreadRatio(
        given(low, high, "profile"),
        given(delta - half, delta + half, "Wald"),
        error,
        sd,
        beta,
        errors,
        float(statistic),
        float(stats.chi2.sf(statistic, 1)),
    )


def _peak(profile: Callable[[float], float]) -> tuple[float, float]:
    """Return the log ratio at the maximum of the profile, and the maximum."""
    found = optimize.minimize_scalar(
        lambda d: -profile(d), bounds=(-7.0, 7.0), method="bounded", options={"xatol": 1e-9}
    )
    return float(found.x), -float(found.fun)


def _curvature_error(profile: Callable[[float], float], delta: float, top: float) -> float:
    """Return the error of the log ratio from the second derivative of the profile.

    The difference is of fourth order: its own error is far below the printed digits.
    """
    h = 1e-3
    near = [profile(delta + i * h) for i in (-2, -1, 1, 2)]
    curvature = (-near[0] + 16 * near[1] - 30 * top + 16 * near[2] - near[3]) / (12 * h**2)
    return float(1 / np.sqrt(-curvature))


def _profile_bounds(
    profile: Callable[[float], float], delta: float, top: float, error: float, level: float
) -> tuple[float, float]:
    """Return the log ratios at which the profile has dropped by half a chi-square."""
    drop, reach = float(stats.chi2.ppf(level, 1)) / 2, 40 * error

    def gap(d: float) -> float:
        return profile(d) - top + drop

    low = optimize.brentq(gap, delta - reach, delta, xtol=1e-12)
    return float(low), float(optimize.brentq(gap, delta, delta + reach, xtol=1e-12))


def _parts(
    y: FloatArray, x: FloatArray, second: np.ndarray, delta: float, restricted: bool
) -> tuple[FloatArray, FloatArray, float]:
    """Return coefficients, (X'WX)^-1 and sigma^2 for a given log ratio."""
    w = np.where(second, np.exp(-2 * delta), 1.0)
    inverse: FloatArray = np.asarray(np.linalg.inv(x.T @ (x * w[:, None])), dtype=float)
    beta = inverse @ (x.T @ (w * y))
    rest = float(np.sum(w * (y - x @ beta) ** 2))
    divisor = len(y) - x.shape[1] if restricted else len(y)
    return beta, inverse, rest / divisor


def _profile(
    y: FloatArray, x: FloatArray, second: np.ndarray, restricted: bool
) -> Callable[[float], float]:
    n_second = int(second.sum())
    divisor = len(y) - x.shape[1] if restricted else len(y)

    def value(delta: float) -> float:
        _, inverse, variance = _parts(y, x, second, delta, restricted)
        if variance <= 0:
            return np.inf
        found = -divisor / 2 * np.log(variance) - n_second * delta
        extra = float(np.linalg.slogdet(inverse)[1]) / 2 if restricted else 0.0
        return float(found + extra)

    return value


def _mean_fit(
    y: FloatArray, x: FloatArray, second: np.ndarray, delta: float, restricted: bool
) -> tuple[FloatArray, FloatArray, float]:
    beta, inverse, variance = _parts(y, x, second, delta, restricted)
    n, p = x.shape
    scale = 1.0 if restricted else n / (n - p)
    return beta, np.sqrt(np.diag(inverse) * variance * scale), float(np.sqrt(variance))


def _refused(reason: str, name: str, p: int, n: int, level: float) -> SpreadRatio:
    none = refused(reason, method=name, n_used=n, level=level)
    nothing = np.full(p, NAN)
    return SpreadRatio(none, none, NAN, NAN, nothing, nothing, NAN, NAN)

"""Whether two methods differ in spread when both read the same canals."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from lengthwise.statistics.agreement.pairs import NO_VARIATION
from lengthwise.statistics.clusters import FloatArray
from lengthwise.statistics.results import NAN, Estimate, refused


@dataclass(frozen=True, slots=True)
class PairedSpread:
    """Pitman-Morgan test of equal spread, with the ratio of SDs, first over second.

    Bradley-Blackwood tests equal means and equal spread together.
    """

    sd_ratio: Estimate
    correlation_sum_difference: float
    t_statistic: float
    degrees_of_freedom: int
    p_value: float
    bradley_blackwood_f: float
    bradley_blackwood_p: float
    variance_first: float
    variance_second: float
    valid: bool
    reason: str


def paired_spread(first: ArrayLike, second: ArrayLike, *, level: float = 0.95) -> PairedSpread:
    """Return the tests for `first` (n,) and `second` (n,), one independent pair per row.

    Incomplete pairs are set aside; pairs are taken as normal. Sources: Pitman EJG.
    Biometrika 1939;31:9-12, doi:10.1093/biomet/31.1-2.9; Morgan WA. Biometrika 1939;31:13-19,
    doi:10.1093/biomet/31.1-2.13; Bradley EL, Blackwood LG. Am Stat 1989;43:234-235,
    doi:10.1080/00031305.1989.10475665.
    """
    x, y = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    known = np.isfinite(x) & np.isfinite(y)
    x, y, missing = x[known], y[known], int((~known).sum())
    n = len(x)
    name = "ratio of SDs; Pitman-Morgan"
    constant = n < 3 or np.ptp(x - y) == 0 or np.ptp(x) == 0 or np.ptp(y) == 0
    if constant or np.ptp(x + y) == 0:
        reason = "fewer than three pairs" if n < 3 else NO_VARIATION
        none = refused(reason, method=name, n_used=n, n_missing=missing, level=level)
        return PairedSpread(none, NAN, NAN, n - 2, NAN, NAN, NAN, NAN, NAN, False, reason)
    total, difference, df = x + y, x - y, n - 2
    r = float(np.corrcoef(total, difference)[0, 1])
    t = r * np.sqrt(df) / np.sqrt(max(1 - r**2, 1e-300))
    ratio = _ratio(x, y, level, missing, name)
    fit = float(np.sum((difference - difference.mean()) ** 2)) * (1 - r**2)
    f_joint = float((difference @ difference - fit) / 2 / (fit / df)) if fit > 0 else np.inf
    return PairedSpread(
        ratio,
        r,
        float(t),
        df,
        float(2 * stats.t.sf(abs(t), df)),
        f_joint,
        float(stats.f.sf(f_joint, 2, df)),
        float(x.var(ddof=1)),
        float(y.var(ddof=1)),
        True,
        "",
    )


def _ratio(x: FloatArray, y: FloatArray, level: float, missing: int, name: str) -> Estimate:
    """Return the ratio of SDs with the interval that inverts the Pitman-Morgan test."""
    df = len(x) - 2
    own = float(np.corrcoef(x, y)[0, 1])
    k = 1 + 2 * (1 - own**2) * float(stats.t.ppf((1 + level) / 2, df)) ** 2 / df
    root = np.sqrt(max(k**2 - 1, 0.0))
    f = float(x.var(ddof=1) / y.var(ddof=1))
    value, low, high = (float(np.sqrt(f * one)) for one in (1.0, k - root, k + root))
    return Estimate(value, low, high, level, len(x), missing, name)

"""Exact and approximate tests of an r x 2 table of counts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.special import gammaln

from lengthwise.statistics.outcome.arrays import Array
from lengthwise.statistics.results import NAN

SMALLEST_EXPECTED = 5.0
# Tables with the same margins that are listed before the exact test is given up.
MOST_TABLES = 20_000_000
# The same where no expected count is small, so that nothing depends on the exact test.
MOST_TABLES_UNASKED = 1_000_000
# Tables as probable as the one seen, up to rounding, count as at least as extreme.
TIE = 1.0 + 1e-7


@dataclass(frozen=True, slots=True)
class TableTest:
    """Test of no association in an r x 2 table.

    Attributes
    ----------
    name : str
        The test that decides: exact where an expected count is below 5, else Pearson.
    p_value : float
        Of that test.
    pearson_chi2, pearson_p, yates_chi2, yates_p, exact_p : float
        All tests, so that a reader sees whether they agree; Yates only for 2 x 2, exact NaN
        where there are too many tables to list, or many and no expected count is small.
    degrees_of_freedom : int
    smallest_expected : float
    exact_needed, valid : bool
    reason : str
    """

    name: str
    p_value: float
    pearson_chi2: float
    pearson_p: float
    yates_chi2: float
    yates_p: float
    exact_p: float
    degrees_of_freedom: int
    smallest_expected: float
    exact_needed: bool
    valid: bool = True
    reason: str = ""


def table_test(events: NDArray[np.int64], sizes: NDArray[np.int64]) -> TableTest:
    """Test whether the share with the event differs between levels.

    Parameters
    ----------
    events, sizes : array of shape (r,)
        Events and units a level, complete; levels without units are left out.

    Notes
    -----
    Two-sided; units are taken as independent. Sources: Freeman & Halton 1951,
    10.1093/biomet/38.1-2.141; the rule of 5 is Cochran 1954, 10.2307/3001616.
    """
    filled = sizes > 0
    events, sizes = events[filled], sizes[filled]
    total, hits = int(sizes.sum()), int(events.sum())
    if sizes.size < 2 or hits in (0, total):
        return _no_test(sizes.size, hits, total)
    observed = np.stack([events, sizes - events]).astype(float)
    expected = np.outer([hits, total - hits], sizes) / total
    gap = np.abs(observed - expected)
    pearson = float(np.sum(gap**2 / expected))
    freedom = int(sizes.size - 1)
    is_square = freedom == 1
    corrected = np.maximum(gap - 0.5, 0.0)
    yates = float(np.sum(corrected**2 / expected)) if is_square else NAN
    needed = bool(expected.min() < SMALLEST_EXPECTED)
    most = MOST_TABLES if needed else MOST_TABLES_UNASKED
    exact_p = exact_p_value(events, sizes, most_tables=most)
    use_exact = needed and not np.isnan(exact_p)
    pearson_p = float(stats.chi2.sf(pearson, freedom))
    exact_name = "Fisher's exact test" if is_square else "Freeman-Halton exact test"
    too_many = "too many tables for the exact test, which small expected counts ask for"
    return TableTest(
        name=exact_name if use_exact else "Pearson's chi-square test",
        p_value=exact_p if use_exact else pearson_p,
        pearson_chi2=pearson,
        pearson_p=pearson_p,
        yates_chi2=yates,
        yates_p=float(stats.chi2.sf(yates, 1)) if is_square else NAN,
        exact_p=exact_p,
        degrees_of_freedom=freedom,
        smallest_expected=float(expected.min()),
        exact_needed=needed,
        reason=too_many if needed and not use_exact else "",
    )


def exact_p_value(
    events: NDArray[np.int64], sizes: NDArray[np.int64], *, most_tables: int = MOST_TABLES
) -> float:
    """Return the Freeman-Halton p value (Fisher's for two levels); NaN if too large.

    The share of the multivariate hypergeometric distribution on tables not more probable
    than the one seen. The largest level is determined by the others, so only those are
    listed.
    """
    order = np.argsort(sizes, kind="stable")
    events, sizes = events[order], sizes[order]
    hits, total = int(events.sum()), int(sizes.sum())
    counts = np.minimum(sizes[:-1], hits) + 1
    if float(np.prod(counts.astype(float))) > most_tables:
        return NAN
    logs, used = np.zeros(1), np.zeros(1)
    for size, count in zip(sizes[:-1].tolist(), counts.tolist(), strict=True):
        choices = np.arange(count)
        logs = (logs[:, None] + _log_choose(size, choices)).ravel()
        used = (used[:, None] + choices).ravel()
    left = hits - used
    possible = (left >= 0) & (left <= sizes[-1])
    logs = logs[possible] + _log_choose(int(sizes[-1]), left[possible])
    logs -= float(_log_choose(total, np.array([hits]))[0])
    seen = sum(
        float(_log_choose(int(size), np.array([event]))[0])
        for size, event in zip(sizes, events, strict=True)
    ) - float(_log_choose(total, np.array([hits]))[0])
    return min(float(np.exp(logs[logs <= seen + np.log(TIE)]).sum()), 1.0)


def _log_choose(n: int, k: NDArray[np.generic]) -> Array:
    chosen = np.asarray(k, dtype=float)
    return np.asarray(gammaln(n + 1.0) - gammaln(chosen + 1.0) - gammaln(n - chosen + 1.0))


def _no_test(levels: int, hits: int, total: int) -> TableTest:
    if levels < 2:
        reason = "only one level has units, so there is nothing to compare"
    elif hits == 0:
        reason = "no unit has the event, so there is nothing to test"
    else:
        reason = "every unit has the event, so there is nothing to test"
    return TableTest(
        "none", NAN, NAN, NAN, NAN, NAN, NAN, max(levels - 1, 0), NAN, False, False, reason
    )

"""Who came back for review and who did not."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from lengthwise.statistics.outcome.exact_table import TableTest, table_test
from lengthwise.statistics.proportions import clustered_proportion_of_rows, proportion
from lengthwise.statistics.results import Estimate


@dataclass(frozen=True, slots=True)
class ReviewedShare:
    """One group of teeth: treated, reviewed, and the share reviewed (0-1)."""

    group: str
    n: int
    reviewed: int
    share: Estimate


@dataclass(frozen=True, slots=True)
class FollowUpTable:
    """Share reviewed by group, and a test that it is the same in all."""

    variable: str
    rows: tuple[ReviewedShare, ...]
    test: TableTest
    n_missing: int


def followup_by_group(
    reviewed: ArrayLike,
    group: ArrayLike,
    *,
    variable: str,
    groups: Sequence[str] | None = None,
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> FollowUpTable:
    """Count the reviewed teeth by level, case-mix or clinician.

    Parameters
    ----------
    reviewed : array of shape (n,)
        1 reviewed, 0 not.
    group : array of shape (n,)
        Group of each tooth; a missing group is counted and left out.
    variable : str
        Name of the grouping, as printed.
    groups : sequence of str, optional
        Groups in their order; all that occur, sorted, where None.
    cluster : array of shape (n,), optional
        Patient of each row, for a Wilson interval with a design effect.

    Returns
    -------
    FollowUpTable
        A group without teeth has a refused share.
    """
    seen = np.asarray(reviewed, dtype=float)
    places, found = pd.factorize(np.asarray(group, dtype=object))
    names = sorted({str(name) for name in found}) if groups is None else list(groups)
    # The last place, for a missing group, is no name's.
    of_found = np.append(pd.Index(names).get_indexer(pd.Index([str(n) for n in found])), -1)
    codes = of_found[places]
    known = (codes >= 0) & np.isfinite(seen)
    sizes = np.bincount(codes[known], minlength=len(names))
    counts = np.bincount(codes[known & (seen == 1.0)], minlength=len(names))
    patients = None if cluster is None else np.asarray(cluster)
    rows = []
    for i, name in enumerate(names):
        n, came = int(sizes[i]), int(counts[i])
        share = proportion(came, n, level=level)
        if patients is not None and n:
            own = known & (codes == i)
            clustered = clustered_proportion_of_rows(seen[own], patients[own], level=level)
            share = clustered.wilson_icc if clustered.wilson_icc.valid else share
        rows.append(ReviewedShare(name, n, came, share))
    missing = int(np.count_nonzero(~known))
    test = table_test(counts.astype(np.int64), sizes.astype(np.int64))
    return FollowUpTable(variable, tuple(rows), test, missing)

"""From length to level: where fillings ended after doubtful readings and after others."""

import numpy as np
import pandas as pd

from lengthwise.analyse.agreement_discordant import COMPARED, SMALL_FILE_STEPS
from lengthwise.analyse.groups import CANAL, one_row_by_canal
from lengthwise.analyse.outcome_frame import LEVELS, REFERENCE
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.clusters import cluster_robust_least_squares
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate, refused

STAGES = ("initial", "after_flaring", "after_preparation", "before_filling")


def doubtful_canals(
    pairs: pd.DataFrame, readings: pd.DataFrame, settings: Settings
) -> pd.DataFrame:
    """Return, by canal with an electronic reading, whether its reading is doubtful.

    Doubtful: at the last stage, which steers the filling, a condition was recorded that can
    mislead a reading, or the mean reading lies further from a film with file or a scan than
    the review threshold.
    """
    doubtful = _misleading(_last_stage(readings))
    wide = one_row_by_canal(pairs, CANAL).set_index(CANAL)
    apart = pd.Series(False, index=wide.index)
    for method, other in COMPARED:
        if {method, other} <= set(wide.columns):
            gap = (wide[method] - wide[other]).abs().round(2)
            apart |= gap > settings.thresholds.review_mm
    found = doubtful.to_frame("is_doubtful")
    found["is_doubtful"] |= apart.reindex(found.index, fill_value=False)
    return found.reset_index()


def _misleading(own: pd.DataFrame) -> pd.Series:
    """Return, by canal, whether a condition that can mislead was recorded for any reading."""
    flags = (
        own["canal_state"].eq("wet"),
        own["has_metal_contact"].eq(True),
        own["steps_under_apex"].ge(SMALL_FILE_STEPS),
        own["is_stable"].eq(False),
    )
    hit = pd.concat(flags, axis=1).fillna(False).astype(bool).any(axis=1)
    return hit.groupby([own[name] for name in CANAL], sort=False).any()


def _last_stage(readings: pd.DataFrame) -> pd.DataFrame:
    """Return the electronic readings of each canal at the last stage recorded for it."""
    own = readings[readings["method"] == "electronic"]
    place = (
        own["stage"].map({name: i for i, name in enumerate(STAGES)}).astype(float).fillna(-1)
    )
    last = place.groupby([own["treatment_id"], own["canal"]], sort=False).transform("max")
    return own[place == last]


def analyse_chain(
    rows: ResultRows, pairs: pd.DataFrame, readings: pd.DataFrame, fills: pd.DataFrame,
    period: str, settings: Settings,
) -> None:  # fmt: skip
    """Write the share of doubtful readings, and of fillings short and beyond after each."""
    topic = Topic("outcome", "chain", period)
    assessed = fills[fills["level"].isin(LEVELS)]
    frame = assessed.merge(doubtful_canals(pairs, readings, settings), on=CANAL)
    is_doubtful = frame["is_doubtful"].to_numpy(dtype=bool)
    patient = pd.factorize(frame["patient_id"])[0]
    share = _share(is_doubtful, patient, settings)
    rows.add(
        topic, "share_doubtful", "electronic", share, unit="proportion",
        numerator=int(is_doubtful.sum()), denominator=len(frame),
    )  # fmt: skip
    for level in ("short", "beyond"):
        hit = (frame["level"] == level).to_numpy()
        for name, chosen in (("doubtful", is_doubtful), ("other", ~is_doubtful)):
            value = _share(hit[chosen], patient[chosen], settings)
            rows.add(
                topic, "share_of_fillings", level, value, unit="proportion",
                stratum=("readings", name), numerator=int(hit[chosen].sum()),
                denominator=int(chosen.sum()),
            )  # fmt: skip
        value = _difference(hit, is_doubtful, patient, settings)
        rows.add(
            topic, "share_difference", level, value, unit="proportion", reference=REFERENCE,
            denominator=len(frame),
        )  # fmt: skip


def _share(hit: np.ndarray, patient: np.ndarray, settings: Settings) -> Estimate:
    least = settings.small_numbers.minimum_denominator
    if hit.size < least:
        reason = f"fewer than {least} canals: counts only"
        return refused(reason, method="Wilson", n_used=int(hit.size))
    found = clustered_proportion_of_rows(hit, patient)
    return found.wilson_icc if found.wilson_icc.valid else found.naive


def _difference(
    hit: np.ndarray, is_doubtful: np.ndarray, patient: np.ndarray, settings: Settings
) -> Estimate:
    least = settings.small_numbers.minimum_denominator
    method = "difference of shares, errors by patient"
    if min(is_doubtful.sum(), (~is_doubtful).sum()) < least:
        return refused(f"fewer than {least} canals in a group", method=method)
    design = np.column_stack([np.ones(hit.size), is_doubtful.astype(float)])
    fit = cluster_robust_least_squares(design, hit.astype(float), patient)
    return fit.coefficient(1, name=method)

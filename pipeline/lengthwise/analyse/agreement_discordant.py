"""Canals where two methods lie far apart, with what was recorded there (A10)."""

import numpy as np
import pandas as pd

from lengthwise.analyse.agreement_errors import SMALL_FILE_STEPS
from lengthwise.analyse.groups import CANAL, one_row_by_canal
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.discordance import REVIEW, discordant_canals
from lengthwise.statistics.clusters import cluster_robust_least_squares
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate, refused

# The reading that is steered by, against each reading that can contradict it in time.
COMPARED = (("electronic", "cbct"), ("electronic", "film_file"))
WORDS = {"electronic": "electronic", "cbct": "cone-beam", "film_file": "film with file"}
LATE_STAGES = ("after_preparation", "before_filling")


def compared_readings(readings: pd.DataFrame, method: str, reference: str) -> pd.DataFrame:
    """Return, by canal and method, the reading that lies farthest from the other method.

    "The other method" is the mean of its readings of the canal. One reading per method stands
    for every canal, discordant or not, so that canals read more often do not collect more
    conditions. Of equally far readings the last one counts.
    """
    both = readings[readings["method"].isin([method, reference])]
    means = both.groupby([*CANAL, "method"])["length_mm"].mean().unstack("method")
    parts = []
    for own, other in ((method, reference), (reference, method)):
        rows = both[both["method"] == own]
        against = means[other].reindex(pd.MultiIndex.from_frame(rows[CANAL])).to_numpy()
        # To 0.01 mm, as everywhere: 20.1 - 19.6 is no farther than 20.6 - 20.1.
        apart = (rows["length_mm"] - against).abs().round(2)
        known = rows.assign(apart_mm=apart).dropna(subset=["apart_mm"])
        order = known.sort_values([*CANAL, "apart_mm", "stage", "replicate"], kind="stable")
        parts.append(order.drop_duplicates(CANAL, keep="last"))
    return pd.concat(parts, ignore_index=True)


def recorded_conditions(readings: pd.DataFrame) -> pd.DataFrame:
    """Return, by canal, which conditions were recorded for any electronic reading of it."""
    own = readings[readings["method"] == "electronic"]
    return _with_reconfirming(_flags(own), readings, "electronic")


def conditions_of_compared(readings: pd.DataFrame, method: str, reference: str) -> pd.DataFrame:
    """Return, by canal, which conditions were recorded for the two readings that differ."""
    own = compared_readings(readings, method, reference)
    return _with_reconfirming(_flags(own), readings, method)


def _flags(own: pd.DataFrame) -> pd.DataFrame:
    flags = pd.DataFrame(
        {
            "wet": own["canal_state"].eq("wet"),
            "metal contact": own["has_metal_contact"].eq(True),
            "small file for the apex": own["steps_under_apex"].ge(SMALL_FILE_STEPS),
            "unstable": own["is_stable"].eq(False),
            "circuit not checked": own["is_circuit_checked"].eq(False),
        }
    ).fillna(False).astype(bool)  # fmt: skip
    return flags.groupby([own[name] for name in CANAL]).any()


def _with_reconfirming(
    by_canal: pd.DataFrame, readings: pd.DataFrame, method: str
) -> pd.DataFrame:
    """Add whether a late reading is lacking: that is looked for among all of the canal."""
    late = readings[(readings["method"] == method) & readings["stage"].isin(LATE_STAGES)]
    reconfirmed = by_canal.index.isin(pd.MultiIndex.from_frame(late[CANAL]))
    return by_canal.assign(**{"not reconfirmed after preparation": ~reconfirmed})


def analyse_discordance(
    rows: ResultRows, pairs: pd.DataFrame, readings: pd.DataFrame, quarter: str, period: str,
    settings: Settings,
) -> None:  # fmt: skip
    """List this quarter's canals beyond the review threshold; compare conditions over all.

    Lengths are the means of a canal's readings by a method; conditions are those of the
    reading of each method that lies farthest from the other.
    """
    keys = [*CANAL, "patient_id", "tooth", "clinician_id", "quarter"]
    wide = one_row_by_canal(pairs, keys)
    named: set[tuple[str, str]] = set()
    for method, reference in COMPARED:
        if not {method, reference} <= set(wide.columns):
            continue
        frame = wide.dropna(subset=[method, reference]).reset_index(drop=True)
        conditions = conditions_of_compared(readings, method, reference)
        flags = conditions.reindex(pd.MultiIndex.from_frame(frame[CANAL])).reset_index(
            drop=True
        )
        found = discordant_canals(
            frame[method], frame[reference],
            conditions={name: flags[name].to_numpy() for name in flags},
            watch_mm=settings.thresholds.watch_mm, review_mm=settings.thresholds.review_mm,
        )  # fmt: skip
        judged = frame.assign(
            value_mm=found.difference_mm.round(2), status=found.status,
            explained=[", ".join(one) for one in found.explanations],
            has_condition=flags.fillna(False).to_numpy(dtype=bool).any(axis=1),
        )  # fmt: skip
        now, whole = (Topic("agreement", "A10", covered) for covered in (quarter, period))
        _add_counts(rows, now, method, reference, judged, quarter)
        _add_shares(rows, whole, method, reference, judged, settings)
        _add_by_condition(rows, whole, method, reference, judged, flags, settings)
        _add_list(rows, method, reference, judged, quarter, named)


def _add_counts(
    rows: ResultRows, topic: Topic, method: str, reference: str, judged: pd.DataFrame,
    quarter: str,
) -> None:  # fmt: skip
    now = judged[judged["quarter"] == quarter]
    for status, measure in (("watch", "canals_to_watch"), (REVIEW, "canals_to_review")):
        count = int((now["status"] == status).sum())
        value = Estimate(count, np.nan, np.nan, 0.95, len(now), 0, "count")
        rows.add(
            topic, measure, method, value, unit="count", reference=reference, numerator=count,
            denominator=len(now),
        )  # fmt: skip


def _add_shares(
    rows: ResultRows, topic: Topic, method: str, reference: str, judged: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    """Write the share with a recorded condition among discordant and among other canals."""
    apart = (judged["status"] == REVIEW).to_numpy()
    held, patient = judged["has_condition"].to_numpy(), judged["patient_id"].to_numpy()
    least = settings.small_numbers.minimum_denominator
    for group, chosen in (("discordant", apart), ("concordant", ~apart)):
        value = _share(held[chosen], patient[chosen], settings)
        rows.add(
            topic, "share_with_condition", method, value, unit="proportion",
            reference=reference, stratum=("canals", group),
            numerator=int(held[chosen].sum()), denominator=int(chosen.sum()),
        )  # fmt: skip
    value = refused(f"fewer than {least} canals in a group", method="difference of shares")
    if min(apart.sum(), (~apart).sum()) >= least:
        design = np.column_stack([np.ones(len(apart)), apart.astype(float)])
        fit = cluster_robust_least_squares(design, held.astype(float), patient)
        value = fit.coefficient(1, name="difference of shares")
    rows.add(
        topic, "share_with_condition_difference", method, value, unit="proportion",
        reference=reference,
    )  # fmt: skip


def _add_by_condition(
    rows: ResultRows, topic: Topic, method: str, reference: str, judged: pd.DataFrame,
    flags: pd.DataFrame, settings: Settings,
) -> None:  # fmt: skip
    """Write the share with each single condition among discordant and other canals.

    Where most canals have one condition or another, only the single ones tell them apart.
    """
    apart = (judged["status"] == REVIEW).to_numpy()
    patient = judged["patient_id"].to_numpy()
    for name in flags:
        held = flags[name].fillna(False).to_numpy(dtype=bool)
        for group, chosen in (("discordant", apart), ("concordant", ~apart)):
            value = _share(held[chosen], patient[chosen], settings)
            rows.add(
                topic, f"share_{group}", method, value, unit="proportion",
                reference=reference, stratum=("condition", str(name)),
                numerator=int(held[chosen].sum()), denominator=int(chosen.sum()),
            )  # fmt: skip


def _share(held: np.ndarray, patient: np.ndarray, settings: Settings) -> Estimate:
    least = settings.small_numbers.minimum_denominator
    if len(held) < least:
        reason = f"fewer than {least} canals: counts only"
        return refused(reason, method="Wilson", n_used=len(held))
    share = clustered_proportion_of_rows(held, patient)
    return share.wilson_icc if share.wilson_icc.valid else share.naive


def _add_list(
    rows: ResultRows, method: str, reference: str, judged: pd.DataFrame, quarter: str,
    named: set[tuple[str, str]],
) -> None:  # fmt: skip
    now = judged[(judged["quarter"] == quarter) & (judged["status"] == REVIEW)]
    for _, row in now.astype(dict.fromkeys(CANAL, str)).sort_values(CANAL).iterrows():
        key = (str(row["treatment_id"]), str(row["canal"]))
        # One line per canal: the first comparison that lists it stands for it.
        if key in named:
            continue
        named.add(key)
        said = row["explained"] or "none recorded"
        rows.lists.append(
            {
                "list_name": "discordant_canals", "position": len(rows.lists),
                "treatment_id": key[0], "canal": key[1], "tooth": row["tooth"],
                "clinician_id": row["clinician_id"], "period": quarter,
                "value_mm": float(row["value_mm"]),
                "detail": f"{WORDS[method]} minus {WORDS[reference]}: {said}",
            }
        )  # fmt: skip

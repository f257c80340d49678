"""This quarter beside the quarter before and the same quarter of the year before."""

import numpy as np
import pandas as pd

from lengthwise.analyse.measures import COLUMNS, Measure
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import parse_quarter
from lengthwise.settings import Settings
from lengthwise.statistics.process.period_change import period_change
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION, ANALYSIS = "comparisons", "B7"
# stratum: how many quarters earlier
EARLIER = {"previous_quarter": -1, "quarter_last_year": -4}
KIND = "comparison"


def analyse_comparisons(
    rows: ResultRows, measures: list[Measure], pairs: pd.DataFrame, quarter: str,
    settings: Settings,
) -> None:  # fmt: skip
    """Write each measure's share now and then, and the change with its interval.

    A criterion that counts every case up to now has no quarter of its own and is left out.
    """
    whole = {str(item["id"]) for item in settings.criteria if item.get("window") == "all"}
    compared = [measure for measure in measures if measure.name not in whole]
    for measure in [*compared, *_within_tolerance(pairs, settings)]:
        for kind, steps in EARLIER.items():
            earlier = str(parse_quarter(quarter).plus(steps))
            _compare(rows, measure, quarter, earlier, kind, settings)


def _within_tolerance(pairs: pd.DataFrame, settings: Settings) -> list[Measure]:
    """Return, by method, whether a canal's reading agrees with the confirmed length."""
    known = pairs[pairs["difference_mm"].notna()]
    tolerance = settings.thresholds.tolerance_mm
    return [
        Measure(
            f"{method}_within_tolerance",
            own.assign(is_met=(own["difference_mm"].abs().round(2) <= tolerance))[COLUMNS],
            None,
            True,
        )
        for method, own in known.groupby("method", sort=True)
    ]


def _compare(
    rows: ResultRows, measure: Measure, quarter: str, earlier: str, kind: str,
    settings: Settings,
) -> None:  # fmt: skip
    cases = measure.cases[measure.cases["quarter"].isin([quarter, earlier])]
    is_now = (cases["quarter"] == quarter).to_numpy(dtype=bool)
    found = period_change(
        cases["is_met"].to_numpy(dtype=float, na_value=NAN), is_now,
        cases["patient_id"].to_numpy(), level=settings.confidence_level,
        minimum_cases=settings.small_numbers.minimum_denominator,
    )  # fmt: skip
    topic = Topic(SECTION, ANALYSIS, quarter)
    stratum = (KIND, kind)
    for name, part, period in (
        ("share_then", cases[~is_now], earlier),
        ("share_now", cases[is_now], quarter),
    ):
        value, met, known = _share(part, settings)
        rows.add(
            topic, name, measure.name, value, unit="proportion", reference=earlier,
            stratum=stratum, numerator=met, denominator=known, target=measure.target,
            period=period,
        )  # fmt: skip
    rows.add(
        topic, "share_change", measure.name, found.change, unit="proportion",
        reference=earlier, stratum=stratum, n_clusters=found.n_clusters,
    )  # fmt: skip


def _share(cases: pd.DataFrame, settings: Settings) -> tuple[Estimate, int, int]:
    known = cases[cases["is_met"].notna()]
    is_met = known["is_met"].to_numpy(dtype=float)
    least = settings.small_numbers.minimum_denominator
    if len(known) < least:
        value = refused(
            f"fewer than {least} cases: counts only", method="proportion",
            n_used=len(known), n_missing=len(cases) - len(known),
        )  # fmt: skip
    else:
        found = clustered_proportion_of_rows(is_met, known["patient_id"].to_numpy())
        value = found.wilson_icc if found.wilson_icc.valid else found.naive
    return value, int(np.sum(is_met)), len(known)

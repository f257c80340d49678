"""A clinician's private CUSUM (B6): own fillings against what case-mix lets expect.

Off unless settings.toml asks for it; every row lies in the clinician's own scope.
"""

import numpy as np
import pandas as pd

from lengthwise.analyse.clinicians import fitted_case_mix, with_case_mix
from lengthwise.analyse.measures import Measure, in_order_of_keys
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.process.cusum import CusumChart, RunLength, risk_adjusted_cusum
from lengthwise.statistics.process.cusum_threshold import cusum_threshold
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION = "clinicians"
# Known on the day of filling; an outcome that comes months later does not belong here.
WATCHED = ("fill_short", "fill_beyond")
RUNS = 1000
SEED = 20000901
UNDATED = "cases without a month have no place in the order of time"


def analyse_private_cusum(
    rows: ResultRows, measures: list[Measure], outcomes: pd.DataFrame, quarters: list[str],
    settings: Settings,
) -> None:  # fmt: skip
    """Write each clinician's score by month, the threshold and the first signal."""
    if not settings.private_cusum.is_wanted:
        return
    period = window(quarters[0], quarters[-1])
    for measure in (item for item in measures if item.name in WATCHED):
        cases = with_case_mix(measure, outcomes)
        model = fitted_case_mix(cases)
        reason = model.reason if cases["month"].notna().all() else UNDATED
        limit = None
        if not reason:
            limit = _threshold(np.asarray(model.risk), settings)
            reason = limit.reason
        held = in_order_of_keys(cases.assign(risk=model.risk))
        for clinician, own in held.groupby("clinician_id"):
            topic = Topic(SECTION, "B6", period, f"clinician:{clinician}")
            if reason or limit is None:
                none = refused(reason, method="risk-adjusted CUSUM", n_used=len(own))
                rows.add(topic, "cusum_threshold", measure.name, none, unit="score")
                continue
            chart = risk_adjusted_cusum(
                own["event"], own["risk"], odds_ratio=settings.private_cusum.odds_ratio,
                threshold=limit.threshold,
            )  # fmt: skip
            _add(rows, topic, measure.name, chart, limit, list(own["month"]))


def _threshold(risk: np.ndarray, settings: Settings) -> RunLength:
    wanted = settings.private_cusum
    return cusum_threshold(
        risk, run_length=wanted.run_length, odds_ratio=wanted.odds_ratio, runs=RUNS, seed=SEED
    )


def _add(
    rows: ResultRows, topic: Topic, name: str, chart: CusumChart, limit: RunLength,
    months: list[str],
) -> None:  # fmt: skip
    method = (
        f"{chart.method}, odds ratio {chart.odds_ratio:g}, cases taken as independent; "
        f"threshold from {limit.runs} simulated series"
    )
    said = (
        f"without any change a signal comes after {limit.mean:.0f} own cases on average, half "
        f"of the times before {limit.median:.0f}; after the change looked for, after "
        f"{limit.mean_after_change:.0f}"
    )
    counts = (0.95, chart.n_used, chart.n_missing, method, True)
    threshold = Estimate(limit.threshold, NAN, NAN, *counts, said)
    rows.add(topic, "cusum_threshold", name, threshold, unit="score")
    highest = pd.Series(chart.score).groupby(pd.Series(months)).max()
    for month, score in highest.items():
        value = Estimate(float(score), NAN, NAN, *counts)
        rows.add(
            topic, "cusum_score", name, value, unit="score", stratum=("month", str(month)),
            period=str(month),
        )  # fmt: skip
    first = chart.first_signal
    words = ""
    if first is not None:
        words = (
            f"the score passed its threshold in {months[first]}, at the {first + 1}th own case: "
            "check data, then case-mix, then process"
        )
    signals = Estimate(float(first is not None), NAN, NAN, *counts, words)
    rows.add(topic, "cusum_signal", name, signals, unit="count")

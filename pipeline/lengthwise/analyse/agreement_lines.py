"""Lines between two methods that both carry error: Deming and Passing-Bablok (A5)."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lengthwise.analyse.groups import CANAL, group_numbers
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line
from lengthwise.statistics.agreement.variance_ratio import Repeats, variance_ratio_by_patient
from lengthwise.statistics.results import Estimate, refused

CONFIRMED = "confirmed"
# The slopes between all pairs of 1,500 points are a million; more of them show nothing new.
MOST_PATIENTS = 1500
DRAW = 20240601


@dataclass(frozen=True, slots=True)
class Repeated:
    """Repeated readings of one method, and the mean of 1 / readings over its canals."""

    readings: Repeats
    mean_inverse: float


def repeats_of(readings: pd.DataFrame, method: str) -> Repeated | None:
    """Return the readings of one canal at one stage in one state by `method`, if any repeat."""
    own = readings[(readings["method"] == method) & readings["length_mm"].notna()]
    subject = group_numbers(own, [*CANAL, "stage", "canal_state"])
    repeated = np.bincount(subject)[subject] > 1
    if not repeated.any():
        return None
    inverse = float((1 / np.bincount(group_numbers(own, CANAL))).mean())
    columns = (own["length_mm"].to_numpy(), subject, own["patient_id"].to_numpy())
    return Repeated(Repeats(*(one[repeated] for one in columns)), inverse)


def error_variance_ratio(
    repeats: dict[str, Repeated | None], method: str, reference: str
) -> Estimate:
    """Return error variance of the method's mean over that of the reference's, by canal.

    Means are compared, so each variance of repeats is divided by the number of readings behind
    a mean, averaged over canals.
    """
    name = "ratio of error variances of canal means, from repeated readings"
    own, other = repeats.get(method), repeats.get(reference)
    if own is None or other is None:
        lacking = reference if other is None else method
        return refused(f"no repeated readings of {lacking}", method=name)
    found = variance_ratio_by_patient(other.readings, own.readings)
    factor = own.mean_inverse / other.mean_inverse
    estimate, lower, upper = (
        factor * one for one in (found.estimate, found.lower, found.upper)
    )
    return replace(found, estimate=estimate, lower=lower, upper=upper, method=name)


def add_lines(
    rows: ResultRows, topic: Topic, subject: str, reference: str, frame: pd.DataFrame,
    repeats: dict[str, Repeated | None], settings: Settings,
) -> None:  # fmt: skip
    """Write the Deming line, and against the confirmed length the Passing-Bablok line.

    Without repeated readings of both the error variances are taken as equal, and the method
    says so. Passing-Bablok needs independent pairs: one canal of each patient is drawn.
    """
    least = settings.small_numbers.minimum_pairs
    ratio = error_variance_ratio(repeats, subject, reference)
    line = deming_line(
        frame["reference_mm"], frame["method_mm"], patient=frame["patient_id"].to_numpy(),
        variance_ratio=ratio.estimate if ratio.valid else 1.0, minimum_pairs=least,
    )  # fmt: skip
    words = f"error variance ratio {ratio.estimate:.2f}" if ratio.valid else (
        f"error variances taken as equal: {ratio.reason}"
    )  # fmt: skip
    found = [
        ("deming_slope", _with(line.slope, words), "mm per mm"),
        ("deming_intercept", _with(line.intercept, words), "mm"),
    ]
    if ratio.valid:
        found.append(("error_variance_ratio", ratio, "ratio"))
    if reference == CONFIRMED:
        found += _passing_bablok(frame, least)
    for measure, value, unit in found:
        rows.add(topic, measure, subject, value, unit=unit, reference=reference)


def _passing_bablok(frame: pd.DataFrame, least: int) -> list[tuple[str, Estimate, str]]:
    drawn = one_canal_of_each_patient(frame)
    line = passing_bablok_line(drawn["reference_mm"], drawn["method_mm"], minimum_pairs=least)
    words = "one canal of each patient"
    return [
        ("passing_bablok_slope", _with(line.slope, words), "mm per mm"),
        ("passing_bablok_intercept", _with(line.intercept, words), "mm"),
    ]


def one_canal_of_each_patient(frame: pd.DataFrame) -> pd.DataFrame:
    """Return one complete row per patient, by a fixed draw; at most MOST_PATIENTS of them."""
    known = frame.dropna(subset=["method_mm", "reference_mm"]).sort_values(CANAL)
    drawn = known.sample(frac=1.0, random_state=DRAW).drop_duplicates("patient_id")
    return drawn.head(MOST_PATIENTS).sort_index()


def _with(value: Estimate, words: str) -> Estimate:
    return replace(value, method=f"{value.method}; {words}")

"""How far a method repeats itself (A3), and its own error with no method as truth (A4)."""

import math

import numpy as np
import pandas as pd

from lengthwise.analyse.groups import CANAL, group_numbers, one_row_by_canal
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.method_ranking import (
    MethodError,
    MethodErrors,
    method_errors,
)
from lengthwise.statistics.agreement.replicates import repeatability
from lengthwise.statistics.results import Estimate, refused

# In the order of work; the last stage of a canal is the nearest to its confirmed length.
STAGES = ("not_recorded", "initial", "after_flaring", "after_preparation", "before_filling")
_PLACE_OF_STAGE = {name: place for place, name in enumerate(STAGES)}
SMALL_FILE_STEPS = 3
# Two methods that read one and the same film carry one film's error.
SHARED_FILMS = frozenset({"film", "film_file"})
# An own choice: with fewer complete canals the intervals of own errors say little.
CANALS_OF_MAIN_SET = 100
FAVOURABLE = "dry, no metal contact, fitting file"


def is_favourable(readings: pd.DataFrame) -> pd.Series:
    """Return which readings were taken dry, without metal contact and with a fitting file."""
    dry = readings["canal_state"].eq("dry")
    apart = readings["has_metal_contact"].eq(False)
    fitting = readings["steps_under_apex"].lt(SMALL_FILE_STEPS)
    return dry.fillna(False) & apart.fillna(False) & fitting.fillna(False)


def analyse_repeatability(
    rows: ResultRows, readings: pd.DataFrame, order: tuple[str, ...], period: str,
    settings: Settings,
) -> None:  # fmt: skip
    """Write s_w and the repeatability coefficient, overall and by state, by method (A3).

    Readings count as repeats when canal, method, stage and canal state are the same.
    """
    topic = Topic("agreement", "A3", period)
    for method in order:
        own = readings[readings["method"] == method]
        if not (np.bincount(group_numbers(own, [*CANAL, "stage"])) > 1).any():
            continue
        _add_repeats(rows, topic, method, own, ("", ""), settings)
        for state in ("dry", "wet"):
            chosen = own[own["canal_state"].eq(state).fillna(False)]
            _add_repeats(rows, topic, method, chosen, ("canal_state", state), settings)
        chosen = own[is_favourable(own)]
        _add_repeats(rows, topic, method, chosen, ("conditions", FAVOURABLE), settings)
        _add_single(rows, topic, method, own, settings)


def _add_repeats(
    rows: ResultRows, topic: Topic, method: str, own: pd.DataFrame, stratum: tuple[str, str],
    settings: Settings,
) -> None:  # fmt: skip
    subject = group_numbers(own, [*CANAL, "stage", "canal_state"])
    # A canal read once tells nothing about repeats; it would only swell the count.
    repeated = np.bincount(subject)[subject] > 1
    kept, labels = own[repeated], subject[repeated]
    found = repeatability(
        kept["length_mm"], labels, patient=kept["patient_id"].to_numpy(),
        minimum_subjects=settings.small_numbers.minimum_pairs,
    )  # fmt: skip
    for measure, value in (
        ("within_sd", found.within_subject_sd),
        ("repeatability_coefficient", found.repeatability_coefficient),
    ):
        rows.add(
            topic, measure, method, value, unit="mm", stratum=stratum,
            n_clusters=found.n_subjects,
        )  # fmt: skip


def _add_single(
    rows: ResultRows, topic: Topic, method: str, own: pd.DataFrame, settings: Settings
) -> None:
    """Write limits for one reading, not for the mean of several, against the confirmed."""
    found = clustered_limits(
        own["length_mm"], own["confirmed_length_mm"], patient=own["patient_id"].to_numpy(),
        tooth=own["treatment_id"], canal=own["canal"],
        minimum_pairs=settings.small_numbers.minimum_pairs,
    )  # fmt: skip
    for measure, value in (
        ("single_sd", found.standard_deviation),
        ("single_lower_limit", found.lower),
        ("single_upper_limit", found.upper),
    ):
        rows.add(
            topic, measure, method, value, unit="mm", reference="confirmed",
            n_clusters=found.n_patients,
        )  # fmt: skip


def last_readings(readings: pd.DataFrame) -> pd.DataFrame:
    """Return the first reading of each method at the last stage it was used in a canal."""
    rank = readings["stage"].map(_PLACE_OF_STAGE).astype(float).fillna(0)
    ordered = readings.assign(rank=-rank).sort_values([*CANAL, "method", "rank", "replicate"])
    return ordered.drop_duplicates([*CANAL, "method"])


def analyse_own_errors(
    rows: ResultRows, readings: pd.DataFrame, order: tuple[str, ...], period: str,
    settings: Settings,
) -> None:  # fmt: skip
    """Write each method's own SD and relative bias, the ranking and its check (A4).

    One reading per canal and method enters. Methods that share a film are never in one set:
    the main set is ranked, any other method is worked out beside the two best covered ones.
    """
    topic = Topic("agreement", "A4", period)
    wide = one_row_by_canal(last_readings(readings), ["patient_id"])
    covered = wide.notna().sum()
    known = sorted((name for name in order if name in wide), key=lambda name: -covered[name])
    main = _main_set(wide, known)
    if len(main) < 3:
        least = settings.small_numbers.minimum_pairs
        reason = f"fewer than three methods with {least} canals that all of them read"
        rows.add(topic, "own_sd", "all", refused(reason, method="Grubbs"), unit="mm")
        return
    found = _fitted(wide, main, settings)
    for one in found.methods:
        _add_method(rows, topic, one, found, "")
    for method in known:
        if method not in main:
            beside = _beside(wide, method, known)
            if len(beside) == 2:
                apart = _fitted(wide, [*beside, method], settings)
                _add_method(rows, topic, apart.methods[-1], apart, method)
    _add_check(rows, topic, found, "ranked")
    if set(wide) >= SHARED_FILMS:
        others = [name for name in main if name not in SHARED_FILMS][:2]
        if len(others) == 2:
            sharing = _fitted(wide, [*sorted(SHARED_FILMS), *others], settings)
            _add_check(rows, topic, sharing, "films")


def _complete(wide: pd.DataFrame, names: list[str]) -> int:
    return int(wide[names].notna().all(axis=1).sum())


def _shares_film(name: str, names: list[str]) -> bool:
    return name in SHARED_FILMS and bool(SHARED_FILMS & set(names))


def _main_set(wide: pd.DataFrame, known: list[str]) -> list[str]:
    """Return the methods in order of coverage while enough canals have them all."""
    chosen: list[str] = []
    for name in known:
        # The first three enter however few the canals are: the fit itself refuses too few.
        enough = len(chosen) < 3 or _complete(wide, [*chosen, name]) >= CANALS_OF_MAIN_SET
        if enough and not _shares_film(name, chosen):
            chosen.append(name)
    return chosen


def _beside(wide: pd.DataFrame, method: str, known: list[str]) -> list[str]:
    """Return the two methods that leave the most complete canals together with `method`."""
    free = [one for one in known if one != method and not _shares_film(one, [method])]
    pairs = [
        [first, second]
        for place, first in enumerate(free)
        for second in free[place + 1 :]
        if not _shares_film(second, [first])
    ]
    return max(pairs, key=lambda pair: _complete(wide, [*pair, method]), default=[])


def _fitted(wide: pd.DataFrame, names: list[str], settings: Settings) -> MethodErrors:
    patient = wide["patient_id"].to_numpy()
    return method_errors(
        wide[names].to_numpy(), names=tuple(names), patient=patient,
        minimum_rows=settings.small_numbers.minimum_pairs,
    )  # fmt: skip


def _with_set(value: Estimate, found: MethodErrors, beside: str) -> Estimate:
    others = ", ".join(one.name for one in found.methods)
    words = f"{value.method}; set: {others}"
    note = "worked out in a set of its own, so without a place in the order" if beside else ""
    reason = "; ".join(part for part in (value.reason, note) if part)
    return Estimate(
        value.estimate, value.lower, value.upper, value.level, value.n_used, value.n_missing,
        words, value.valid, reason,
    )  # fmt: skip


def _add_method(
    rows: ResultRows, topic: Topic, one: MethodError, found: MethodErrors, beside: str
) -> None:
    clusters = found.n_patients
    own_sd = _with_set(one.standard_deviation, found, beside)
    rows.add(topic, "own_sd", one.name, own_sd, unit="mm", n_clusters=clusters)
    bias = _with_set(one.bias, found, beside)
    rows.add(topic, "relative_bias", one.name, bias, unit="mm", n_clusters=clusters)
    if beside or not found.valid:
        return
    counts = (0.95, found.n_used, found.n_missing)
    rank = Estimate(
        one.rank, one.rank_lower, one.rank_upper, *counts, "rank by own SD; patient bootstrap"
    )
    rows.add(topic, "rank", one.name, rank, unit="count", n_clusters=clusters)
    chance = Estimate(
        one.chance_most_precise, math.nan, math.nan, *counts, "share of patient resamples"
    )
    rows.add(topic, "chance_most_precise", one.name, chance, unit="proportion")


def _add_check(rows: ResultRows, topic: Topic, found: MethodErrors, name: str) -> None:
    """Write the check that errors are independent: which pair shares most, and the test."""
    check = found.independence
    first, second = sorted(check.highest_pair)
    words = f"Wald test of equal covariances; set: {', '.join(m.name for m in found.methods)}"
    counts = (0.95, found.n_used, found.n_missing)
    p_value: Estimate = Estimate(check.p_value, math.nan, math.nan, *counts, words)
    excess = Estimate(check.excess_covariance, math.nan, math.nan, *counts, words)
    if not check.valid or not np.isfinite(check.p_value):
        p_value = refused(check.reason, method=words, n_used=found.n_used)
        excess = refused(check.reason, method=words, n_used=found.n_used)
    stratum = ("check", name)
    for measure, value, unit in (
        ("shared_error_p_value", p_value, "probability"),
        ("shared_error_covariance", excess, "mm2"),
    ):
        rows.add(
            topic, measure, first, value, unit=unit, reference=second, stratum=stratum,
            n_clusters=found.n_patients,
        )  # fmt: skip

"""How far fill readings can be trusted: readers, rounding to half millimetres, films."""

import numpy as np
import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.kappa import kappa_of_readings
from lengthwise.statistics.process.heaping import heaping
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate, refused

SECTION = "fill_readings"
LEVELS = ("short", "within", "flush", "beyond")
# A share on half millimetres this far above the 0.2 of unrounded readings earns a note.
HEAPING_NOTE = 0.3
FILM_QUARTERS = 2
LEAST_FILMS = 100


def analyse_fill_readings(
    rows: ResultRows, frames: dict[str, pd.DataFrame], quarters: list[str], settings: Settings
) -> None:
    """Write agreement of readers on levels, heaping of readings, and film quality.

    `frames` holds the marts reader_pairs, fills and reading_conditions.
    """
    period = window(quarters[0], quarters[-1])
    _add_readers(rows, frames["reader_pairs"], period, settings)
    _add_heaping(rows, "fill_offset_mm", frames["fills"]["fill_offset_mm"], period)
    readings = frames["reading_conditions"]
    for method, own in readings.groupby("method"):
        _add_heaping(rows, str(method), own["length_mm"], period)
    _add_films(rows, frames["fills"], quarters, settings)


def levels_of(offset_mm: pd.Series, limits_mm: tuple[float, float]) -> np.ndarray:
    """Return the level of each offset by the preset, as the fills mart has it."""
    short_below, within_to = limits_mm
    offset = offset_mm.round(2).to_numpy(dtype=float)
    rules = [offset > 0, offset > within_to, offset >= short_below]
    return np.select(rules, ["beyond", "flush", "within"], "short")


def _add_readers(
    rows: ResultRows, pairs: pd.DataFrame, period: str, settings: Settings
) -> None:
    films = pairs[pairs["measure"] == "fill_offset_mm"]
    topic, least = Topic(SECTION, "A9", period), settings.small_numbers.minimum_pairs
    for kind, own in films.groupby("kind"):
        first, second = (
            levels_of(own[name], settings.level_limits_mm)
            for name in ("first_value", "second_value")
        )
        patient = own["patient_id"].to_numpy()
        same = clustered_proportion_of_rows(first == second, patient)
        raw = same.wilson_icc if same.wilson_icc.valid else same.naive
        if len(own) < least:
            raw = refused(
                f"fewer than {least} films read twice", method=raw.method, n_used=len(own)
            )
        kappa = kappa_of_readings(
            first, second, categories=np.array(LEVELS), patient=patient, weights="linear",
            minimum_units=least,
        )  # fmt: skip
        stratum = ("readers", str(kind))
        rows.add(
            topic, "same_level", "fill_level", raw, unit="proportion", stratum=stratum,
            numerator=int(np.sum(first == second)), denominator=len(own),
            n_clusters=same.n_clusters,
        )  # fmt: skip
        rows.add(
            topic, "level_kappa", "fill_level", kappa.kappa, unit="coefficient", stratum=stratum
        )


def _add_heaping(rows: ResultRows, subject: str, readings_mm: pd.Series, period: str) -> None:
    found = heaping(readings_mm.to_numpy(dtype=float))
    value, share = found.half_step, found.half_step.estimate
    if found.valid and share >= HEAPING_NOTE and found.half_step_p < 0.001:
        words = (
            f"{100 * share:.0f} in 100 readings stand on half millimetres, where 20 would "
            "without rounding: differences under 0.5 mm are partly rounding"
        )
        value = Estimate(
            share, value.lower, value.upper, value.level, value.n_used, value.n_missing,
            value.method, True, words,
        )  # fmt: skip
    counts = found.digit_counts
    rows.add(
        Topic(SECTION, "heaping", period), "half_step_share", subject, value,
        unit="proportion", numerator=counts[0] + counts[5], denominator=sum(counts),
    )  # fmt: skip


def _add_films(
    rows: ResultRows, fills: pd.DataFrame, quarters: list[str], settings: Settings
) -> None:
    """Write the share of films rated acceptable; a film shows every canal of its tooth."""
    covered = quarters[-FILM_QUARTERS:]
    rated = fills[fills["quarter"].isin(covered) & fills["film_quality"].notna()]
    films = (rated["film_quality"] == "A").groupby(rated["treatment_id"]).all()
    patients = rated.groupby("treatment_id")["patient_id"].first()
    accepted, count = int(films.sum()), len(films)
    least = settings.small_numbers.minimum_denominator
    if count < least:
        value = refused(
            f"fewer than {least} films: counts only", method="proportion", n_used=count
        )
    else:
        found = clustered_proportion_of_rows(
            films.to_numpy(dtype=float), patients.loc[films.index].to_numpy()
        )
        value = found.wilson_icc if found.wilson_icc.valid else found.naive
        if count < LEAST_FILMS:
            words = f"{count} films in six months, fewer than the {LEAST_FILMS} advised"
            value = Estimate(
                value.estimate, value.lower, value.upper, value.level, count,
                value.n_missing, value.method, True, words,
            )  # fmt: skip
    rows.add(
        Topic(SECTION, "film_quality", window(covered[0], covered[-1])), "share",
        "film_acceptable", value, unit="proportion", numerator=accepted, denominator=count,
        target=_film_target(settings),
    )  # fmt: skip


def _film_target(settings: Settings) -> float | None:
    for item in settings.criteria:
        if item.get("id") == "film_diagnostic":
            return float(item["target"])
    return None

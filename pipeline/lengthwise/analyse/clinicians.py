"""Each clinician's own results: observed against expected, shrunken, with reliability."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lengthwise.analyse.charts import CHANGE_P
from lengthwise.analyse.measures import Measure, design_effect
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.process.case_mix import CaseMixModel, expected_risks
from lengthwise.statistics.process.change_point import change_point
from lengthwise.statistics.process.observed_expected import (
    UnitObservedExpected,
    observed_expected,
)
from lengthwise.statistics.process.shrinkage_average import (
    AveragedEffects,
    averaged_effects,
)
from lengthwise.statistics.process.shrinkage_logit import LogitNormalFit, logit_normal_shrinkage
from lengthwise.statistics.results import NAN, Estimate, refused

SECTION = "clinicians"
ROLLING_QUARTERS = 4
# One-sided: of the two 99.8 % limits only the side that nobody wants is a signal.
SIGNAL_Z = 3.090232306167813
SMALLEST_EXPECTED = 5.0
# Of many series only p <= CHANGE_P is said; this many draws place it to about 0.002.
CHANGE_DRAWS = 1999
# Known before the treatment; dropped from the end where events are few.
CASE_MIX = ("is_molar", "is_retreatment", "has_lesion", "is_premolar", "lesion_unknown")


@dataclass(frozen=True, slots=True)
class Window:
    """One measure's cases with case-mix: the event is the side that nobody wants."""

    measure: Measure
    cases: pd.DataFrame
    model: CaseMixModel
    effect: float
    period: str


def analyse_clinicians(
    rows: ResultRows, measures: list[Measure], outcomes: pd.DataFrame, quarters: list[str],
    settings: Settings,
) -> None:  # fmt: skip
    """Write B5 for every clinician and measure, over the last four quarters."""
    covered = quarters[-ROLLING_QUARTERS:]
    period = window(covered[0], covered[-1])
    for measure in measures:
        cases = with_case_mix(measure, outcomes)
        recent = cases[cases["quarter"].isin(covered)]
        reason = too_few_peers(recent, settings)
        if reason:
            _refuse(rows, measure, recent, period, reason)
            continue
        found = Window(measure, recent, fitted_case_mix(recent), _effect(recent), period)
        if not found.model.valid:
            _refuse(rows, measure, recent, period, found.model.reason)
            continue
        _add_window(rows, found, settings)
        _add_changes(rows, measure, cases)


def with_case_mix(measure: Measure, outcomes: pd.DataFrame) -> pd.DataFrame:
    """Return the known cases with `event` and the case-mix columns, 0 or 1."""
    teeth = outcomes[["treatment_id", "tooth_type", "treatment_type", "has_lesion"]]
    cases = measure.cases[measure.cases["is_met"].notna()].merge(teeth, on="treatment_id")
    met = cases["is_met"].astype(bool)
    lesion = cases["has_lesion"]
    return cases.assign(
        event=(~met if measure.higher_is_wanted else met).astype(float),
        is_molar=(cases["tooth_type"] == "molar").astype(float),
        is_premolar=(cases["tooth_type"] == "premolar").astype(float),
        is_retreatment=(cases["treatment_type"] == "retreatment").astype(float),
        has_lesion=lesion.eq(True).fillna(False).astype(float),
        lesion_unknown=lesion.isna().astype(float),
    )


def too_few_peers(cases: pd.DataFrame, settings: Settings) -> str:
    """Return why clinicians are not compared, or nothing."""
    small = settings.small_numbers
    enough = int((cases["clinician_id"].value_counts() >= small.minimum_denominator).sum())
    if enough >= small.minimum_clinicians:
        return ""
    return (
        f"{enough} clinicians with at least {small.minimum_denominator} cases, fewer than "
        f"{small.minimum_clinicians}: no comparison"
    )


def fitted_case_mix(cases: pd.DataFrame) -> CaseMixModel:
    """Return the case-mix model, with as many covariates of the declared order as events allow."""
    varied = [name for name in CASE_MIX if cases[name].nunique() > 1]
    for count in range(len(varied), -1, -1):
        table = cases[varied[:count]].to_numpy(dtype=float)
        model = expected_risks(cases["event"].to_numpy(), table)
        if model.valid:
            break
    return model


def _effect(cases: pd.DataFrame) -> float:
    return design_effect(cases.assign(is_met=cases["event"]))


def _scope(period: str, clinician: str) -> Topic:
    return Topic(SECTION, "B5", period, f"clinician:{clinician}")


def _refuse(
    rows: ResultRows, measure: Measure, cases: pd.DataFrame, period: str, reason: str
) -> None:
    for clinician, own in cases.groupby("clinician_id"):
        none = refused(reason, method="observed / expected", n_used=len(own))
        rows.add(
            _scope(period, str(clinician)),
            "observed_expected",
            measure.name,
            none,
            unit="ratio",
        )


def _add_window(rows: ResultRows, found: Window, settings: Settings) -> None:
    cases, model = found.cases, found.model
    compared = observed_expected(
        cases["event"].to_numpy(), model.risk, cases["clinician_id"].to_numpy(),
        minimum_cases=settings.small_numbers.minimum_denominator,
        design_effect=found.effect,
    )  # fmt: skip
    fit, averaged = _shrunken(cases, model, settings)
    for unit in compared.units:
        topic = _scope(found.period, unit.unit)
        rows.add(
            topic, "observed_expected", found.measure.name, _signalled(unit, found.effect),
            unit="ratio", numerator=unit.observed, denominator=unit.cases,
        )  # fmt: skip
        expected = Estimate(unit.expected, NAN, NAN, 0.95, unit.cases, 0, model.method)
        rows.add(topic, "expected", found.measure.name, expected, unit="count")
        _add_shrunken(rows, topic, found.measure.name, unit, fit, averaged)


def _shrunken(
    cases: pd.DataFrame, model: CaseMixModel, settings: Settings
) -> tuple[LogitNormalFit, AveragedEffects | None]:
    """Shrink clinicians towards the whole; cases of one clinician and one risk are one row."""
    offset = np.round(model.linear_predictor, 12)
    keys = [cases["clinician_id"].to_numpy(), offset]
    table = cases["event"].groupby(keys).agg(["sum", "size"]).reset_index()
    clinician, risk = (table[name].to_numpy() for name in table.columns[:2])
    counts = table["sum"].to_numpy(dtype=int), table["size"].to_numpy(dtype=int)
    fit = logit_normal_shrinkage(
        *counts, clinician, offset=risk.astype(float),
        minimum_units=settings.small_numbers.minimum_clinicians,
    )  # fmt: skip
    if not fit.valid:
        return fit, None
    against = averaged_effects(
        *counts, clinician, offset=risk.astype(float), against_offset=True
    )
    return fit, against


def _signalled(unit: UnitObservedExpected, effect: float) -> Estimate:
    """Return the ratio, with words where it lies far on the side that nobody wants."""
    value = unit.ratio
    if not value.valid or min(unit.expected, unit.cases - unit.expected) < SMALLEST_EXPECTED:
        return value
    z = unit.z / effect**0.5
    words = ""
    if z >= SIGNAL_Z:
        words = (
            f"{unit.observed} observed where {unit.expected:.0f} were expected from case-mix, "
            "more than chance usually gives: check data, then case-mix, then process"
        )
    method = f"{value.method}; z = {z:.2f}"
    return replace(value, method=method, reason=words)


def _add_shrunken(
    rows: ResultRows, topic: Topic, name: str, unit: UnitObservedExpected, fit: LogitNormalFit,
    averaged: AveragedEffects | None,
) -> None:  # fmt: skip
    """Write the shrunken odds ratio; its interval carries that the spread is hardly known."""
    if averaged is None:
        none = refused(fit.reason, method=fit.method, n_used=unit.cases)
        rows.add(topic, "shrunken_odds_ratio", name, none, unit="odds_ratio")
        return
    place = averaged.units.index(unit.unit)
    centre, lower, upper = (
        float(np.exp(part[place])) for part in (averaged.effect, averaged.lower, averaged.upper)
    )
    method = f"{fit.method}, averaged over the spread between units"
    value = Estimate(
        centre, lower, upper, averaged.level, unit.cases, 0, method, True, fit.reason
    )
    rows.add(topic, "shrunken_odds_ratio", name, value, unit="odds_ratio")
    reliable = Estimate(fit.reliability[place], NAN, NAN, 0.95, unit.cases, 0, fit.method)
    rows.add(topic, "reliability", name, reliable, unit="proportion")


def _add_changes(rows: ResultRows, measure: Measure, cases: pd.DataFrame) -> None:
    """Write since when a clinician's own events most likely rose, given the case-mix.

    A change of the whole practice shows in everybody's: read it beside the practice's chart.
    """
    model = fitted_case_mix(cases)
    if not model.valid:
        return
    quarters = sorted(cases["quarter"].unique())
    table = cases.assign(risk=model.risk).groupby(["clinician_id", "quarter"])
    sums = table[["event", "risk"]].sum()
    effect, period = _effect(cases), window(quarters[0], quarters[-1])
    for clinician in sums.index.unique("clinician_id"):
        own = sums.loc[clinician].reindex(quarters, fill_value=0.0)
        found = change_point(
            own["event"].to_numpy() / effect, own["risk"].to_numpy(),
            direction="rise", minimum_points=6, draws=CHANGE_DRAWS,
        )  # fmt: skip
        topic = _scope(period, str(clinician))
        if not found.valid or found.position is None:
            none = refused(found.reason, method=found.method, n_used=found.n_used)
            rows.add(topic, "own_change", measure.name, none, unit="ratio")
            continue
        since = str(quarters[found.position])
        words = f"own cases changed most likely with {since} (p = {found.p_value:.4f})"
        value = Estimate(
            found.ratio_after / found.ratio_before if found.ratio_before else NAN, NAN, NAN,
            0.95, found.n_used, found.n_missing, found.method, True,
            words if found.p_value <= CHANGE_P else "",
        )  # fmt: skip
        rows.add(topic, "own_change", measure.name, value, unit="ratio", reference=since)

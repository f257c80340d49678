"""C10: the adjusted ratios with missing covariates imputed, beside those of complete teeth."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_frame import REFERENCE, Columns
from lengthwise.analyse.outcome_model import Topics
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.adjusted import AdjustedAssociation
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.imputation import ImputedCopies, impute_chained
from lengthwise.statistics.outcome.rubin import pool_fits
from lengthwise.statistics.results import Estimate, refused

SEED = 20_240_101
COPIES = 20
# Above so many teeth whole patients are drawn: the check is then sharp enough.
MOST_TEETH = 20_000
METHOD = "chained equations, Rubin's rules"


def analyse_imputed(
    rows: ResultRows, topics: Topics, columns: Columns, fit: AdjustedAssociation,
    settings: Settings,
) -> None:  # fmt: skip
    """Write the pooled ratio of each level, and how much information was missing."""
    topic = topics.of("C10")
    reason = _why_not(columns, fit)
    columns = _sampled(columns)
    copies = None if reason else _copies(columns)
    if copies is not None and not copies.valid:
        reason = copies.reason
    if reason or copies is None:
        for level in columns.contrasts:
            value = refused(reason, method=METHOD, n_used=columns.outcome.size)
            rows.add(topic, "odds_ratio", level, value, unit="odds_ratio", reference=REFERENCE)
        return
    _add_pooled(rows, topic, columns, fit, copies, settings)


def _sampled(columns: Columns) -> Columns:
    """Return the rows of patients drawn without replacement, or all where they are few."""
    n = columns.outcome.size
    if n <= MOST_TEETH:
        return columns
    codes, labels = pd.factorize(columns.patient)
    order = np.random.default_rng(SEED).permutation(len(labels))
    sizes = np.bincount(codes)[order]
    chosen = np.zeros(len(labels), dtype=bool)
    chosen[order[: np.searchsorted(np.cumsum(sizes), MOST_TEETH, side="right")]] = True
    kept = chosen[codes]
    return replace(
        columns, outcome=columns.outcome[kept], patient=columns.patient[kept],
        level=columns.level[kept], exposure=columns.exposure[kept],
        covariates=columns.covariates[kept],
    )  # fmt: skip


def _why_not(columns: Columns, fit: AdjustedAssociation) -> str:
    if np.isfinite(columns.covariates).all():
        return "no covariate is missing, so there is nothing to impute"
    if not fit.fit.valid:
        return fit.reason or fit.fit.reason
    return "the penalised fit is not pooled over imputations" if fit.penalised else ""


def _copies(columns: Columns) -> ImputedCopies:
    table = {name: columns.covariates[:, i] for i, name in enumerate(columns.names)}
    kinds = {
        name: "continuous" if name == "months_from_treatment" else "binary"
        for name in columns.names
    }
    return impute_chained(
        table, kinds, complete_columns=np.column_stack([columns.outcome, columns.exposure]),
        n_copies=COPIES, seed=SEED,
    )  # fmt: skip


def _add_pooled(
    rows: ResultRows, topic: Topic, columns: Columns, fit: AdjustedAssociation,
    copies: ImputedCopies, settings: Settings,
) -> None:  # fmt: skip
    terms = ("intercept", *columns.contrasts, *(columns.names[c] for c in fit.columns))
    one = np.ones((columns.outcome.size, 1))
    fits = [
        fit_gee(
            columns.outcome,
            np.hstack([one, columns.exposure, copy[:, list(fit.columns)]]),
            columns.patient,
            terms=terms,
            level=settings.confidence_level,
        )
        for copy in copies.copies
    ]
    freedom = max(len(set(columns.patient)) - len(terms), 1)
    pooled = pool_fits(fits, complete_degrees=freedom, level=settings.confidence_level)
    n = columns.outcome.size
    drawn = f"; whole patients drawn, {n} teeth" if n < fit.rows_used.size else ""
    for level in columns.contrasts:
        item = pooled[terms.index(level)]
        value = item.value
        if value.valid:
            ends = np.exp([value.estimate, value.lower, value.upper])
            value = Estimate(
                float(ends[0]), float(ends[1]), float(ends[2]), value.level, n, 0,
                f"GEE; {copies.method}; Rubin's rules{drawn}",
            )  # fmt: skip
        rows.add(
            topic, "odds_ratio", level, value, unit="odds_ratio", reference=REFERENCE,
            denominator=n, n_clusters=len(set(columns.patient)),
        )  # fmt: skip
        share = Estimate(
            item.fraction_missing, float("nan"), float("nan"), value.level, n, 0, METHOD,
            value.valid, value.reason,
        )  # fmt: skip
        rows.add(topic, "fraction_missing", level, share, unit="proportion")

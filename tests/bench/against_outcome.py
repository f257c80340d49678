"""C1 to C9: each analysis with the options of the pipeline, and its nearest counterpart."""

from typing import Any

import numpy as np

from bench.against_data import COVARIATES, tooth_rows
from bench.against_pairs import Pair, clustered_logit
from lengthwise.statistics.outcome import followup_bounds as bounds
from lengthwise.statistics.outcome.adjusted import adjusted_association
from lengthwise.statistics.outcome.crude_table import crude_table_from_rows
from lengthwise.statistics.outcome.discrete_time import fit_discrete_time, person_periods
from lengthwise.statistics.outcome.dose_response import spline_response
from lengthwise.statistics.outcome.firth import fit_firth
from lengthwise.statistics.outcome.followup_table import followup_by_group
from lengthwise.statistics.outcome.influence import cluster_influence
from lengthwise.statistics.outcome.model_plan import CovariateGroup
from lengthwise.statistics.outcome.ordinal import fit_proportional_odds, parallel_test
from lengthwise.statistics.outcome.regression import fit_logistic
from lengthwise.statistics.outcome.review_weights import review_weights
from lengthwise.statistics.outcome.sensitivity import e_value
from lengthwise.statistics.outcome.splines import knots_at_quantiles, restricted_cubic_basis
from lengthwise.statistics.outcome.standardisation import designs_by_level, standardised_risks
from lengthwise.statistics.outcome.survival import kaplan_meier
from lengthwise.statistics.outcome.turnbull import turnbull
from lengthwise.statistics.outcome.turnbull_bootstrap import turnbull_survival
from lengthwise.statistics.outcome.weighted_risks import weighted_risk_difference
from lengthwise.statistics.proportions import clustered_proportion_of_rows

LEVELS = ("within", "short", "beyond")
CONTRASTS = LEVELS[1:]
TERMS = ("intercept", *CONTRASTS, *COVARIATES)
MONTHS = tuple(range(0, 121))


def design_of(rows: Any) -> np.ndarray:
    return np.column_stack([np.ones(rows.outcome.size), rows.exposure, rows.covariates])


def c1_ours(rows: Any) -> tuple[float, ...]:
    found = crude_table_from_rows(rows.level, rows.outcome, levels=LEVELS, reference="within")
    return tuple(row.odds_ratio.estimate for row in found.rows[1:])


def c1_theirs(rows: Any) -> tuple[float, ...]:
    import pandas as pd
    from statsmodels.stats.contingency_tables import Table2x2

    counts = pd.crosstab(rows.level, rows.outcome).loc[:, [1.0, 0.0]]
    tables = [Table2x2(counts.loc[[name, "within"]].to_numpy()) for name in CONTRASTS]
    return tuple(float(table.oddsratio) for table in tables)


def c1_share_ours(rows: Any) -> tuple[float, ...]:
    found = clustered_proportion_of_rows(rows.outcome, rows.patient).naive
    return found.lower, found.upper


def c1_share_theirs(rows: Any) -> tuple[float, ...]:
    from statsmodels.stats.proportion import proportion_confint

    found = proportion_confint(rows.outcome.sum(), rows.outcome.size, method="wilson")
    return tuple(map(float, found))


def adjusted(rows: Any) -> Any:
    return adjusted_association(
        rows.outcome, rows.exposure, rows.covariates, rows.patient, exposure_terms=CONTRASTS,
        covariate_terms=COVARIATES,
        covariate_order=[CovariateGroup(name, (i,)) for i, name in enumerate(COVARIATES)],
    )  # fmt: skip


def fitted(n: int) -> Any:
    """Return the teeth of n canals with their adjusted model, which is not timed."""
    rows = tooth_rows(n)
    rows.model = adjusted(rows)
    return rows


def c2_ours(rows: Any) -> tuple[float, ...]:
    return tuple(map(float, adjusted(rows).fit.vector()[1:3]))


def c2_theirs(rows: Any) -> tuple[float, ...]:
    import statsmodels.api as sm

    fit = sm.GEE(
        rows.outcome, design_of(rows), rows.patient, family=sm.families.Binomial(),
        cov_struct=sm.cov_struct.Exchangeable(),
    ).fit()  # fmt: skip
    return tuple(map(float, fit.params[1:3]))


def c2_influence(rows: Any) -> tuple[float, ...]:
    found = cluster_influence(rows.outcome, rows.model.design, rows.patient, rows.model.fit)
    return (found.lowest("short").estimate,)


def c3_ours(rows: Any) -> tuple[float, ...]:
    fit = fit_firth(rows.outcome, design_of(rows), terms=TERMS).fit
    return tuple(map(float, fit.vector()[1:3]))


def c4_ours(rows: Any) -> tuple[float, ...]:
    settings = {
        name: {1: float(name == "short"), 2: float(name == "beyond")} for name in LEVELS
    }
    design = rows.model.design
    found = standardised_risks(
        rows.model.fit, designs_by_level(design, settings), reference="within", design=design,
        level_of_row=list(rows.level),
    )  # fmt: skip
    return tuple(row.risk.estimate for row in found.rows)


def c5_ours(rows: Any) -> tuple[float, ...]:
    grid = np.arange(-40, 21) / 10
    found = spline_response(
        rows.outcome, rows.offset, at=grid.tolist(), reference=-1.0,
        covariates=rows.covariates, covariate_terms=COVARIATES, cluster=rows.patient,
    )  # fmt: skip
    return tuple(map(float, found.fit.vector()[1:4]))


def c5_theirs(rows: Any) -> tuple[float, ...]:
    basis = restricted_cubic_basis(rows.offset, knots_at_quantiles(rows.offset))
    design = np.column_stack([np.ones(len(basis)), basis, rows.covariates])
    return tuple(map(float, clustered_logit(rows.outcome, design, rows.patient).params[1:4]))


def _bent(rows: Any) -> np.ndarray:
    offset = rows.offset
    return np.column_stack(
        [
            np.ones_like(offset),
            np.maximum(-2 - offset, 0),
            np.maximum(offset, 0),
            rows.covariates,
        ]
    )


def c5_slopes_ours(rows: Any) -> tuple[float, ...]:
    fit = fit_logistic(rows.outcome, _bent(rows), terms=TERMS, cluster=rows.patient)
    return tuple(map(float, fit.vector()[1:3]))


def c5_slopes_theirs(rows: Any) -> tuple[float, ...]:
    return tuple(
        map(float, clustered_logit(rows.outcome, _bent(rows), rows.patient).params[1:3])
    )


def c6_ours(rows: Any) -> tuple[float, ...]:
    design = np.hstack([rows.exposure, rows.covariates])
    fit = fit_proportional_odds(rows.index, design, terms=TERMS[1:])
    return tuple(fit.coefficient(name).estimate for name in CONTRASTS)


def c6_theirs(rows: Any) -> tuple[float, ...]:
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    design = np.hstack([rows.exposure, rows.covariates])
    fit = OrderedModel(rows.index, design, distr="logit").fit(method="bfgs", disp=0)
    return tuple(map(float, fit.params[:2]))


def c6_check(rows: Any) -> tuple[float, ...]:
    return (parallel_test(rows.index, np.hstack([rows.exposure, rows.covariates])).p_value,)


def c7_who(rows: Any) -> tuple[float, ...]:
    found = followup_by_group(rows.reviewed, rows.level, variable="level", cluster=rows.patient)
    return tuple(row.share.estimate for row in found.rows)


def c7_weights_ours(rows: Any) -> tuple[float, ...]:
    found = review_weights(
        rows.reviewed, rows.exposure, rows.covariates[:, :3], exposure_terms=CONTRASTS,
        covariate_terms=COVARIATES[:3],
    )  # fmt: skip
    return tuple(map(float, found.model.vector()))


def c7_weights_theirs(rows: Any) -> tuple[float, ...]:
    design = np.column_stack(
        [np.ones(rows.outcome.size), rows.exposure, rows.covariates[:, :3]]
    )
    return tuple(map(float, clustered_logit(rows.reviewed, design, None).params))


def weighted(n: int) -> Any:
    """Return the teeth of n canals with a weight of each, and two levels to compare."""
    rows = tooth_rows(n)
    rows.weights = np.where(rows.reviewed == 1, 1 + 0.3 * rows.covariates[:, 0], np.nan)
    rows.known = np.where(rows.reviewed == 1, rows.outcome, np.nan)
    rows.exposed = np.select(
        [rows.level == "short", rows.level == "within"], [1.0, 0.0], np.nan
    )
    return rows


def c7_difference_ours(rows: Any) -> tuple[float, ...]:
    found = weighted_risk_difference(
        rows.known, rows.exposed, rows.weights, cluster=rows.patient
    )
    return (found.score_difference.estimate,)


def c7_difference_theirs(rows: Any) -> tuple[float, ...]:
    import statsmodels.api as sm

    used = np.isfinite(rows.known) & np.isfinite(rows.exposed)
    design = np.column_stack([np.ones(used.sum()), rows.exposed[used]])
    fit = sm.WLS(rows.known[used], design, weights=rows.weights[used]).fit(
        cov_type="cluster", cov_kwds={"groups": rows.patient[used]}
    )
    return (float(fit.params[1]),)


def c7_bounds(rows: Any) -> tuple[float, ...]:
    found = bounds.followup_bounds(rows.known, rows.exposed)
    return found.difference_lowest, found.difference_highest


def c8_ours(rows: Any) -> tuple[float, ...]:
    curve = kaplan_meier(
        rows.months, rows.lost.astype(float), times=MONTHS, cluster=rows.patient
    )
    return tuple(point.survival.estimate for point in curve.points)


def c8_theirs(rows: Any) -> tuple[float, ...]:
    from statsmodels.duration.survfunc import SurvfuncRight

    curve = SurvfuncRight(rows.months, rows.lost.astype(int))
    place = np.searchsorted(curve.surv_times, MONTHS, side="right") - 1
    return tuple(np.where(place < 0, 1.0, curve.surv_prob[np.maximum(place, 0)]))


def c8_turnbull(rows: Any) -> tuple[float, ...]:
    return tuple(turnbull(rows.left, rows.right, times=(12, 24, 36, 48)).survival)


def c8_redrawn(rows: Any) -> tuple[float, ...]:
    draws = 200 if rows.left.size > 20_000 else 500
    found = turnbull_survival(
        rows.left, rows.right, rows.patient, times=(12, 24, 36, 48), n_draws=draws, seed=1
    )
    return tuple(one.estimate for one in found)


def in_periods(n: int) -> Any:
    """Return the teeth of n canals with a row for each year under review."""
    rows = tooth_rows(n)
    rows.periods = person_periods(
        rows.years, rows.healed.astype(float), period_length=1.0, n_periods=4
    )
    rows.of_unit = rows.exposure[rows.periods.unit]
    rows.patient_of_unit = rows.patient[rows.periods.unit]
    return rows


def c8_yearly_ours(rows: Any) -> tuple[float, ...]:
    fit = fit_discrete_time(
        rows.periods.event, rows.periods.period, rows.of_unit, terms=CONTRASTS,
        cluster=rows.patient_of_unit,
    )  # fmt: skip
    return tuple(fit.coefficient(name).estimate for name in CONTRASTS)


def c8_yearly_theirs(rows: Any) -> tuple[float, ...]:
    kinds = np.unique(rows.periods.period)
    design = np.column_stack([rows.periods.period[:, None] == kinds, rows.of_unit]).astype(
        float
    )
    fit = clustered_logit(rows.periods.event, design, rows.patient_of_unit)
    return tuple(map(float, fit.params[-2:]))


def c9_ours(rows: Any) -> tuple[float, ...]:
    found = e_value(rows, rows - 0.2, rows + 0.2)
    return found.estimate, found.limit


LOGIT = "Logit, errors by patient"
PAIRS = (
    Pair("C1", "crude table by level", tooth_rows, c1_ours, c1_theirs, "Table2x2"),
    Pair("C1", "share by patient", tooth_rows, c1_share_ours, c1_share_theirs,
         "proportion_confint"),
    Pair("C2", "adjusted association", tooth_rows, c2_ours, c2_theirs, "GEE exchangeable"),
    Pair("C2", "one patient left out", fitted, c2_influence),
    # With more teeth the penalty changes nothing, and the pipeline says so instead.
    Pair("C3", "Firth, profile limits", tooth_rows, c3_ours, up_to=10_000),
    Pair("C4", "standardised risks", fitted, c4_ours),
    Pair("C5", "spline of the offset", tooth_rows, c5_ours, c5_theirs, LOGIT),
    Pair("C5", "odds per mm", tooth_rows, c5_slopes_ours, c5_slopes_theirs, LOGIT),
    Pair("C6", "proportional odds", tooth_rows, c6_ours, c6_theirs, "OrderedModel", closeness=1e-3),
    Pair("C6", "check of one slope", tooth_rows, c6_check),
    Pair("C7", "share reviewed by level", tooth_rows, c7_who),
    Pair("C7", "weights for review", tooth_rows, c7_weights_ours, c7_weights_theirs, "Logit"),
    Pair("C7", "weighted difference", weighted, c7_difference_ours, c7_difference_theirs,
         "WLS, errors by patient"),
    Pair("C7", "bounds, tipping point", weighted, c7_bounds),
    Pair("C8", "tooth survival by patient", tooth_rows, c8_ours, c8_theirs, "SurvfuncRight"),
    Pair("C8", "healing between reviews", tooth_rows, c8_turnbull),
    Pair("C8", "the same, patients redrawn", tooth_rows, c8_redrawn),
    Pair("C8", "healing by year", in_periods, c8_yearly_ours, c8_yearly_theirs, LOGIT),
    Pair("C9", "E-value of a ratio", lambda _: 2.0, c9_ours),
)  # fmt: skip

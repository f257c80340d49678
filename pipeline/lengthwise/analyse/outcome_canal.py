"""C2 again with the level of one canal drawn at random, in the place of the worst canal's."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_frame import LEVELS, REFERENCE, Columns
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.adjusted import AdjustedAssociation
from lengthwise.statistics.outcome.gee import fit_gee
from lengthwise.statistics.outcome.model_fit import exponentiated
from lengthwise.statistics.outcome.resampled_units import combine_draws
from lengthwise.statistics.results import Estimate, refused

MEASURE = "odds_ratio_one_canal"
METHOD = "one canal of each tooth drawn at random"
SEED, DRAWS = 20_240_101, 50
# Of so many teeth a few draws tell the same.
MANY_TEETH, FEW_DRAWS = 20_000, 5


def analyse_one_canal(
    rows: ResultRows, topic: Topic, known: pd.DataFrame, fills: pd.DataFrame, columns: Columns,
    fit: AdjustedAssociation, settings: Settings,
) -> None:  # fmt: skip
    """Write the ratios of the adjusted model over draws of one canal a tooth.

    A tooth with more canals is more often short or beyond in its worst one; a canal drawn at
    random is not. The outcome stays that of the tooth.
    """
    levels = _canal_levels(known, fills)
    values = {}
    if fit.penalised or not fit.fit.valid:
        reason = "no model to repeat" if not fit.fit.valid else "the penalised fit is not drawn"
        values = {name: refused(reason, method=METHOD) for name in columns.contrasts}
    else:
        values = _drawn(columns, fit, levels, settings)
    for name, value in values.items():
        rows.add(
            topic, MEASURE, name, value, unit="odds_ratio", reference=REFERENCE,
            denominator=value.n_used, n_clusters=fit.fit.n_clusters,
        )  # fmt: skip


def _canal_levels(known: pd.DataFrame, fills: pd.DataFrame) -> pd.DataFrame:
    """Return the tooth's row in `known` and the place in LEVELS of every assessed canal."""
    row_of = pd.Series(np.arange(len(known)), index=known["treatment_id"])
    canals = pd.DataFrame(
        {
            "row": row_of.reindex(fills["treatment_id"]).to_numpy(),
            "level": pd.Index(LEVELS).get_indexer(pd.Index(fills["level"])),
        }
    )
    kept = canals[canals["row"].notna() & (canals["level"] >= 0)]
    return kept.astype(np.int64).sort_values("row", kind="stable", ignore_index=True)


def _drawn(
    columns: Columns, fit: AdjustedAssociation, canals: pd.DataFrame, settings: Settings
) -> dict[str, Estimate]:
    row, level = canals["row"].to_numpy(), canals["level"].to_numpy()
    teeth, first, counts = np.unique(row, return_index=True, return_counts=True)
    draws = DRAWS if teeth.size <= MANY_TEETH else FEW_DRAWS
    random = np.random.default_rng(SEED)
    terms = ("intercept", *columns.contrasts, *(columns.names[c] for c in fit.columns))
    covariates = columns.covariates[teeth][:, list(fit.columns)]
    wanted = [LEVELS.index(name) for name in columns.contrasts]
    found = np.full((2, draws, len(wanted)), np.nan)
    used = 0
    for draw in range(draws):
        chosen = level[first + np.floor(random.random(teeth.size) * counts).astype(np.int64)]
        exposure = (chosen[:, None] == np.array(wanted)).astype(float)
        one = np.ones((teeth.size, 1))
        model = fit_gee(
            columns.outcome[teeth], np.hstack([one, exposure, covariates]),
            columns.patient[teeth], terms=terms, level=settings.confidence_level,
        )  # fmt: skip
        if model.valid:
            own = slice(1, 1 + len(wanted))
            found[:, draw] = model.vector()[own], np.array(model.standard_errors[own]) ** 2
            used = model.n_used
    return {
        name: _ratio(found[:, :, i], used, settings) for i, name in enumerate(columns.contrasts)
    }


def _ratio(found: np.ndarray, used: int, settings: Settings) -> Estimate:
    value = combine_draws(*found, level=settings.confidence_level, n_used=used)
    shown = exponentiated(value) if value.valid else value
    return replace(shown, method=f"{METHOD}; {value.method}")

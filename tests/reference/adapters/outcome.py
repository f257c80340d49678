"""Cases of healing, survival and loss to follow-up."""

from reference.adapters import (
    outcome_extremes,
    outcome_missing,
    outcome_models,
    outcome_risks,
    outcome_survival,
)

METHODS: dict = {
    **outcome_models.METHODS,
    **outcome_risks.METHODS,
    **outcome_missing.METHODS,
    **outcome_survival.METHODS,
    **outcome_extremes.METHODS,
}

"""What a 95 % interval holds in simulation where that is not 95 in 100."""

from lengthwise.statistics.outcome.model_fit import ModelFit

FEW_EVENTS = 10
FEW_CLUSTERS = 50
RARE = 0.15


def simulated_limit(fit: ModelFit, *, penalised: bool, is_difference: bool) -> str:
    """Return the words for an interval of an adjusted fit that does not hold 95 in 100.

    Parameters
    ----------
    fit : ModelFit
        A logistic fit of the outcome.
    penalised : bool
        True for the penalised fit, which takes rows as independent.
    is_difference : bool
        True for a standardised difference of risk, False for an odds ratio.

    Returns
    -------
    str
        Empty where 93 to 97 in 100 held in simulation, or where nothing was fitted.

    Notes
    -----
    From the study `outcome_adjusted` of `python -m tests.coverage`: 20 to 500 patients, 1.3
    and 4 teeth a patient, 3 to 30 in 100 not healed.
    """
    if not fit.valid:
        return ""
    scarce = min(fit.n_events, fit.n_used - fit.n_events)
    if scarce < FEW_EVENTS and scarce < RARE * fit.n_used:
        return (
            f"with fewer than {FEW_EVENTS} events, and those rare, this interval is wide: in "
            "simulation it holds the truth in up to 99 of 100"
        )
    if penalised and is_difference and fit.n_clusters < FEW_CLUSTERS:
        return (
            f"with fewer than {FEW_CLUSTERS} patients this interval is somewhat narrow: in "
            "simulation it holds the truth in 92 to 95 of 100"
        )
    return ""

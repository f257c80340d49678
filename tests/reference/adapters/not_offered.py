"""Method ids that the product does not answer, each with its reason."""

NOT_OFFERED: dict[str, str] = {
    "bland_altman_log": (
        "lengths are compared in mm; the action thresholds are in mm, and a ratio of lengths "
        "would have no threshold"
    ),
    "c_chart": "counts without a denominator are not charted; rare events use the g or t chart",
    "carstensen_BA_est": (
        "needs a mixed model with a residual variance per method; replicate limits and each "
        "method's own error answer the same question without it"
    ),
    "donner_test": "clustered proportions are compared by intervals and Rao-Scott",
    "ewma_chart": "monthly points are few; run, p-prime and individuals charts serve",
    "glmm_logit": "population-averaged effects are reported; patient-specific ones are not",
    "glmm_logit_3level": (
        "population-averaged effects clustered on the patient are reported instead"
    ),
    "interval_censored_aft": (
        "healing time is shown by Turnbull's estimate and a discrete-time model"
    ),
    "ipw_treatment": "weights are used for loss to follow-up, not for a treatment comparison",
    "log_binomial": "risk ratios come from standardised risks; this model may not converge",
    "proportional_odds_mixed": (
        "the ordinal model is checked against its assumption and clustered by robust errors"
    ),
    "rao_scott_and_donner": "holds the Donner test, which is not offered; Rao-Scott is alone",
    "tost_welch": "methods are compared on the same canals, so only the paired form applies",
    "york_regression": "no reading carries its own known variance in both methods",
}

"""Which results may be shared at all: what is not named here never leaves the practice."""

from dataclasses import dataclass

import pandas as pd

from lengthwise.report.run_data import Row

SHARE, COUNT, MEAN, MODEL, DIFFERENCE = "share", "count", "mean", "model", "difference"
LEVELS = ("short", "within", "beyond", "not_assessable")
CONDITIONS = ("canal_state", "metal_contact", "file_size", "stage", "stability", "circuit")
FLOW_PARENTS = {
    "patients": "",
    "treatments": "",
    "canals": "",
    "readings": "",
    "canals_with_pairs": "canals",
    "fills": "canals",
    "fills_assessable": "fills",
    "teeth_due": "treatments",
    "teeth_reviewed": "teeth_due",
}


@dataclass(frozen=True, slots=True)
class Family:
    """Results of one analysis and measure that may be shared.

    Attributes
    ----------
    kind : str
        share: numerator of denominator, worked out anew from rounded counts; count; mean:
        a statistic of many, with its n; model: a fitted number, given to two decimals;
        difference: of two shares that are shown.
    strata : tuple of str
        Kinds of stratum that may be shown. Clinicians and sites are never among them.
    subjects : tuple of str
        The subjects that may be shown; any where empty.
    """

    analysis: str
    measure: str
    kind: str
    strata: tuple[str, ...] = ("",)
    subjects: tuple[str, ...] = ()

    def holds(self, row: Row) -> bool:
        return row["stratum_kind"] in self.strata and (
            not self.subjects or row["subject"] in self.subjects
        )


OF_LEVELS = ("short", "within", "beyond")
FAMILIES = {
    (family.analysis, family.measure): family
    for family in (
        Family("flow", "count", COUNT, subjects=tuple(FLOW_PARENTS)),
        # B1 serves criteria (any subject) and filling levels.
        Family("B1", "share", SHARE, ("", "quarter", "tooth_type")),
        Family("A6", "share_within_0_5", SHARE),
        Family("A6", "share_within_1_0", SHARE),
        Family("C1", "share_not_healed", SHARE, subjects=OF_LEVELS),
        Family("chain", "share_doubtful", SHARE),
        Family("chain", "share_of_fillings", SHARE, ("readings",)),
        Family("B7", "share_before", SHARE, ("action",)),
        Family("B7", "share_after", SHARE, ("action",)),
        Family("A2", "bias", MEAN),
        Family("A2", "sd", MEAN),
        Family("A2", "lower_limit", MEAN),
        Family("A2", "upper_limit", MEAN),
        Family("A3", "within_sd", MEAN),
        Family("A4", "own_sd", MEAN),
        Family("A4", "relative_bias", MEAN),
        Family("A4", "rank", MEAN),
        Family("A4", "chance_most_precise", MEAN),
        Family("A7", "bias_shift_crude", MEAN, CONDITIONS),
        Family("A7", "bias_shift_adjusted", MEAN, CONDITIONS),
        Family("A7", "sd_ratio_crude", MEAN, CONDITIONS),
        Family("A7", "sd_ratio_adjusted", MEAN, CONDITIONS),
        Family("C4", "standardised_risk", MODEL, subjects=OF_LEVELS),
        Family("C4", "risk_difference", MODEL, subjects=OF_LEVELS),
        Family("C1", "risk_difference", DIFFERENCE, subjects=OF_LEVELS),
        Family("chain", "share_difference", DIFFERENCE),
        Family("B7", "share_change", DIFFERENCE, ("action",)),
    )
}
SECTIONS = ("flow", "criteria", "fill", "agreement", "outcome", "actions")
PRACTICE = "practice"


def shareable(estimates: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of the families, of the whole practice only."""
    if estimates.empty:
        return estimates
    keys = zip(estimates["analysis"], estimates["measure"], strict=True)
    families = [FAMILIES.get(key) for key in keys]
    kept = [
        family is not None
        and family.holds(row)
        and row["scope"] == PRACTICE
        and row["section"] in SECTIONS
        and (row["section"] != "fill" or row["subject"] in LEVELS)
        for family, (_, row) in zip(families, estimates.iterrows(), strict=True)
    ]
    return estimates[kept].assign(family=[f for f, k in zip(families, kept, strict=True) if k])

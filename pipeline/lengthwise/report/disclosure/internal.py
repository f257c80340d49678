"""A run as the practice's own meeting sees it: counts of one to four are not shown."""

from typing import Any

import numpy as np
import pandas as pd

from lengthwise.report.disclosure.cells import tabulate
from lengthwise.report.disclosure.families import SHARE, Family
from lengthwise.report.disclosure.profiles import INTERNAL, Profile, profile_of
from lengthwise.report.disclosure.publish import masked
from lengthwise.report.disclosure.relations import relate
from lengthwise.report.disclosure.suppress import hidden_rows, small_rows
from lengthwise.report.run_data import RunData

SMALL = "masked: a count under {least}"
PROTECTING = "masked: shown, it would give away a masked count"
# Shares of patients by what was done or found. Completeness of records and the flow of cases
# say nothing of a patient; lists for clinical review are exempt and stay whole.
MASKED_SHARES = {
    ("fill", "B1", "share"),
    ("criteria", "B1", "share"),
    ("outcome", "C1", "share_not_healed"),
    ("outcome", "C1", "share_not_healed_loose"),
    ("outcome", "C7", "share_reviewed"),
    ("clinicians", "B5", "share"),
}
# Worked out from two shares; exact ones would give a masked count back.
CONTRASTS = ("risk_difference", "risk_ratio", "odds_ratio")


def internal_view(run_data: RunData) -> RunData:
    """Return the run with small counts masked, and those that would give one away.

    Everything else stays as it is, row-level figures and lists for review among it: this
    profile keeps small cells out of tables, it does not make a report fit to leave.
    """
    profile = profile_of(run_data, INTERNAL)
    estimates = run_data.estimates
    if estimates.empty:
        return run_data
    keys = zip(*(estimates[name] for name in ("section", "analysis", "measure")), strict=True)
    rows = estimates[[key in MASKED_SHARES for key in keys]]
    rows = rows[rows["numerator"].notna() & rows["denominator"].notna()]
    rows = rows.assign(family=[Family(row, "share", SHARE) for row in rows["analysis"]])
    reasons = _reasons(rows, profile)
    reasons |= _contrasts(estimates, rows, reasons)
    changed = _masked(estimates, reasons)
    return RunData(run_data.run, changed, run_data.points, run_data.lists, run_data.findings)


def _reasons(rows: pd.DataFrame, profile: Profile) -> dict[Any, str]:
    table = tabulate(rows)
    relate(table, rows, ("quarter", "tooth_type", "clinician", "site", "treatment_type"))
    small = small_rows(table, profile)
    # What the practice did as a whole stays readable; a stratum is hidden to protect another.
    wholes = set(rows.index[rows["stratum_kind"] == ""])
    hidden = hidden_rows(table, profile, public=wholes)
    return {
        **dict.fromkeys(hidden, PROTECTING),
        **dict.fromkeys(small, SMALL.format(least=profile.minimum_count)),
    }


def _contrasts(
    estimates: pd.DataFrame, rows: pd.DataFrame, reasons: dict[Any, str]
) -> dict[Any, str]:
    """Return the crude contrasts that a masked share goes into."""
    crude = rows[(rows["analysis"] == "C1") & (rows["stratum_kind"] == "")]
    hidden = set(crude.loc[[index in reasons for index in crude.index], "subject"])
    found = estimates[
        (estimates["analysis"] == "C1") & estimates["measure"].isin(CONTRASTS)
        & (estimates["subject"].isin(hidden) | estimates["reference"].isin(hidden))
        & (estimates["stratum_kind"] == "")
    ]  # fmt: skip
    return dict.fromkeys(found.index, PROTECTING)


def _masked(estimates: pd.DataFrame, reasons: dict[Any, str]) -> pd.DataFrame:
    changed = estimates.copy()
    for name in ("numerator", "denominator", "n_used", "n_missing", "n_clusters"):
        changed[name] = changed[name].astype(float)
    for index, reason in reasons.items():
        for name, value in masked(estimates.loc[index], reason).items():
            if name in changed:
                changed.loc[index, name] = np.nan if value is None else value
    return changed

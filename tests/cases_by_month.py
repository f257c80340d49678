"""Cases of one measure by month, for charts and plans."""

import pandas as pd


def monthly_cases(shares: list[tuple[int, int]], start: str = "2024-01") -> pd.DataFrame:
    """Return one row per case: (met, cases) of each month in turn."""
    months = pd.period_range(start, periods=len(shares), freq="M").astype(str)
    rows = [
        (f"P{place}-{case}", "C01", month, case < met)
        for place, (month, (met, size)) in enumerate(zip(months, shares, strict=True))
        for case in range(size)
    ]
    frame = pd.DataFrame(rows, columns=["patient_id", "clinician_id", "month", "is_met"])
    return frame.assign(quarter="2024-Q1", site_id=None, treatment_id=frame["patient_id"])

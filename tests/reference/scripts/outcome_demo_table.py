"""Writes tables/outcome_demo.csv: the teeth of the demo as numbers, for R and for the tests.

Run as `python tests/reference/scripts/outcome_demo_table.py AUDIT_FOLDER` with the folder that
`lengthwise demo` made. The table is kept, so that values of R stay those of one data set.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

from lengthwise.analyse.outcome_frame import covariate_columns, worst_offset_mm
from lengthwise.analyse.outcome_healing import healing_months
from lengthwise.store import results
from lengthwise.store.database import connect

TABLE = Path(__file__).resolve().parents[1] / "tables" / "outcome_demo.csv"


def teeth(folder: Path) -> pd.DataFrame:
    """Return one row a tooth due for review or reviewed."""
    with connect(folder / "audit.duckdb", read_only=True) as connection:
        outcomes = results.mart(connection, "outcomes")
        times = results.mart(connection, "tooth_times")
    frame = covariate_columns(outcomes)
    frame.insert(0, "patient", pd.factorize(outcomes["patient_id"])[0])
    frame.insert(1, "clinician", pd.factorize(outcomes["clinician_id"])[0])
    frame.insert(2, "level", outcomes["level"].to_numpy())
    frame.insert(
        3, "y", outcomes["is_not_healed"].astype("Float64").to_numpy(float, na_value=np.nan)
    )
    frame["offset"] = worst_offset_mm(outcomes)
    frame["pai"] = outcomes["pai"].astype("Float64").to_numpy(float, na_value=np.nan)
    frame["is_due"] = outcomes["is_due"].astype(int).to_numpy()
    frame["is_lost_other"] = (outcomes["outcome"] == "lost_other").astype(int).to_numpy()
    own = times.set_index("treatment_id").reindex(outcomes["treatment_id"]).reset_index()
    lost = own["lost_days"].astype("Float64").to_numpy(float, na_value=np.nan)
    frame["lost"] = np.isfinite(lost).astype(int)
    frame["days"] = np.where(np.isfinite(lost), lost, own["last_seen_days"].to_numpy(float))
    judged = (
        (own["is_judged"].eq(True) & own["has_lesion"].eq(True))
        .fillna(False)
        .to_numpy(dtype=bool)
    )
    left, right = healing_months(own)
    frame["left"], frame["right"] = (
        np.where(judged, left, np.nan),
        np.where(judged, right, np.nan),
    )
    kept = (frame["is_due"] == 1) | frame["y"].notna() | frame["days"].notna()
    return frame[kept]


if __name__ == "__main__":
    teeth(Path(sys.argv[1])).to_csv(
        TABLE, index=False, float_format="%.10g", lineterminator="\n"
    )

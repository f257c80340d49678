"""Writes tables/process_demo.csv: the assessed fillings of the demo as numbers, for R and tests.

Run as `python tests/reference/scripts/process_demo_table.py AUDIT_FOLDER` with the folder that
`lengthwise demo` made. The table is kept, so that values of R stay those of one data set.
"""

import sys
from pathlib import Path

import pandas as pd

from lengthwise.analyse.clinicians import with_case_mix
from lengthwise.analyse.measures import fill_measures
from lengthwise.store import results
from lengthwise.store.database import connect

TABLE = Path(__file__).resolve().parents[1] / "tables" / "process_demo.csv"


def fillings(folder: Path) -> pd.DataFrame:
    """Return one row a filling: patient, clinician, month from 1, short, beyond, case-mix."""
    with connect(folder / "audit.duckdb", read_only=True) as connection:
        fills = results.mart(connection, "fills")
        outcomes = results.mart(connection, "outcomes")
    named = {measure.name: measure for measure in fill_measures(fills)}
    cases = with_case_mix(named["fill_beyond"], outcomes)
    short = with_case_mix(named["fill_short"], outcomes)
    months = sorted(cases["month"].unique())
    return pd.DataFrame(
        {
            "patient": pd.factorize(cases["patient_id"])[0] + 1,
            "clinician": cases["clinician_id"].str[1:].astype(int),
            "month": cases["month"].map({name: place + 1 for place, name in enumerate(months)}),
            "short": short["event"].astype(int),
            "beyond": cases["event"].astype(int),
            "molar": cases["is_molar"].astype(int),
            "retreatment": cases["is_retreatment"].astype(int),
            "lesion": cases["has_lesion"].astype(int),
            "premolar": cases["is_premolar"].astype(int),
            "lesion_unknown": cases["lesion_unknown"].astype(int),
        }
    )


if __name__ == "__main__":
    fillings(Path(sys.argv[1])).to_csv(TABLE, index=False, lineterminator="\n")

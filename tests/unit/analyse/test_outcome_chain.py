"""Which readings count as doubtful, and the shares of fillings after them."""

import pandas as pd
import pytest
from teeth import PERIOD

from lengthwise.analyse.outcome_chain import analyse_chain, doubtful_canals
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings


def _reading(canal: int, **changed: object) -> dict[str, object]:
    plain = {
        "treatment_id": f"T{canal}", "canal": "P", "method": "electronic",
        "stage": "after_preparation", "canal_state": "dry", "has_metal_contact": False,
        "is_stable": True, "is_circuit_checked": True, "steps_under_apex": 0, "length_mm": 20.0,
    }  # fmt: skip
    return {**plain, **changed}


def _pairs(readings: pd.DataFrame, scans: dict[int, float]) -> pd.DataFrame:
    own = readings[["treatment_id", "canal", "method", "length_mm"]]
    other = pd.DataFrame(
        [(f"T{canal}", "P", "cbct", length) for canal, length in scans.items()],
        columns=own.columns,
    )
    return pd.concat([own, other], ignore_index=True)


@pytest.mark.parametrize(
    ("changed", "scan_mm", "is_doubtful"),
    [
        ({}, 20.0, False),
        ({}, 21.0, False),
        ({}, 21.01, True),
        ({}, 18.9, True),
        ({"canal_state": "wet"}, 20.0, True),
        ({"has_metal_contact": True}, 20.0, True),
        ({"is_stable": False}, 20.0, True),
        ({"is_circuit_checked": False}, 20.0, False),
        ({"stage": "initial"}, 20.0, False),
        ({"canal_state": None, "is_stable": None}, 20.0, False),
    ],
)
def test_what_makes_a_reading_doubtful(changed, scan_mm, is_doubtful):
    readings = pd.DataFrame([_reading(1, **changed), _reading(2)])
    found = doubtful_canals(_pairs(readings, {1: scan_mm}), readings, Settings())
    assert bool(found.set_index("treatment_id").loc["T1", "is_doubtful"]) is is_doubtful


def test_only_the_last_stage_makes_a_reading_doubtful():
    early = _reading(1, stage="initial", canal_state="wet")
    readings = pd.DataFrame(
        [early, _reading(1), _reading(2, stage="initial", canal_state="wet")]
    )
    found = doubtful_canals(_pairs(readings, {}), readings, Settings())
    assert dict(zip(found["treatment_id"], found["is_doubtful"], strict=True)) == {
        "T1": False,
        "T2": True,
    }


def _rows(n: int) -> list[dict[str, object]]:
    """Return rows where half the readings are wet, 3 in 10 of them short and 1 in 10 others."""
    readings = pd.DataFrame(
        [_reading(i, canal_state="wet" if i < n / 2 else "dry") for i in range(n)]
    )
    short = [(i % 10) < (3 if i < n / 2 else 1) for i in range(n)]
    fills = pd.DataFrame(
        {
            "treatment_id": readings["treatment_id"], "canal": "P",
            "patient_id": [f"P{i}" for i in range(n)],
            "level": ["short" if one else "within" for one in short],
        }
    )  # fmt: skip
    rows = ResultRows()
    analyse_chain(rows, _pairs(readings, {}), readings, fills, PERIOD, Settings())
    return rows.estimates


def test_shares_after_doubtful_and_other_readings():
    found = {
        (row["measure"], row["subject"], row["stratum"]): row["estimate"] for row in _rows(80)
    }
    assert found["share_doubtful", "electronic", ""] == pytest.approx(0.5)
    assert found["share_of_fillings", "short", "doubtful"] == pytest.approx(0.3)
    assert found["share_of_fillings", "short", "other"] == pytest.approx(0.1)
    assert found["share_difference", "short", ""] == pytest.approx(0.2)


def test_few_canals_give_counts_only():
    assert all(not row["valid"] and row["reason"] for row in _rows(8))

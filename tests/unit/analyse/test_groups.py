"""Rows brought together by key are those that share it, whatever the key is held as."""

import numpy as np
import pandas as pd
import pytest

from lengthwise.analyse.groups import group_numbers, one_row_by_canal
from lengthwise.statistics.clusters import cluster_codes

READINGS = pd.DataFrame(
    {
        "treatment_id": ["T2", "T2", "T1", "T1", "T1"],
        "canal": ["MB", "MB", "MB", "DB", "DB"],
        "method": ["film", "cbct", "film", "film", "cbct"],
        "patient_id": [7, 7, 3, 3, 3],
        "length_mm": [20.0, 20.5, 19.0, 18.0, np.nan],
    }
)
CODED = READINGS.astype(dict.fromkeys(["treatment_id", "canal", "method"], "category"))


@pytest.mark.parametrize("readings", [READINGS, CODED], ids=["text", "codes"])
def test_one_row_by_canal_with_a_column_by_method(readings):
    wide = one_row_by_canal(readings, ["treatment_id", "canal", "patient_id"])
    assert wide["treatment_id"].tolist() == ["T2", "T1", "T1"]
    assert wide["patient_id"].tolist() == [7, 3, 3]
    assert wide["film"].tolist() == [20.0, 19.0, 18.0]
    assert wide["cbct"].isna().tolist() == [False, True, True]


def test_a_blank_is_a_group_of_its_own():
    state = pd.Series(["dry", None, "dry", None])
    for column in (state, state.astype("category")):
        assert group_numbers(pd.DataFrame({"state": column}), ["state"]).tolist() == [
            0,
            1,
            0,
            1,
        ]


def test_categories_are_clusters_and_a_missing_one_is_refused():
    labels = pd.Series(["b", "a", "b"], dtype="category")
    codes, count = cluster_codes(labels)
    assert (codes.tolist(), count) == ([0, 1, 0], 2)
    with pytest.raises(ValueError, match="no missing label"):
        cluster_codes(pd.Series(["b", None], dtype="category"))

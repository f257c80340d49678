"""Lines between methods: error variances from repeats, and one canal of each patient."""

import numpy as np
import pandas as pd
import pytest

from lengthwise.analyse.agreement_lines import (
    error_variance_ratio,
    one_canal_of_each_patient,
    repeats_of,
)


def repeated(method, sd, times, generator, canals=400):
    """Return readings of `canals` canals by a method, each read so many times."""
    canal = np.repeat(np.arange(canals), times)
    return pd.DataFrame(
        {
            "treatment_id": canal.astype(str), "canal": "C", "method": method,
            "patient_id": canal // 2, "stage": "initial", "canal_state": "dry",
            "length_mm": 20 + sd * generator.standard_normal(len(canal)),
        }
    )  # fmt: skip


def ratio_of(readings):
    repeats = {name: repeats_of(readings, name) for name in ("electronic", "film")}
    return error_variance_ratio(repeats, "electronic", "film")


def test_ratio_is_that_of_the_means_that_are_compared():
    draw = np.random.default_rng(3)
    readings = pd.concat([repeated("film", 0.6, 2, draw), repeated("electronic", 0.3, 3, draw)])
    found = ratio_of(readings)
    # (0.09 / 3) / (0.36 / 2)
    assert found.lower < 0.03 / 0.18 < found.upper
    assert found.estimate == pytest.approx(1 / 6, rel=0.25)


def test_a_method_read_once_gives_no_ratio_and_says_which():
    draw = np.random.default_rng(3)
    readings = pd.concat([repeated("film", 0.6, 1, draw), repeated("electronic", 0.3, 3, draw)])
    found = ratio_of(readings)
    assert not found.valid
    assert found.reason == "no repeated readings of film"


def test_each_patient_gives_one_complete_canal_whatever_the_order_of_rows():
    frame = pd.DataFrame(
        {
            "treatment_id": [f"T{row:03d}" for row in range(60)], "canal": "C",
            "patient_id": np.arange(60) // 3, "method_mm": np.arange(60.0),
            "reference_mm": np.where(np.arange(60) % 7 == 0, np.nan, 1.0),
        }
    )  # fmt: skip
    drawn = one_canal_of_each_patient(frame)
    assert sorted(drawn["patient_id"]) == list(range(20))
    assert drawn["reference_mm"].notna().all()
    shuffled = frame.sample(frac=1, random_state=9)
    again = one_canal_of_each_patient(shuffled)
    assert set(again["treatment_id"]) == set(drawn["treatment_id"])

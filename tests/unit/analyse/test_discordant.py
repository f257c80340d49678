"""Which readings stand for a canal where two methods differ, and what was recorded for them."""

import pandas as pd
import pytest

from lengthwise.analyse.agreement_discordant import (
    compared_readings,
    conditions_of_compared,
    recorded_conditions,
)

DEFAULT = {
    "treatment_id": "T1", "canal": "MB", "method": "electronic", "stage": "initial",
    "replicate": 1, "length_mm": 20.0, "canal_state": "dry", "has_metal_contact": False,
    "is_circuit_checked": True, "is_stable": True, "steps_under_apex": 0,
}  # fmt: skip


def readings(*rows):
    frame = pd.DataFrame([DEFAULT | row for row in rows])
    boolean = ["has_metal_contact", "is_circuit_checked", "is_stable"]
    return frame.astype(dict.fromkeys(boolean, "boolean"))


CBCT = {"method": "cbct", "length_mm": 20.0}


def test_only_the_reading_that_differs_explains():
    frame = readings(
        CBCT,
        {"length_mm": 20.1, "canal_state": "wet"},
        {"length_mm": 18.0, "replicate": 2, "has_metal_contact": True},
        {"length_mm": 20.0, "stage": "after_preparation", "is_stable": False},
    )
    found = conditions_of_compared(frame, "electronic", "cbct").loc[("T1", "MB")]
    assert [name for name, flag in found.items() if flag] == ["metal contact"]
    every = recorded_conditions(frame).loc[("T1", "MB")]
    assert [name for name, flag in every.items() if flag] == [
        "wet",
        "metal contact",
        "unstable",
    ]


def test_readings_of_the_other_method_explain_as_well():
    frame = readings(CBCT | {"is_stable": False}, {"length_mm": 18.0})
    found = conditions_of_compared(frame, "electronic", "cbct").loc[("T1", "MB")]
    named = [name for name, flag in found.items() if flag]
    assert named == ["unstable", "not reconfirmed after preparation"]


def test_every_canal_is_represented_by_one_reading_of_each_method():
    frame = readings(
        CBCT, {"length_mm": 20.4}, {"length_mm": 19.6, "replicate": 2},
        CBCT | {"canal": "P"}, {"canal": "P", "length_mm": 21.0},
        {"canal": "DB", "length_mm": 21.0},
    )  # fmt: skip
    found = compared_readings(frame, "electronic", "cbct")
    assert found.groupby(["canal", "method"]).size().to_dict() == {
        ("MB", "cbct"): 1, ("MB", "electronic"): 1, ("P", "cbct"): 1, ("P", "electronic"): 1,
    }  # fmt: skip
    # 20.4 and 19.6 lie equally far from 20.0: the last one stands.
    own = found[(found["canal"] == "MB") & (found["method"] == "electronic")]
    assert own["length_mm"].tolist() == [19.6]


def test_what_was_not_recorded_explains_nothing():
    frame = readings(
        CBCT, {"length_mm": 18.0, "canal_state": None, "is_stable": None, "steps_under_apex": None,
               "stage": "before_filling"},
    )  # fmt: skip
    found = conditions_of_compared(frame, "electronic", "cbct").loc[("T1", "MB")]
    assert not found.any()


@pytest.mark.parametrize(("steps", "is_small"), [(2, False), (3, True)])
def test_a_small_file_is_three_sizes_under_the_apex(steps, is_small):
    frame = readings(CBCT, {"length_mm": 18.0, "steps_under_apex": steps})
    found = conditions_of_compared(frame, "electronic", "cbct").loc[("T1", "MB")]
    assert found["small file for the apex"] == is_small

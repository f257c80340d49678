"""What a clinician's own scope holds: own conditions, own canals, own trend, and nothing else."""

import numpy as np
import pandas as pd
import pytest

from lengthwise.analyse.measures import Measure
from lengthwise.analyse.own_canals import CONDITIONS, analyse_own_canals, own_conditions
from lengthwise.analyse.own_shares import analyse_own_shares
from lengthwise.analyse.rows import ResultRows
from lengthwise.report.run_data import RunData
from lengthwise.settings import Settings


def _readings(**changed: object) -> dict[str, object]:
    return {
        "treatment_id": "T1", "canal": "MB", "method": "electronic", "stage": "initial",
        "canal_state": "dry", "has_metal_contact": False, "steps_under_apex": 1.0,
        "is_stable": True, "is_circuit_checked": True,
    } | changed  # fmt: skip


def test_a_condition_holds_where_any_reading_had_it_and_is_unknown_where_none_says() -> None:
    table = pd.DataFrame(
        [
            _readings(canal_state="wet"),
            _readings(stage="before_filling"),
            _readings(canal="DB", canal_state=None, steps_under_apex=np.nan, is_stable=None),
            _readings(canal="DB", canal_state=None, steps_under_apex=3.0, is_stable=None),
            _readings(canal="P", stage="not_recorded", method="electronic"),
            _readings(canal="P", method="film", canal_state="wet"),
        ]
    )
    found = own_conditions(table)
    assert found.loc[("T1", "MB"), "read_wet"] == 1
    assert found.loc[("T1", "MB"), "not_reconfirmed"] == 0
    assert np.isnan(found.loc[("T1", "DB"), "read_wet"])
    assert found.loc[("T1", "DB"), "small_file"] == 1
    assert np.isnan(found.loc[("T1", "DB"), "unstable"])
    assert found.loc[("T1", "DB"), "not_reconfirmed"] == 1
    assert found.loc[("T1", "P"), "read_wet"] == 0
    assert np.isnan(found.loc[("T1", "P"), "not_reconfirmed"])


def test_demo_stores_conditions_and_discordant_canals_of_every_clinician(
    demo_run: RunData,
) -> None:
    own = demo_run.select(analysis="B5", measure="condition_share")
    assert set(own["subject"]) == set(CONDITIONS)
    assert own["scope"].nunique() == 7
    assert own["scope"].str.startswith("clinician:").all()
    assert (own["numerator"] <= own["denominator"]).all()
    counted = demo_run.select(analysis="B5", measure="discordant_canals", reference="film_file")
    listed = demo_run.listed("discordant_canals")
    with_film = listed[listed["detail"].str.contains("film with file")]
    for _, row in counted.iterrows():
        code = str(row["scope"]).partition(":")[2]
        assert row["period"] == "2026-Q2"
        assert row["numerator"] >= (with_film["clinician_id"] == code).sum()


def test_own_share_carries_an_interval_and_its_quarters_sum_to_it(demo_run: RunData) -> None:
    whole = demo_run.select(analysis="B5", measure="share", subject="fill_within")
    by_quarter = demo_run.select(
        analysis="B5", measure="share_in_quarter", subject="fill_within"
    )
    assert (whole["lower"] < whole["estimate"]).all()
    assert (whole["upper"] > whole["estimate"]).all()
    recent = by_quarter[by_quarter["period"] >= "2025-Q3"]
    summed = recent.groupby("scope")[["numerator", "denominator"]].sum()
    expected = whole.set_index("scope")[["numerator", "denominator"]]
    pd.testing.assert_frame_equal(summed.astype(int), expected.sort_index().astype(int))
    assert by_quarter["period"].nunique() == 8


def test_peers_are_points_without_code_or_number_of_cases(demo_run: RunData) -> None:
    points = demo_run.plotted("peers", "fill_within")
    own = demo_run.select(analysis="B5", measure="share", subject="fill_within")
    assert set(points["label"]) == {""}
    assert points["n"].isna().all()
    assert list(points["y"]) == pytest.approx(sorted(own["estimate"]))


def _cases(clinicians: dict[str, tuple[int, int]]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "patient_id": f"{name}{place}", "clinician_id": name, "quarter": "2026-Q2",
            "is_met": place < met,
        }
        for name, (met, size) in clinicians.items()
        for place in range(size)
    )  # fmt: skip


def test_peers_are_not_drawn_with_four_who_have_enough_cases() -> None:
    four = {f"C0{number}": (5, 12) for number in range(1, 5)} | {"C05": (5, 9)}
    rows = ResultRows()
    measure = Measure("fill_within", _cases(four), 0.85, True)
    analyse_own_shares(rows, [measure], ["2026-Q2"], Settings())
    assert rows.points == []
    (refusal,) = [row for row in rows.estimates if row["measure"] == "peer_display"]
    assert (
        refusal["reason"] == "4 clinicians with at least 10 cases, fewer than 5: no comparison"
    )
    small = [row for row in rows.estimates if row["scope"] == "clinician:C05"]
    assert {row["reason"] for row in small} == {"fewer than 10 cases: counts only"}
    assert all(row["estimate"] is None and row["denominator"] == 9 for row in small)


def _frames(wet_of_others: bool) -> dict[str, pd.DataFrame]:
    """Return twelve canals of C01 and of C02; only the readings of C02 change."""
    readings, pairs, conduct = [], [], []
    for clinician in ("C01", "C02"):
        for number in range(12):
            key = {"treatment_id": f"{clinician}-{number}", "canal": "B"}
            wet = wet_of_others and clinician == "C02"
            who = {"patient_id": f"{clinician}-{number}", "clinician_id": clinician,
                   "quarter": "2026-Q2"}  # fmt: skip
            readings.append(_readings(**key, canal_state="wet" if wet else "dry"))
            conduct.append(key | who)
            for method, length in (("electronic", 20.0), ("film_file", 20.2)):
                shift = 5.0 if wet and method == "electronic" else 0.0
                pairs.append(key | who | {"method": method, "length_mm": length + shift})
    return {
        "reading_conditions": pd.DataFrame(readings), "length_pairs": pd.DataFrame(pairs),
        "canal_conduct": pd.DataFrame(conduct),
    }  # fmt: skip


def test_own_rows_do_not_move_with_the_rows_of_another() -> None:
    held = []
    for changed in (False, True):
        rows = ResultRows()
        analyse_own_canals(rows, _frames(changed), ["2026-Q2"], Settings())
        table = pd.DataFrame(rows.estimates).drop(columns="position")
        held.append(dict(iter(table.groupby("scope"))))
    own, other = "clinician:C01", "clinician:C02"
    pd.testing.assert_frame_equal(
        held[0][own].reset_index(drop=True), held[1][own].reset_index(drop=True)
    )
    wet = held[1][other].query("measure == 'condition_share' and subject == 'read_wet'")
    assert wet["numerator"].item() == 12
    apart = held[1][other].query("measure == 'discordant_canals' and reference == 'film_file'")
    assert apart["numerator"].item() == 12

"""Where fillings end: every stratum, taper apart, and the distribution in mm."""

import numpy as np
import pandas as pd
import pytest

from lengthwise.analyse.fill_levels import analyse_fill_levels
from lengthwise.analyse.fill_offsets import analyse_fill_offsets
from lengthwise.analyse.rows import ResultRows
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.fill import fill_further, fill_overall, fill_spread
from lengthwise.settings import Settings

KINDS = {"quarter", "month", "clinician", "tooth_type", "canal", "site", "treatment_type"}
PERIOD = "2024-Q1..2026-Q2"


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_stratum_of_the_demo_adds_up_to_its_fillings(
    demo_run: RunData, kind: str
) -> None:
    rows = demo_run.select(section="fill", measure="share", stratum_kind=kind)
    assert set(rows["subject"]) == {"within", "short", "beyond", "not_assessable"}
    counts = rows.pivot_table(index="stratum", columns="subject", values="numerator")
    whole = rows.pivot_table(index="stratum", columns="subject", values="denominator")
    levels = counts[["within", "short", "beyond"]].sum(axis=1)
    assert (levels == whole["within"]).all()
    assert (levels + counts["not_assessable"] == whole["not_assessable"]).all()


def test_core_sealer_voids_and_taper_stand_apart(demo_run: RunData) -> None:
    rows = demo_run.select(section="fill", measure="share", period="2026-Q2")
    marks = {"core_beyond", "sealer_beyond", "voids", "taper_consistent"}
    assert marks <= set(rows["subject"])
    shown = fill_overall(demo_run)
    for words in ("core beyond", "sealer beyond", "voids", "taper consistent"):
        assert words in shown


def test_histogram_holds_every_assessed_filling_and_both_limits(demo_run: RunData) -> None:
    points = demo_run.plotted("fill_offsets")
    assessed = demo_run.one(section="fill", measure="share", subject="within", period=PERIOD)
    assert assessed is not None
    assert points["n"].sum() == assessed["denominator"]
    limits = points[points["series"] == "limit"]
    assert sorted(limits["x"]) == [-2.0, 0.0]


def test_report_shows_the_spread_and_the_further_strata(
    demo_run: RunData, tmp_path: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(str(tmp_path))
    shown = fill_spread(demo_run)
    assert "Dashed: limits of the preset 0-2" in shown.replace("\\", "")
    assert "Half of the fillings end between" in shown
    tables = fill_further(demo_run)
    for caption in ("level and site", "level and canal", "level and month"):
        assert caption in tables


def _fills(offset_mm: list[float]) -> pd.DataFrame:
    count = len(offset_mm)
    return pd.DataFrame(
        {
            "treatment_id": range(count), "patient_id": range(count), "clinician_id": "C01",
            "quarter": "2026-Q2", "fill_offset_mm": offset_mm, "level": "within",
        }
    )  # fmt: skip


def test_mean_of_one_canal_a_patient_has_the_plain_t_interval() -> None:
    offset = [-2.0, -1.5, -1.0, -1.0, -0.5, 0.0, -0.5, -1.0, -1.5, -1.2, -0.3, -0.8]
    rows = ResultRows()
    analyse_fill_offsets(rows, _fills(offset), "2026-Q2", "2026-Q2", Settings())
    table = pd.DataFrame(rows.estimates).set_index("measure")
    assert table.loc["mean", "estimate"] == pytest.approx(np.mean(offset))
    # 2.2009851600916 is the 97.5 % quantile of t with 11 degrees of freedom (R: qt(0.975, 11)).
    error = np.std(offset, ddof=1) / np.sqrt(len(offset))
    assert table.loc["mean", "upper"] - np.mean(offset) == pytest.approx(
        2.2009851600916 * error
    )
    assert table.loc["median", "estimate"] == -1.0
    bars = {point["x"]: point["y"] for point in rows.points if point["series"] == "fillings"}
    assert bars == {-2.0: 1.0, -1.5: 2.0, -1.0: 5.0, -0.5: 3.0, 0.0: 1.0}


def test_a_few_fillings_give_no_distribution_and_no_picture() -> None:
    rows = ResultRows()
    analyse_fill_offsets(rows, _fills([-1.0] * 9), "2026-Q2", "2026-Q2", Settings())
    assert [row["reason"] for row in rows.estimates] == [
        "fewer than 10 fillings: no distribution"
    ]
    assert rows.points == []


def test_levels_in_words_are_counted_as_missing_from_the_distribution() -> None:
    rows = ResultRows()
    fills = _fills([-1.0] * 6 + [-0.5] * 6 + [np.nan] * 3)
    analyse_fill_offsets(rows, fills, "2026-Q2", "2026-Q2", Settings())
    assert {(row["n_used"], row["n_missing"]) for row in rows.estimates} == {(12, 3)}
    few = ResultRows()
    analyse_fill_offsets(few, fills.tail(9), "2026-Q2", "2026-Q2", Settings())
    assert {row["reason"] for row in few.estimates} == {
        "fewer than 10 fillings in mm (3 in words only): no distribution"
    }


def test_practice_without_sites_or_months_has_no_such_strata() -> None:
    fills = _fills([-1.0] * 12).assign(
        month=None, site_id=None, tooth_type="molar", canal="MB", treatment_type="primary",
        is_core_beyond=None, is_sealer_beyond=None, has_voids=None, is_taper_consistent=None,
    )  # fmt: skip
    rows = ResultRows()
    analyse_fill_levels(rows, fills, "2026-Q2", "2026-Q2", Settings())
    kinds = {row["stratum_kind"] for row in rows.estimates}
    assert kinds == {"", "quarter", "clinician", "tooth_type", "canal", "treatment_type"}

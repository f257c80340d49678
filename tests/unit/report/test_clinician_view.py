"""What one clinician's sheet may know: own rows, the practice's rules, peers without names."""

import numpy as np
import pandas as pd
import pytest

from lengthwise.errors import ReportError
from lengthwise.report.clinician_key import code_of, key_text, read_key, with_new
from lengthwise.report.clinician_view import (
    OWN,
    as_sheet,
    clinician_view,
    clinicians_of,
)
from lengthwise.report.run_data import from_frames
from lengthwise.report.snapshot import write_snapshot
from report_runs import RunBuilder, build_run, empty_run

SLUG = "00ff00ff00ff00ff"
PLANTED = "ZZPLANTED"


@pytest.fixture
def planted():
    """Return a run in which C02's rows, wherever they lie, hold a value of their own."""
    builder = RunBuilder()
    for code, share in (("C01", 0.75), ("C02", 0.625), ("C03", 0.75)):
        common = {"scope": f"clinician:{code}", "n_used": 40}
        reason = PLANTED if code == "C02" else ""
        builder.share(
            "clinicians", "B5", "fill_within", "share", int(40 * share), 40, target=0.85,
            reason=reason, **common,
        )  # fmt: skip
        builder.listed("discordant_canals", f"T-{code}-{PLANTED}" if reason else "T1", "P",
                       "26", -1.6, reason or "wet", clinician=code)  # fmt: skip
        builder.point("funnel", "fill_within", "unit", code, 40, share, n=40)
    for share in (0.625, 0.75, 0.75):
        builder.point("peers", "fill_within", "clinician", PLANTED, 0, share, n=40)
    builder.share("fill", "B1", "within", "share", 85, 120)
    findings = pd.DataFrame([(PLANTED, "fills", 1, "error", "")])
    findings.columns = ["code", "export", "count", "severity", "remedy"]
    frames = {name: pd.DataFrame(getattr(builder, name)) for name in
              ("estimates", "points", "lists")}  # fmt: skip
    run = dict(build_run().run)
    run["inputs"] = [{"name": f"fills-{PLANTED}.csv", "sha256": "ab", "rows_read": 1}]
    run["settings"] = {**run["settings"], "actions": [{"action": f"C02 {PLANTED}"}]}
    return from_frames({"run": run, **frames, "findings": findings})


def test_nothing_of_another_clinician_is_in_the_view(planted, tmp_path):
    path = write_snapshot(clinician_view(planted, "C01", SLUG), tmp_path / "run.json")
    text = path.read_text(encoding="utf-8")
    assert PLANTED not in text
    assert not any(code in text for code in ("C01", "C02", "C03"))
    # The same search finds the value where it may be.
    assert PLANTED in write_snapshot(planted, tmp_path / "all.json").read_text(encoding="utf-8")


def test_own_rows_are_kept_whole_and_renamed(planted):
    view = clinician_view(planted, "C02", SLUG)
    (row,) = [row for _, row in view.estimates.iterrows()]
    assert (row["scope"], row["numerator"], row["estimate"]) == (OWN, 25, 0.625)
    assert row["result_id"].endswith(f".clinician-{SLUG}")
    assert list(view.lists["clinician_id"]) == [OWN]
    assert view.setting("sheet") == SLUG
    assert view.findings.empty


def test_peers_lose_label_number_of_cases_digits_and_the_own_point(planted):
    view = clinician_view(planted, "C01", SLUG)
    assert set(view.points["figure"]) == {"peers"}
    assert list(view.points["y"]) == [0.62, 0.75]
    assert view.points[["lower", "upper", "n"]].isna().all().all()
    assert set(view.points["label"]) == {""}


def test_practice_numbers_and_other_figures_stay_outside(planted):
    view = clinician_view(planted, "C03", SLUG)
    assert list(view.estimates["section"]) == ["clinicians"]
    assert "actions" not in view.settings
    assert view.run["inputs"] == []


def test_a_clinician_without_results_is_refused(planted):
    with pytest.raises(ValueError, match="no result"):
        clinician_view(planted, "C09", SLUG)
    assert clinicians_of(planted) == ["C01", "C02", "C03"]


def test_a_whole_run_becomes_one_sheet_and_an_empty_one_is_a_clear_error(planted):
    view = as_sheet(planted)
    assert set(view.estimates["scope"]) == {OWN}
    assert as_sheet(view) is view
    with pytest.raises(ReportError, match="no result of a clinician"):
        as_sheet(empty_run())


def test_the_key_leads_back_and_known_names_stay(tmp_path):
    path = tmp_path / "key.csv"
    slugs = with_new({"C01": SLUG}, ["C01", "=C02", "C,3"])
    assert slugs["C01"] == SLUG
    assert len(set(slugs.values())) == 3
    path.write_text(key_text(slugs), encoding="utf-8")
    assert "\n=C02" not in path.read_text(encoding="utf-8")
    assert ",'=C02\n" in path.read_text(encoding="utf-8")
    assert read_key(path) == slugs
    assert code_of(path, slugs["=C02"]) == "=C02"
    assert code_of(path, "f" * 16) is None
    assert read_key(tmp_path / "none.csv") == {}


def test_names_of_sheets_are_random():
    drawn = {with_new({}, ["C01"])["C01"] for _ in range(50)}
    assert len(drawn) == 50
    assert all(len(slug) == 16 and not np.isnan(int(slug, 16)) for slug in drawn)

"""A summary leaves only when every count in it is large enough; pooled sums equal pooled rows."""

import json

import numpy as np
import pandas as pd
import pytest

from lengthwise.errors import ReportError
from lengthwise.report.disclosure import release_record, shared_view
from lengthwise.report.run_data import RunData
from lengthwise.report.sharing.pooled import as_json, pool, read_summary
from lengthwise.report.sharing.summary import summarise
from lengthwise.report.sharing.text import pooled_lines, refusal_lines, summary_lines
from lengthwise.statistics.random_effects import random_effects
from report_runs import build_run


@pytest.fixture(scope="module")
def run():
    """A run with enough reviewed teeth; its model has 6 parameters."""
    made = build_run()
    rows = made.estimates
    teeth = (rows["measure"] == "share_not_healed") & (rows["stratum_kind"] == "")
    rows.loc[teeth, ["numerator", "denominator"]] *= 5
    return RunData(made.run, rows, made.points, made.lists, made.findings)


@pytest.fixture(scope="module")
def summary(run):
    found, reasons = summarise(run, "A1")
    assert reasons == ()
    return found


def other(summary, site, shift=0.0):
    made = json.loads(json.dumps(summary)) | {"site": site}
    for item in made["agreement"]:
        n = item["n"]
        item["sum_of_squares_mm2"] += 2 * shift * item["sum_mm"] + n * shift**2
        item["sum_mm"] += n * shift
        item["bias_mm"] += shift
    return made


def test_a_summary_holds_sums_and_large_counts_and_nothing_of_a_row(run, summary):
    text = json.dumps(summary)
    for value in ("T0031", "C02", "C01", "Demo practice", "treatments.csv", "36"):
        assert f'"{value}"' not in text
    assert {item["method"] for item in summary["agreement"]} >= {"electronic", "film"}
    differences = run.plotted("bland_altman", "electronic")["y"]
    item = next(item for item in summary["agreement"] if item["method"] == "electronic")
    assert item["n"] == len(differences)
    assert item["sum_mm"] == pytest.approx(differences.sum(), abs=0.006)
    assert all(part["cases"] >= 10 for part in summary["fill"] + summary["outcome"])
    assert json.loads(text) == summary


def test_everything_in_it_is_shown_to_the_sender(summary):
    shown = "\n".join(summary_lines(summary))
    for item in summary["agreement"]:
        assert f"n {item['n']}" in shown
    for item in summary["fill"] + summary["outcome"]:
        assert f"{item['cases']} of {item['of']}" in shown


def test_a_small_cell_refuses_the_summary_without_telling_it(run):
    rows = run.estimates.copy()
    whole = (rows["measure"] == "share_not_healed") & (rows["subject"] == "short")
    rows.loc[whole & (rows["stratum_kind"] == ""), "numerator"] = 3
    small = RunData(run.run, rows, run.points, run.lists, run.findings)
    _, reasons = summarise(small, "A1")
    assert "outcome, short: a count below 10" in reasons
    assert not any("3" in reason for reason in reasons)
    assert summarise(small, "A1", leave_out=["outcome"])[1] == ()
    assert refusal_lines(reasons)[0] == "This summary may not leave the practice:"


@pytest.mark.parametrize(("events", "is_refused"), [(59, True), (60, False)])
def test_fewer_than_ten_events_for_each_parameter_refuse_the_model(run, events, is_refused):
    rows = run.estimates.copy()
    added = {}
    for measure, value in (("events", events), ("parameters", 6)):
        found = rows[(rows["analysis"] == "C2") & (rows["measure"] == measure)]
        if found.empty:
            pattern = rows[rows["analysis"] == "C2"].iloc[0]
            added[measure] = pattern.to_dict() | {
                "measure": measure, "subject": "model", "estimate": float(value),
                "stratum_kind": "", "valid": True,
            }  # fmt: skip
        else:
            rows.loc[found.index, "estimate"] = float(value)
    rows = pd.concat([rows, pd.DataFrame(list(added.values()))], ignore_index=True)
    counted = RunData(run.run, rows, run.points, run.lists, run.findings)
    _, reasons = summarise(counted, "A1")
    wanted = "model of not healed: fewer than 10 events for each parameter"
    assert (wanted in reasons) is is_refused
    assert summarise(counted, "A1", leave_out=["model"])[1] == ()


@pytest.mark.parametrize("site", ["", "Dr Example", "A" * 13, "a/b", "A1\n"])
def test_a_site_is_told_by_a_code_and_not_by_a_name(run, site):
    with pytest.raises(ReportError, match="site code"):
        summarise(run, site)


def test_a_comparison_that_grew_by_a_few_canals_is_refused(run, summary):
    before = json.loads(json.dumps(summary))
    item = next(item for item in before["agreement"] if item["method"] == "film")
    item["n"], item["sum_mm"] = item["n"] - 3, item["sum_mm"] - 1.5
    _, reasons = summarise(run, "A1", earlier=[before])
    assert reasons == ("agreement, film: too few canals came since the last summary",)
    assert summarise(run, "A1", earlier=[summary])[1] == ()
    assert summarise(run, "A1", earlier=[before], leave_out=["film"])[1] == ()


def test_counts_are_those_of_the_shared_pack_beside_it(run):
    record = release_record(shared_view(run))
    summary, _ = summarise(run, "A1", releases=[record])
    within = next(item for item in summary["fill"] if item["level"] == "within")
    assert (within["cases"], within["of"]) == (160, 215)


def test_pooled_sums_equal_those_of_pooled_rows(run, summary):
    second = other(summary, "B2", 0.2)
    pooled = pool([second, summary])
    rows = run.plotted("bland_altman", "electronic")["y"].to_numpy()
    together = np.concatenate([rows, rows + 0.2])
    found = pooled.moments["electronic"]
    assert pooled.sites == ("A1", "B2")
    assert found.n_used == 2 * len(rows)
    assert found.bias == pytest.approx(together.mean(), abs=1e-4)
    assert found.sd_total == pytest.approx(together.std(ddof=1), abs=1e-4)


def test_means_over_practices_are_reml_with_modified_hartung_knapp(summary):
    sites = [summary, other(summary, "B2", 0.2), other(summary, "C3", -0.3)]
    item = pool(sites).effects["bias of film estimate"]
    biases = [
        (part["bias_mm"], part["bias_standard_error_mm"] ** 2)
        for site in sites
        for part in site["agreement"]
        if part["method"] == "film"
    ]
    direct = random_effects(*map(list, zip(*biases, strict=True)))
    assert item.pooled.estimate == pytest.approx(direct.pooled.estimate, abs=1e-12)
    assert item.prediction.lower < item.pooled.lower < item.pooled.upper < item.prediction.upper
    lines = pooled_lines(pool(sites))
    assert sum("new practice:" in line for line in lines) == len(pool(sites).effects)
    assert lines[-1] == "Note: fewer than 5 sites: the variation between sites is poorly known."
    json.dumps(as_json(pool(sites)))


def test_what_cannot_be_pooled_is_refused(summary, tmp_path):
    with pytest.raises(ReportError, match="two practices or more"):
        pool([summary])
    with pytest.raises(ReportError, match="one site code"):
        pool([summary, summary])
    with pytest.raises(ReportError, match="different filling presets"):
        pool([summary, other(summary, "B2") | {"preset": "0-3"}])
    path = tmp_path / "x.json"
    for text in ("no json", '{"format": "other"}', "[1]"):
        path.write_text(text)
        with pytest.raises(ReportError, match=r"x\.json"):
            read_summary(path)

"""The whole job on the demo, through the command line, as a newcomer runs it."""

import re
import tomllib

import pandas as pd
import pytest

from folders import DEMO
from lengthwise.cli import main
from lengthwise.folder import AuditFolder
from lengthwise.reporting import render_report
from lengthwise.store.database import connect
from lengthwise.store.results import read_run

pytestmark = pytest.mark.xdist_group("demo")


@pytest.fixture(scope="module")
def demo(whole_demo):
    return whole_demo.folder


@pytest.fixture(scope="module")
def results(demo):
    return read_run(demo.database)


@pytest.fixture(scope="module")
def page(demo):
    (path,) = demo.reports("2026-Q2").glob("*.html")
    return path.read_text(encoding="utf-8")


def estimate(results, **wanted):
    rows = results["estimates"]
    for column, value in {"stratum_kind": "", **wanted}.items():
        rows = rows[rows[column] == value]
    assert len(rows) == 1
    return rows.iloc[0]


def test_demo_ends_by_naming_what_it_made_and_for_whom(whole_demo):
    last = whole_demo.said.partition("Reports in ")[2].splitlines()
    assert last[0].endswith("2026-Q2:")
    assert "    quarterly-audit-2026-Q2.html" in last
    assert "    quarterly-audit-2026-Q2.pdf" in last
    assert "    7 sheets, 14 files" in last
    assert "set aside" in whole_demo.said
    assert "Headlines:" in whole_demo.said


def test_a_second_load_says_that_nothing_changed(demo, capsys):
    capsys.readouterr()
    assert main(["--quiet", "ingest", "--folder", str(demo.root)]) == 0
    assert "already loaded, nothing changed" in capsys.readouterr().out


def test_a_second_load_adds_no_row_and_no_load(demo):
    connection = connect(demo.database, read_only=True)
    assert connection.execute("select count(*) from record.loads").fetchall() == [(1,)]
    assert connection.execute("select count(*) from results.runs").fetchall() == [(1,)]
    connection.close()


def test_html_refers_to_nothing_outside(page):
    assert re.findall(r'(?:src|href)\s*=\s*["\']?(?:https?:)?//', page) == []
    assert re.findall(r"url\(\s*['\"]?https?:", page) == []
    assert "@import" not in page


def test_report_shows_the_numbers_of_the_result_tables(results, page):
    text = re.sub(r"<[^>]+>", " ", page)
    text = re.sub(r"\s+", " ", text)
    within = estimate(
        results, section="fill", subject="within", measure="share", period="2026-Q2"
    )
    assert f"{within['numerator']} of {within['denominator']}" in text
    bias = estimate(
        results, analysis="A2", subject="film", reference="confirmed", measure="bias"
    )
    assert f"{bias['estimate']:+.2f}" in text
    short = estimate(results, analysis="C1", subject="short", measure="share_not_healed")
    assert f"{short['numerator']} of {short['denominator']}" in text


def test_same_data_and_settings_give_the_same_results(demo, tmp_path):
    again = tmp_path / "audit"
    assert main(["--quiet", "new", str(again)]) == 0
    for name in ("settings.toml", "actions.toml"):
        (again / name).write_bytes((demo.root / name).read_bytes())
    for path in demo.exports.iterdir():
        (again / "exports" / path.name).write_bytes(path.read_bytes())
    assert main(["--quiet", "ingest", "--folder", str(again)]) == 0
    # The same analysis a second time replaces its own run.
    for _ in range(2):
        assert main(["--quiet", "analyse", "--folder", str(again)]) == 0
    connection = connect(AuditFolder(again).database, read_only=True)
    assert connection.execute("select count(*) from results.runs").fetchall() == [(1,)]
    connection.close()
    first, second = read_run(demo.database), read_run(AuditFolder(again).database)
    assert first["run"]["run_id"] == second["run"]["run_id"]
    for name in ("estimates", "points", "lists"):
        pd.testing.assert_frame_equal(first[name], second[name], check_exact=True)


def test_rendering_a_stored_run_twice_gives_the_same_page(demo, page):
    run_id = read_run(demo.database)["run"]["run_id"]
    before = page
    render_report(demo, "quarterly", run_id, ("html",), "auto", str)
    (path,) = demo.reports("2026-Q2").glob("*.html")
    assert path.read_text(encoding="utf-8") == before


def test_planted_biases_lie_inside_their_intervals(results):
    truth = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))
    for method in ("film", "film_file", "cbct", "tactile", "paper_point", "trial_cone"):
        planted = truth["lengths"][f"{method}_bias"]["size"]
        found = estimate(
            results, analysis="A2", subject=method, reference="confirmed", measure="bias"
        )
        assert found["lower"] <= planted <= found["upper"], method


def test_planted_odds_lie_inside_their_intervals(results):
    truth = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))["outcome"]
    for term in ("short", "beyond", "lesion", "retreatment", "molar"):
        found = estimate(results, analysis="C2", subject=term, measure="odds_ratio")
        assert found["lower"] <= truth[f"{term}_odds_ratio"]["size"] <= found["upper"], term


def test_every_number_has_n_and_every_refusal_a_reason(results):
    rows = results["estimates"]
    assert rows["result_id"].is_unique
    refused = rows[~rows["valid"]]
    assert (refused["reason"] != "").all()
    assert refused["estimate"].isna().all()
    assert rows.loc[rows["valid"], "estimate"].notna().all()


def test_unknown_period_is_a_clear_error(demo, capsys):
    assert main(["--quiet", "analyse", "2031-Q1", "--folder", str(demo.root)]) == 6
    assert "there is no treatment in 2031-Q1" in capsys.readouterr().err


def test_folder_without_settings_is_a_clear_error(tmp_path, capsys):
    assert main(["--quiet", "check", "--folder", str(tmp_path)]) == 3
    assert "not an audit folder" in capsys.readouterr().err


def test_unclustered_limits_stand_apart_and_say_so(results):
    plain = estimate(
        results, analysis="A1", subject="film", reference="confirmed", measure="bias"
    )
    clustered = estimate(
        results, analysis="A2", subject="film", reference="confirmed", measure="bias"
    )
    assert plain["section"] == "agreement_unclustered"
    assert plain["estimate"] == pytest.approx(clustered["estimate"], abs=1e-9)
    assert "not independent" in plain["reason"]

"""`lengthwise compare` prints what was published about public data."""

import csv
import json
import math
from pathlib import Path

import pytest

from lengthwise.cli import main

CASES = Path(__file__).resolve().parents[1] / "reference" / "cases" / "data"
BESIDE = Path(__file__).resolve().parents[3] / "shared" / "check-values" / "data"
PEAK_FLOW = [str(CASES / "pefr1986.csv"), "--method", "wright1", "--reference", "mini1"]


def compared(capsys, tmp_path, *arguments):
    """Return the JSON result and the printed text of one comparison."""
    target = tmp_path / "result.json"
    assert main(["compare", *arguments, "--json", str(target)]) == 0
    return json.loads(target.read_text(encoding="utf-8")), capsys.readouterr().out


def test_peak_flow_meters_have_their_published_limits(capsys, tmp_path):
    # Bland JM, Altman DG. Lancet 1986;327:307-310, doi:10.1016/S0140-6736(86)90837-8: bias
    # -2.1 and SD 38.8 l/min; the digits follow from the printed readings.
    result, text = compared(capsys, tmp_path, *PEAK_FLOW, "--multiplier", "1.96")
    assert result["bias"]["estimate"] == pytest.approx(-2.1176, abs=5e-5)
    assert result["sd"]["estimate"] == pytest.approx(38.7651, abs=5e-5)
    assert "-78.0973" in text
    assert "73.8620" in text
    # The interval of the bias is printed there as -22.0 to 17.8.
    assert result["bias"]["lower"] == pytest.approx(-22.0, abs=0.05)
    assert result["bias"]["upper"] == pytest.approx(17.8, abs=0.05)


def test_two_standard_deviations_give_the_limits_of_the_article(capsys, tmp_path):
    # The same article prints -79.7 and 75.5 from rounded numbers; unrounded -79.65, 75.41.
    result, _ = compared(capsys, tmp_path, *PEAK_FLOW, "--multiplier", "2")
    assert result["lower_limit"]["estimate"] == pytest.approx(-79.65, abs=0.005)
    assert result["upper_limit"]["estimate"] == pytest.approx(75.41, abs=0.005)


def test_every_topic_is_answered_and_correlation_is_not(capsys, tmp_path):
    result, text = compared(capsys, tmp_path, *PEAK_FLOW, "--tolerance", "50")
    for name in (
        "slope_on_mean", "deming_slope", "passing_bablok_slope", "concordance", "icc_a_1",
        "deviation_index_90", "equivalence_bias_90", "equivalence_p_value",
    ):  # fmt: skip
        assert result[name]["valid"], name
        assert math.isfinite(result[name]["estimate"]), name
    assert result["share_within"]["numerator"] == 14
    assert "orrelation" not in text


def test_repeated_readings_give_repeatability_and_wider_limits(capsys, tmp_path):
    path = tmp_path / "repeated.csv"
    with (CASES / "pefr1986.csv").open(encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    lines = ["item,wright,mini"]
    for row in rows:
        lines += [f"{row['item']},{row[f'wright{i}']},{row[f'mini{i}']}" for i in (1, 2)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    arguments = [str(path), "--method", "wright", "--reference", "mini", "--replicate", "item"]
    result, _ = compared(capsys, tmp_path, *arguments)
    # The 1986 article (from memory): repeatability coefficients of two readings each, twice
    # the SD of differences about 0: 43.2 (Wright) and 56.4 (mini); ours is 1.96 sqrt(2) s_w.
    assert result["repeatability_method"]["estimate"] == pytest.approx(43.2 * 0.98, abs=0.5)
    assert result["repeatability_reference"]["estimate"] == pytest.approx(56.4 * 0.98, abs=0.5)
    assert result["deming_slope"]["valid"]
    assert result["error_variance_ratio"]["estimate"] == pytest.approx(
        (result["within_sd_method"]["estimate"] / result["within_sd_reference"]["estimate"])
        ** 2
    )


def test_too_few_pairs_are_refused_with_the_reason(capsys, tmp_path):
    path = tmp_path / "few.csv"
    path.write_text("a,b\n" + "".join(f"{i},{i + 1}.5\n" for i in range(9)), encoding="utf-8")
    result, text = compared(
        capsys, tmp_path, str(path), "--method", "a", "--reference", "b", "--tolerance", "1"
    )
    for name in ("lower_limit", "upper_limit", "slope_on_mean", "concordance"):
        assert not result[name]["valid"], name
        assert result[name]["estimate"] is None, name
    assert "fewer than 10 pairs (9)" in text


@pytest.fixture
def blood_pressure(tmp_path):
    """Three readings each by observer J and machine S, one row per pair of readings."""
    source = BESIDE / "sbp1999.csv"
    if not source.exists():
        pytest.skip("the blood pressure readings of 1999 lie beside the checkout only")
    with source.open(encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    path = tmp_path / "pressure.csv"
    lines = ["subject,J,S"]
    for row in rows:
        lines += [f"{row['subject']},{row[f'J{i}']},{row[f'S{i}']}" for i in (1, 2, 3)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_blood_pressure_repeats_have_their_published_limits(capsys, tmp_path, blood_pressure):
    # Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160,
    # doi:10.1177/096228029900800204, sections 4 and 5.1: within variances 37.408 and 83.141,
    # bias -15.62, SD 20.95, limits -56.68 and 25.44.
    result, text = compared(
        capsys, tmp_path, str(blood_pressure), "--method", "J", "--reference", "S",
        "--replicate", "subject", "--multiplier", "1.96",
    )  # fmt: skip
    assert result["within_sd_method"]["estimate"] ** 2 == pytest.approx(37.408, abs=5e-4)
    assert result["within_sd_reference"]["estimate"] ** 2 == pytest.approx(83.141, abs=5e-4)
    assert result["bias"]["estimate"] == pytest.approx(-15.62, abs=0.005)
    assert result["sd"]["estimate"] == pytest.approx(20.95, abs=0.005)
    assert result["lower_limit"]["estimate"] == pytest.approx(-56.68, abs=0.005)
    assert result["upper_limit"]["estimate"] == pytest.approx(25.44, abs=0.005)
    assert result["repeatability_method"]["estimate"] == pytest.approx(16.95, abs=0.005)
    assert "-56.6795" in text


DEMO_ROWS = CASES.parents[1] / "tables" / "agreement_demo.csv"
TWO = [str(DEMO_ROWS), "--method", "electronic", "--reference", "confirmed"]


@pytest.mark.parametrize(
    ("arguments", "word"),
    [(["--tolerance", "-1"], "--tolerance must be above 0"),
     (["--tolerance", "0"], "--tolerance must be above 0"),
     (["--coverage", "2"], "--coverage must be between 0 and 1"),
     (["--multiplier", "-2"], "--multiplier must be above 0"),
     (["--figure", "plot.xyz"], "--figure must end in"),
     (["--json", "no-such-folder/x.json"], "--json: the folder")],
)  # fmt: skip
def test_what_no_comparison_can_use_is_said_plainly(capsys, arguments, word):
    assert main(["compare", *TWO, *arguments]) == 3
    assert word in capsys.readouterr().err


def test_patients_give_every_topic_with_an_interval(capsys, tmp_path):
    figure = tmp_path / "plot.png"
    result, text = compared(
        capsys, tmp_path, *TWO, "--cluster", "patient", "--tolerance", "0.5",
        "--figure", str(figure),
    )  # fmt: skip
    two_sided = set(result) & {
        "bias", "sd", "lower_limit", "upper_limit", "share_within", "slope_on_mean",
        "deming_slope", "passing_bablok_slope", "concordance", "icc_a_1", "equivalence_bias_90",
    }  # fmt: skip
    assert len(two_sided) == 11
    for name in two_sided:
        one = result[name]
        assert one["lower"] < one["estimate"] < one["upper"], name
    # 329 canals in 293 patients: hardly any second canal, and no limit blown up by it.
    assert result["clusters"] == 293
    limits = result["upper_limit"]
    assert limits["upper"] - limits["lower"] < 0.5
    assert "patient jackknife" in limits["method"]
    assert text.count("note:") <= 1
    assert figure.read_bytes().startswith(b"\x89PNG")


def test_rows_without_a_patient_are_set_aside_and_not_one_patient(capsys, tmp_path):
    path = tmp_path / "blank.csv"
    rows = DEMO_ROWS.read_text(encoding="utf-8").splitlines()
    blanked = [rows[0], *(f",{row.partition(',')[2]}" for row in rows[1:31]), *rows[31:]]
    path.write_text("\n".join(blanked) + "\n", encoding="utf-8")
    result, text = compared(
        capsys, tmp_path, str(path), "--method", "electronic", "--reference", "confirmed",
        "--cluster", "patient",
    )  # fmt: skip
    assert result["bias"]["n_missing"] == 30
    assert result["bias"]["n_used"] == len(rows) - 31
    assert "30 set aside" in text

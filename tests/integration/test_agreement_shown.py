"""What the report shows of agreement: panels, readers, lines, and on how many it all rests."""

import tomllib
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from demo_dataset.fillings import record_mm

from folders import DEMO
from lengthwise.report import sections
from lengthwise.report.figures.bland_altman import DENSITY_FROM, bland_altman
from lengthwise.report.figures.bland_altman_small import SPLITS, bland_altman_by
from lengthwise.report.figures.method_matrix import method_matrix

pytestmark = pytest.mark.xdist_group("agreement_depth")
TRUTH = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))
# Four planted sizes of readers at once: 95 in 100 for all of them together (Bonferroni).
WIDER = 2.4977 / 1.96


@pytest.fixture(scope="module")
def run(agreement_demo):
    return agreement_demo[1]


def readers(run, measure, kind, subject="fill_offset_mm"):
    rows = run.estimates
    rows = rows[(rows["analysis"] == "A9") & (rows["measure"] == measure)]
    return rows[(rows["stratum"] == kind) & (rows["subject"] == subject)].iloc[0]


@pytest.mark.parametrize(
    ("kind", "name"), [("two_readers", "reader"), ("one_reader_twice", "repeat")]
)
def test_readers_of_fillings_differ_as_planted_and_then_rounded(run, kind, name):
    """truth.toml plants the error before the reader's steps; the steps add their share."""
    planted = TRUTH["filling"]
    bias = planted["reader_difference_bias"]["size"] if name == "reader" else 0.0
    draw = np.random.default_rng(7)
    mean, spread = planted["offset_mean"]["size"], planted["offset_sd"]["size"]
    exact = draw.normal(mean, spread, 400_000)
    step = np.where(draw.random(len(exact)) < 0.35, 0.5, 0.1)
    error = bias + planted[f"{name}_difference_sd"]["size"] * draw.standard_normal(len(exact))
    recorded = record_mm(exact + error, step) - record_mm(exact, step)
    for measure, value in (("reader_sd", recorded.std()), ("reader_bias", recorded.mean())):
        row = readers(run, measure, kind)
        half = WIDER * (row["upper"] - row["lower"]) / 2
        assert abs(row["estimate"] - value) <= half, measure


def test_readers_of_pai_agree_as_planted(run, agreement_demo):
    """One step away is planted; at grades 1 and 5 half of the steps lead off the scale."""
    import duckdb

    connection = duckdb.connect(str(agreement_demo[0].database), read_only=True)
    pairs = connection.table("marts.reader_pairs").df()
    connection.close()
    own = pairs[(pairs["measure"] == "pai") & (pairs["kind"] == "two_readers")]
    stays = own["first_value"].isin([1, 5]).mean() / 2
    expected = 1 - TRUTH["outcome"]["pai_reader_disagreement"]["size"] * (1 - stays)
    row = readers(run, "raw_agreement", "two_readers", "pai")
    assert row["lower"] <= expected <= row["upper"]
    shown = sections.readers_section(run)
    assert "PAI, weighted kappa" in shown
    assert readers(run, "weighted_kappa", "one_reader_twice", "pai")["upper"] <= 1


@pytest.mark.parametrize("split", SPLITS)
def test_panels_draw_the_stored_limits_of_every_stratum(run, split):
    figure = bland_altman_by(run, "electronic", split)
    rows = run.estimates.set_index("result_id").loc[list(figure.result_ids)]
    assert set(rows["stratum_kind"]) == set(SPLITS[split].kinds)
    drawn = next(
        layer.geom.data
        for layer in figure.plot.layers
        if layer.geom.data is not None and "estimate" in layer.geom.data
    )
    assert sorted(drawn["estimate"]) == sorted(rows["estimate"])
    assert set(rows["measure"]) == {"bias", "lower_limit", "upper_limit"}


def test_fewer_clinicians_than_a_comparison_asks_for_are_not_drawn(run):
    rows = run.estimates
    few = rows[(rows["stratum_kind"] != "clinician") | rows["stratum"].isin(["C01", "C02"])]
    assert bland_altman_by(replace(run, estimates=few), "electronic", "clinician") is None


def test_clinicians_are_not_singled_out_in_words(run):
    figure = bland_altman_by(run, "electronic", "clinician")
    assert "C0" not in figure.headline


def test_limits_figure_has_its_density_only_with_enough_points(run):
    def layers(points):
        chosen = points[points["figure"] == "bland_altman"]
        chosen = chosen[chosen["panel"] == "electronic"]
        rest = points[points["figure"] != "bland_altman"]
        few = chosen.head(DENSITY_FROM - 1)
        return [
            len(bland_altman(replace(run, points=one), "electronic").plot.layers)
            for one in (points, pd.concat([rest, few]))
        ]

    many, few = layers(run.points)
    assert many == few + 2


def test_eight_methods_and_the_confirmed_length_fill_the_matrix(run):
    rows = run.estimates
    own = rows[(rows["analysis"] == "A2") & (rows["stratum_kind"] == "")]
    copy = own.replace(
        {"subject": {"trial_cone": "other"}, "reference": {"trial_cone": "other"}}
    )
    more = copy[(copy["subject"] == "other") | (copy["reference"] == "other")]
    figure = method_matrix(replace(run, estimates=pd.concat([own, more], ignore_index=True)))
    assert figure.alt_text.startswith("Square of 9 methods with 35 pairs")
    # 0.58 inch a row at 8 methods and more keeps three lines of 6.8 points apart.
    assert figure.height_inch >= 0.58 * 9


@pytest.mark.usefixtures("in_folder")
def test_conditions_say_on_how_many_readings_they_rest(run):
    rows = run.estimates
    row = rows[
        (rows["analysis"] == "A7") & (rows["subject"] == "electronic")
        & (rows["measure"] == "bias_shift_adjusted") & (rows["stratum"] == "wet")
    ].iloc[0]  # fmt: skip
    assert row["n_missing"] > 0
    shown = sections.conditions_section(run).replace("\\", "")
    assert f"rest on the same {int(row['denominator']):,} readings" in shown
    assert f"{int(row['n_missing']):,} were set aside for a blank" in shown


def test_lines_stand_in_the_report_with_their_intervals(run):
    rows = run.select(section="agreement", analysis="A5", reference="confirmed")
    own = rows[rows["subject"] == "electronic"].set_index("measure")
    for line in ("deming", "passing_bablok"):
        slope = own.loc[f"{line}_slope"]
        assert slope["valid"]
        assert slope["lower"] < slope["estimate"] < slope["upper"]
    # The electronic method alone was read repeatedly, so there is no ratio to take.
    assert "no repeated readings of confirmed" in own.loc["deming_slope", "method"]
    assert "one canal of each patient" in own.loc["passing_bablok_slope", "method"]
    shown = sections.coefficients_section(run)
    assert "Passing" in shown
    assert "Deming" in shown


def test_share_with_a_condition_is_compared_between_discordant_and_other_canals(run):
    rows = run.select(section="agreement", measure="share_with_condition_difference")
    shares = run.estimates[run.estimates["measure"] == "share_with_condition"]
    for _, row in rows.iterrows():
        own = shares[shares["reference"] == row["reference"]].set_index("stratum")
        gap = own.loc["discordant", "estimate"] - own.loc["concordant", "estimate"]
        assert row["estimate"] == pytest.approx(gap)
        assert row["lower"] < row["estimate"] < row["upper"]
    # Planted: metal contact and wet canals move or scatter the electronic reading.
    assert rows["lower"].min() > 0

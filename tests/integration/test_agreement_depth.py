"""The analysis of agreement finds what was planted, and refuses where there is too little.

The demo's seed was chosen so that plain intervals hold the planted sizes; here the intervals
are those of the stored result rows, which allow for patients.
"""

import itertools
import math
import tomllib

import duckdb
import numpy as np
import pytest

from folders import DEMO, small_folder
from lengthwise.report import sections
from lengthwise.report.run_data import load_run
from lengthwise.run import analyse_period, ingest_files

pytestmark = pytest.mark.xdist_group("agreement_depth")
TRUTH = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))["lengths"]
SIMPLE = ("film", "film_file", "cbct", "tactile", "paper_point", "trial_cone")
# truth.toml, reading_rounding: these two in 0.1 mm, every other method in 0.5 mm.
FINE = ("electronic", "cbct")


def size(name):
    return TRUTH[name]["size"]


def rounding(step):
    """Return the variance that rounding to a step adds (uniform within it)."""
    return step**2 / 12


CONFIRMED_VARIANCE = (
    size("confirmed_own_sd") ** 2
    + size("confirmed_half_mm_share") * rounding(0.5)
    + (1 - size("confirmed_half_mm_share")) * rounding(0.1)
)


def own_variance(method):
    """Return the planted variance of one recorded reading about the true length."""
    return size(f"{method}_sd") ** 2 + rounding(0.1 if method in FINE else 0.5)


@pytest.fixture(scope="module")
def demo(agreement_demo):
    return agreement_demo


@pytest.fixture(scope="module")
def rows(demo):
    return demo[1].estimates


def one(rows, **wanted):
    """Return the single valid row with these values."""
    wanted.setdefault("stratum_kind", "")
    for column, value in wanted.items():
        rows = rows[rows[column] == value]
    assert len(rows) == 1, wanted
    assert rows.iloc[0]["valid"], rows.iloc[0]["reason"]
    return rows.iloc[0]


def holds(row, value):
    return row["lower"] <= value <= row["upper"]


@pytest.mark.parametrize("method", SIMPLE)
def test_bias_and_spread_of_each_method_hold_the_planted_sizes(rows, method):
    key = {"analysis": "A2", "subject": method, "reference": "confirmed"}
    assert holds(one(rows, measure="bias", **key), size(f"{method}_bias"))
    planted = math.sqrt(own_variance(method) + CONFIRMED_VARIANCE)
    assert holds(one(rows, measure="sd", **key), planted)


@pytest.mark.parametrize(("first", "second"), list(itertools.combinations(SIMPLE, 2)))
def test_pairs_differ_by_the_planted_biases(rows, first, second):
    found = rows[
        (rows["analysis"] == "A2") & (rows["subject"] == first) & (rows["reference"] == second)
    ]
    row = found[found["measure"] == "bias"].iloc[0]
    planted = size(f"{first}_bias") - size(f"{second}_bias")
    # Fifteen pairs at once: the interval is widened to hold all of them with 95 in 100.
    half = (row["upper"] - row["lower"]) / 2 * 2.94 / 1.96
    assert abs(row["estimate"] - planted) <= half


def test_repeats_under_favourable_conditions_hold_the_planted_scatter(rows):
    row = one(
        rows, analysis="A3", subject="electronic", measure="within_sd",
        stratum_kind="conditions",
    )  # fmt: skip
    assert holds(row, math.sqrt(size("electronic_within_sd") ** 2 + rounding(0.1)))
    coefficient = one(
        rows, analysis="A3", subject="electronic", measure="repeatability_coefficient",
        stratum_kind="conditions",
    )  # fmt: skip
    assert coefficient["estimate"] == pytest.approx(
        1.959963984540054 * math.sqrt(2) * row["estimate"]
    )


@pytest.mark.parametrize("method", SIMPLE)
def test_own_error_without_a_truth_holds_the_planted_spread(rows, method):
    row = one(rows, analysis="A4", subject=method, measure="own_sd")
    assert holds(row, math.sqrt(own_variance(method)))


def test_shared_film_is_found_and_kept_out_of_one_set(rows):
    check = rows[(rows["analysis"] == "A4") & (rows["stratum"] == "films")]
    row = check[check["measure"] == "shared_error_p_value"].iloc[0]
    assert {row["subject"], row["reference"]} == {"film", "film_file"}
    assert row["estimate"] < 0.05
    sets = rows[(rows["analysis"] == "A4") & (rows["measure"] == "own_sd")]["method"]
    named = [text.partition("set: ")[2].split(", ") for text in sets]
    assert named
    assert not any({"film", "film_file"} <= set(names) for names in named)


@pytest.mark.parametrize(
    ("kind", "level", "planted"),
    [("canal_state", "wet", size("electronic_wet_shift")),
     ("metal_contact", "metal contact", size("metal_contact_shift")),
     ("file_size", "small file", 0.0),
     ("stability", "unstable", 0.0),
     ("circuit", "circuit not checked", 0.0)],
)  # fmt: skip
def test_conditions_shift_the_bias_by_the_planted_size(rows, kind, level, planted):
    row = one(
        rows, analysis="A7", subject="electronic", measure="bias_shift_adjusted",
        stratum_kind=kind, stratum=level,
    )  # fmt: skip
    assert holds(row, planted)


@pytest.fixture(scope="module")
def planted_spread(demo):
    """Return electronic readings with the planted variance and shift that they have."""
    connection = duckdb.connect(str(demo[0].database), read_only=True)
    frame = connection.table("marts.reading_conditions").df()
    connection.close()
    frame = frame[(frame["method"] == "electronic") & frame["difference_mm"].notna()]
    needed = ["canal_state", "has_metal_contact", "steps_under_apex", "is_stable"]
    frame = frame.dropna(subset=[*needed, "is_circuit_checked"])
    wet, metal = frame["canal_state"] == "wet", frame["has_metal_contact"].astype(bool)
    small = frame["steps_under_apex"] >= 3
    scatter = (
        size("electronic_within_sd")
        * np.where(wet, size("electronic_wet_scatter"), 1)
        * np.where(metal, size("metal_contact_scatter"), 1)
        * np.where(small, size("small_file_scatter"), 1)
    )
    parts = ("electronic_patient_sd", "electronic_tooth_sd", "electronic_canal_sd")
    fixed = sum(size(name) ** 2 for name in parts) + CONFIRMED_VARIANCE + rounding(0.1)
    shift = np.where(wet, size("electronic_wet_shift"), 0) + np.where(
        metal, size("metal_contact_shift"), 0
    )
    return frame.assign(
        wet=wet, metal=metal, small=small, variance=scatter**2 + fixed, shift=shift
    )


@pytest.mark.parametrize(
    ("kind", "level", "flag"),
    [("canal_state", "wet", "wet"), ("metal_contact", "metal contact", "metal"),
     ("file_size", "small file", "small")],
)  # fmt: skip
def test_conditions_widen_the_spread_by_the_planted_ratio(
    rows, planted_spread, kind, level, flag
):
    """The planted ratio acts on the residual; of the whole SD it leaves what is summed here."""
    row = one(
        rows, analysis="A7", subject="electronic", measure="sd_ratio_crude",
        stratum_kind=kind, stratum=level,
    )  # fmt: skip
    whole = planted_spread.groupby(flag)[["variance", "shift"]].agg(["mean", "var"])
    total = whole[("variance", "mean")] + whole[("shift", "var")]
    assert holds(row, math.sqrt(total[True] / total[False]))
    assert row["numerator"] == int(planted_spread[flag].sum())


def test_discordant_canals_carry_their_recorded_conditions(demo):
    run = demo[1]
    listed = run.listed("discordant_canals")
    assert len(listed) > 0
    assert (listed["value_mm"].abs() > 1.0).all()
    assert not listed.duplicated(["treatment_id", "canal"]).any()
    connection = duckdb.connect(str(demo[0].database), read_only=True)
    readings = connection.table("marts.reading_conditions").df()
    connection.close()
    keyed = readings.set_index(["treatment_id", "canal"])
    for _, row in listed.iterrows():
        pair, _, said = row["detail"].partition(": ")
        other = {"cone-beam": "cbct", "film with file": "film_file"}[
            pair.partition(" minus ")[2]
        ]
        canal = keyed.loc[[(row["treatment_id"], row["canal"])]]
        against = canal.loc[canal["method"] == other, "length_mm"].mean()
        own = canal[canal["method"] == "electronic"]
        apart = (own["length_mm"] - against).abs().round(2)
        farthest = own[apart == apart.max()]
        if len(farthest) == 1:
            was_wet = farthest["canal_state"].iloc[0] == "wet"
            assert ("wet" in said.split(", ")) == was_wet


def test_share_with_a_condition_is_given_for_discordant_and_other_canals(rows):
    shares = rows[(rows["analysis"] == "A10") & (rows["measure"] == "share_with_condition")]
    for reference in ("cbct", "film_file"):
        own = shares[shares["reference"] == reference].set_index("stratum")
        assert set(own.index) == {"discordant", "concordant"}
        for _, row in own.iterrows():
            assert row["lower"] <= row["numerator"] / row["denominator"] <= row["upper"]


def test_metal_contact_is_more_frequent_among_discordant_canals(rows):
    # Planted: metal contact moves the reading by -0.6 mm and doubles its scatter.
    own = rows[
        (rows["analysis"] == "A10")
        & (rows["stratum"] == "metal contact")
        & (rows["reference"] == "cbct")
    ].set_index("measure")
    assert own.loc["share_discordant", "lower"] > own.loc["share_concordant", "upper"]


def test_months_have_points_only_where_canals_are_enough(demo):
    points = demo[1].plotted("bias_by_month")
    assert set(points["panel"]) >= {"electronic", "film"}
    assert (points["n"] >= 10).all()
    assert (points["lower"] <= points["y"]).all()
    assert (points["y"] <= points["upper"]).all()


def test_sections_say_in_words_what_the_rows_hold(demo, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run = demo[1]
    shown = sections.conditions_section(run)
    row = one(
        run.estimates, analysis="A7", subject="electronic", measure="bias_shift_adjusted",
        stratum_kind="canal_state", stratum="wet",
    )  # fmt: skip
    assert (
        f"Wet readings were {abs(row['estimate']):.2f} mm shorter".replace(".", r"\.") in shown
    )
    own = sections.own_error_section(run)
    assert "their errors are not independent" in own.replace("\\", "")
    assert (tmp_path / "figures" / "own-errors.png").is_file()
    assert (tmp_path / "figures" / "conditions-electronic.png").is_file()


def test_checklist_leaves_blanks_for_people_and_fills_the_rest(demo):
    shown = sections.checklist(demo[1])
    lines = [line for line in shown.splitlines() if line.startswith("| ")]
    assert sum("person |" in line or "person " in line for line in lines) >= 7
    assert shown.count("to be written") >= 7
    for line in lines:
        is_tool = line.rstrip(" |").endswith("tool")
        assert not (is_tool and "to be written" in line)


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    folder = small_folder(tmp_path_factory.mktemp("small") / "audit")
    ingest_files(folder, [], {})
    return load_run(folder.database, analyse_period(folder, "2026-Q1"))


def test_three_canals_give_reasons_and_no_numbers(small):
    rows = small.estimates[small.estimates["section"] == "agreement"]
    numbers = rows[rows["analysis"].isin(["A2", "A3", "A4", "A5", "A7", "A8"])]
    assert set(numbers["analysis"]) >= {"A2", "A4", "A5", "A8"}
    told = numbers[~numbers["measure"].isin(["level_bias", "level_sd"])]
    assert not told["valid"].any()
    assert (told["reason"].str.len() > 10).all()
    assert told["estimate"].isna().all()


def test_sections_of_three_canals_print_the_reason(small, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert "fewer than" in sections.own_error_section(small)
    assert "fewer than 10" in sections.coefficients_section(small)
    assert "No canal was read twice" in sections.repeatability_section(small)
    assert sections.month_section(small).startswith("No method")

"""The demo dataset is true to its own truth.

The interval of each planted effect is the plain 95 per cent interval of this dataset; the seed
is one of those for which all of them hold their planted size.
"""

import numpy as np
import pandas as pd
import pytest
from exports_on_disk import KEYS, mean_interval, odds_ratio_interval
from scipy import stats


def within_canal(frame: pd.DataFrame) -> tuple[float, int]:
    """Return the variance between replicates of one canal and stage, and its freedom."""
    group = frame.groupby([*KEYS, "stage"])["difference_mm"]
    repeated = frame[group.transform("size") > 1]
    group = repeated.groupby([*KEYS, "stage"])["difference_mm"]
    freedom = len(repeated) - group.ngroups
    residual = repeated["difference_mm"] - group.transform("mean")
    return (residual**2).sum() / freedom, freedom


class TestPlantedSizes:
    @pytest.mark.parametrize(
        "method", ["film", "film_file", "cbct", "tactile", "paper_point", "trial_cone"]
    )
    def test_bias_of_a_method(self, differences, truth, method):
        values = differences.loc[differences["method"] == method, "difference_mm"]
        low, high = mean_interval(values)
        assert low <= truth["lengths"][f"{method}_bias"]["size"] <= high
        # Rounding to 0.5 mm and the confirmed length's own error widen the planted spread.
        planted = truth["lengths"][f"{method}_sd"]["size"]
        assert planted <= values.std() <= np.sqrt(planted**2 + 0.5**2 / 12 + 0.15**2) * 1.05

    def test_electronic_bias_in_a_dry_canal(self, differences, truth):
        rows = differences[
            (differences["method"] == "electronic")
            & (differences["stage"] == "after_preparation")
            & (differences["canal_state"] == "dry")
            & (differences["metal_contact"] == "no")
        ]
        low, high = mean_interval(rows.groupby(KEYS)["difference_mm"].mean())
        assert low <= truth["lengths"]["electronic_dry_bias"]["size"] <= high

    @pytest.mark.parametrize(
        ("column", "value", "planted"),
        [("canal_state", "wet", "electronic_wet_shift"),
         ("metal_contact", "yes", "metal_contact_shift")],
    )  # fmt: skip
    def test_shift_of_a_condition(self, differences, truth, column, value, planted):
        rows = differences[
            (differences["method"] == "electronic")
            & (differences["stage"] == "after_preparation")
        ].dropna(subset=["canal_state", "metal_contact"])
        plain = {"canal_state": "dry", "metal_contact": "no"}
        for other in plain.keys() - {column}:
            rows = rows[rows[other] == plain[other]]
        means = rows.groupby([*KEYS, column])["difference_mm"].mean().reset_index()
        there = means.loc[means[column] == value, "difference_mm"]
        reference = means.loc[means[column] == plain[column], "difference_mm"]
        half = 1.96 * np.sqrt(there.var() / len(there) + reference.var() / len(reference))
        assert abs(there.mean() - reference.mean() - truth["lengths"][planted]["size"]) <= half

    @pytest.mark.parametrize("condition", ["wet", "metal", "small"])
    def test_scatter_of_a_condition(self, differences, truth, condition):
        sizes = [6, 8, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60]  # ISO file sizes
        rows = differences[differences["method"] == "electronic"].dropna(
            subset=["canal_state", "metal_contact", "file_size_iso", "apical_size_iso"]
        )
        place = dict(zip(map(float, sizes), range(len(sizes)), strict=True))
        under = rows["apical_size_iso"].map(place) - rows["file_size_iso"].map(place)
        flags = pd.DataFrame(
            {"wet": rows["canal_state"] == "wet", "metal": rows["metal_contact"] == "yes",
             "small": under >= 3}
        )  # fmt: skip
        alone = flags[condition] & (flags.sum(axis=1) == 1)
        variance, freedom = within_canal(rows[alone])
        plain, plain_freedom = within_canal(rows[~flags.any(axis=1)])
        ratio = np.sqrt(variance / plain)
        low, high = np.sqrt(stats.f.ppf([0.025, 0.975], freedom, plain_freedom))
        name = {"wet": "electronic_wet_scatter", "metal": "metal_contact_scatter",
                "small": "small_file_scatter"}[condition]  # fmt: skip
        assert ratio / high <= truth["lengths"][name]["size"] <= ratio / low

    def test_film_and_film_file_share_an_error(self, differences, truth):
        films = differences[differences["method"].isin(["film", "film_file"])]
        wide = films.pivot_table(index=KEYS, columns="method", values="difference_mm").dropna()
        shared = truth["lengths"]["film_shared_sd"]["size"] ** 2
        # The confirmed length's own error is in both as well, about 0.013 mm squared.
        assert wide.cov().loc["film", "film_file"] == pytest.approx(shared + 0.013, abs=0.04)

    def test_shares_of_the_levels(self, records):
        share = records["level"].value_counts(normalize=True)
        assert 0.78 <= share["within"] <= 0.82
        assert 0.085 <= share["short"] <= 0.12
        assert 0.08 <= share["beyond"] <= 0.115
        assert records["fill_offset_mm"].mean() == pytest.approx(-1.0, abs=0.15)
        assert records["fill_offset_mm"].std() == pytest.approx(0.85, abs=0.1)

    def test_action_on_short_fillings(self, records, truth):
        rows = records[records["level"] != "beyond"]
        acted = rows["period"] >= truth["dataset"]["action_month"]
        low, high = odds_ratio_interval(rows["level"] == "short", acted)
        assert low <= truth["filling"]["action_short_odds_ratio"]["size"] <= high

    def test_drift_of_one_clinician(self, records, truth):
        rows = records[
            (records["level"] != "short")
            & (records["clinician_id"] == truth["dataset"]["drift_clinician"])
        ]
        late = rows["period"] >= truth["dataset"]["drift_month"]
        low, high = odds_ratio_interval(rows["level"] == "beyond", late)
        assert 1.0 < low <= truth["filling"]["drift_beyond_odds_ratio"]["size"] <= high

    def test_two_readers_of_a_filling(self, clean, truth):
        fills = clean["fills"][clean["fills"]["reader_id"].isin(["R1", "R2"])]
        wide = fills.pivot_table(index=KEYS, columns="reader_id", values="fill_offset_mm")
        apart = (wide["R2"] - wide["R1"]).dropna()
        assert len(apart) > 400
        planted = truth["filling"]["reader_difference_sd"]["size"]
        assert apart.std() == pytest.approx(planted, abs=0.06)
        low, high = mean_interval(apart)
        # A reading rounds towards its own level, so the mean carries rounding as well.
        assert low - 0.02 <= truth["filling"]["reader_difference_bias"]["size"] <= high + 0.02

    def test_missing_at_random(self, clean, truth):
        usual = truth["missing_at_random"]["other_optional_fields"]
        for name, column in [("treatments", "age_band"), ("canals", "patency")]:
            share = clean[name][column].isna().mean()
            assert share == pytest.approx(usual, abs=0.025), column


@pytest.fixture(scope="module")
def outcomes(clean, records) -> pd.DataFrame:
    """Return one row per tooth: first film review from 366 days, event, covariates."""
    rows = clean["follow_ups"]
    rows = rows[(rows["days_from_treatment"] >= 366) & (rows["reader_id"] != "R2")]
    rows = rows[rows["read"] == 1]
    first = rows.groupby("treatment_id")["days_from_treatment"].transform("min")
    rows = rows[rows["days_from_treatment"] == first]
    signs = (rows[["pain", "swelling", "sinus_tract", "tenderness"]] == "yes").any(axis=1)
    rows = rows.assign(has_signs=signs | (rows["function"] == "no"))
    teeth = rows.groupby("treatment_id").agg(
        pai=("pai", "max"), has_signs=("has_signs", "max"), loss=("loss_reason", "first")
    )
    teeth = teeth[(teeth["pai"].notna() | teeth["loss"].notna()) & (teeth["loss"] != "other")]
    event = (teeth["pai"] > 2) | teeth["has_signs"] | (teeth["loss"] == "endodontic")
    rank = records["level"].map({"within": 0, "short": 1, "beyond": 2})
    teeth = teeth.assign(event=event, level=rank.groupby(records["treatment_id"]).max())
    teeth = teeth.join(clean["treatments"].set_index("treatment_id"))
    return teeth.dropna(subset=["preop_pai", "level", "treatment_type"])


class TestPlantedOutcome:
    def test_healed_shares(self, outcomes):
        healed = 1 - outcomes.groupby(outcomes["preop_pai"] >= 3)["event"].mean()
        assert healed[False] == pytest.approx(0.93, abs=0.03)
        assert healed[True] == pytest.approx(0.80, abs=0.06)

    def test_odds_ratios(self, outcomes, truth):
        from statsmodels.api import GLM, families

        design = pd.DataFrame(
            {
                "intercept": 1.0,
                "lesion": outcomes["preop_pai"] >= 3,
                "short": outcomes["level"] == 1,
                "beyond": outcomes["level"] == 2,
                "retreatment": outcomes["treatment_type"] == "retreatment",
                "molar": outcomes["tooth"].str[1].isin(["6", "7", "8"]),
            }
        ).astype(float)
        fit = GLM(outcomes["event"].astype(float), design, family=families.Binomial()).fit(
            cov_type="cluster", cov_kwds={"groups": pd.factorize(outcomes["patient_id"])[0]}
        )
        interval = np.exp(fit.conf_int())
        for name in design.columns.drop("intercept"):
            planted = truth["outcome"][f"{name}_odds_ratio"]["size"]
            assert interval.loc[name, 0] <= planted <= interval.loc[name, 1], name

    def test_attendance_depends_on_lesion_and_clinician(self, clean, truth):
        rows = clean["treatments"]
        rows = rows[(rows["period"] <= "2025-04") & rows["preop_pai"].notna()]
        reviews = clean["follow_ups"]
        late = reviews.loc[reviews["days_from_treatment"] >= 366, "treatment_id"]
        seen = rows["treatment_id"].isin(late)
        low, high = odds_ratio_interval(seen, rows["preop_pai"] >= 3)
        assert low <= np.exp(truth["outcome"]["attendance_lesion"]["size"]) <= high
        by_clinician = seen.groupby(rows["clinician_id"]).mean()
        assert by_clinician["C01"] > by_clinician["C04"] + 0.2

    def test_reviews_end_at_the_cut_off(self, clean, truth):
        rows = clean["follow_ups"].merge(clean["treatments"], on="treatment_id")
        month_end = pd.PeriodIndex(rows["period"], freq="M").to_timestamp(how="end").normalize()
        last = month_end + pd.to_timedelta(rows["days_from_treatment"], unit="D")
        assert last.max() <= pd.Timestamp(truth["dataset"]["cut_off"])

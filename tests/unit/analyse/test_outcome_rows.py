"""Outcome analyses as result rows: published counts, degenerate tables, planted truth."""

import numpy as np
import pandas as pd
import pytest
from teeth import PERIOD, random_teeth, teeth_from_counts

from lengthwise.analyse.outcomes import analyse_outcomes
from lengthwise.analyse.rows import ResultRows
from lengthwise.settings import Settings

# Reconstructed from the rates of IADR abstract 14iags 189964 (100 cases, 87 %; within 2 mm
# 93.8 %, more than 2 mm short 64.7 %, through the apex 33.3 %): the one solution in integers.
OTAGO = {"within": (5, 80), "short": (6, 17), "beyond": (2, 3)}
# Terauchi and others 2023, J Endod 49:664-674: flush 90/103, short 10/53, beyond 99/108 healed.
TERAUCHI = {"within": (13, 103), "short": (43, 53), "beyond": (9, 108)}


def analysed(teeth: pd.DataFrame) -> pd.DataFrame:
    rows = ResultRows()
    analyse_outcomes(rows, teeth, PERIOD, Settings())
    found = pd.DataFrame(rows.estimates)
    return found[found["section"] == "outcome"]


def one(found: pd.DataFrame, analysis: str, measure: str, subject: str) -> pd.Series:
    hit = found[
        (found["analysis"] == analysis)
        & (found["measure"] == measure)
        & (found["subject"] == subject)
        & (found["stratum_kind"] == "")
    ]
    assert len(hit) == 1
    return hit.iloc[0]


@pytest.mark.parametrize(
    ("counts", "level", "odds", "lower", "upper"),
    [
        # Woolf intervals computed from the counts by the textbook formula.
        (OTAGO, "short", 8.1818, 2.1317, 31.4028),
        (OTAGO, "beyond", 30.0, 2.3065, 390.21),
        (TERAUCHI, "short", 29.7692, 12.0921, 73.2881),
        (TERAUCHI, "beyond", 0.6294, 0.2568, 1.5427),
    ],
)
def test_crude_odds_of_both_published_tables(counts, level, odds, lower, upper):
    row = one(analysed(teeth_from_counts(counts)), "C1", "odds_ratio", level)
    assert [row["estimate"], row["lower"], row["upper"]] == pytest.approx(
        [odds, lower, upper], rel=2e-4
    )


@pytest.mark.parametrize(
    ("counts", "p_value", "word"),
    [(OTAGO, 0.000369, "exact"), (TERAUCHI, 1.2856e-25, "Pearson")],
)
def test_the_test_is_named_and_is_exact_where_counts_are_small(counts, p_value, word):
    row = one(analysed(teeth_from_counts(counts)), "C1", "p_value", "all levels")
    assert row["estimate"] == pytest.approx(p_value, rel=2e-3)
    assert word in row["method"]


def test_three_teeth_give_counts_a_refused_share_and_a_flag_on_the_ratio():
    found = analysed(teeth_from_counts(OTAGO))
    share = one(found, "C1", "share_not_healed", "beyond")
    assert (share["numerator"], share["denominator"], share["valid"]) == (2, 3, False)
    assert not one(found, "C1", "risk_difference", "beyond")["valid"]
    ratio = one(found, "C1", "odds_ratio", "beyond")
    assert ratio["valid"]
    assert "n = 3" in ratio["reason"]


def _with(teeth: pd.DataFrame, **columns: object) -> pd.DataFrame:
    return teeth.assign(**columns)


def _separated() -> pd.DataFrame:
    teeth = random_teeth()
    teeth.loc[teeth["level"] == "beyond", "is_not_healed"] = True
    return teeth


DEGENERATE = {
    "one level empty": lambda: random_teeth().query("level != 'beyond'"),
    "only the reference": lambda: random_teeth().query("level == 'within'"),
    "reference empty": lambda: random_teeth().query("level != 'within'"),
    "all healed": lambda: _with(
        random_teeth(), is_not_healed=pd.array([False] * 240, dtype="boolean"), outcome="healed"
    ),
    "none healed": lambda: _with(
        random_teeth(), is_not_healed=pd.array([True] * 240, dtype="boolean")
    ),
    "one clinician": lambda: _with(random_teeth(), clinician_id="C1"),
    "complete separation": _separated,
    "one patient with all teeth": lambda: _with(random_teeth(), patient_id="P1"),
    "nobody reviewed": lambda: random_teeth(share_reviewed=0.0),
    "all lost for another reason": lambda: _with(
        random_teeth(), is_not_healed=pd.array([pd.NA] * 240, dtype="boolean"),
        outcome="lost_other",
    ),
    "constant covariate": lambda: _with(random_teeth(), tooth_type="molar"),
    "covariate never recorded": lambda: _with(
        random_teeth(), is_restoration_adequate=pd.array([pd.NA] * 240, dtype="boolean")
    ),
    "three teeth": lambda: random_teeth().head(3),
    "no tooth at all": lambda: random_teeth().head(0),
}  # fmt: skip


@pytest.mark.parametrize("name", DEGENERATE)
def test_degenerate_tables_give_reasons_and_no_bare_number(name):
    found = analysed(DEGENERATE[name]())
    assert len(found), "the place of a number is never left empty"
    refused = found[~found["valid"]]
    assert (refused["reason"] != "").all()
    assert refused["estimate"].isna().all()
    assert found.loc[found["valid"], "estimate"].notna().all()
    adjusted = found[(found["analysis"] == "C2") & (found["measure"] == "odds_ratio")]
    shown = adjusted[adjusted["valid"]]
    assert np.isfinite(shown[["estimate", "lower", "upper"]].astype(float)).all(axis=None)


@pytest.mark.parametrize(
    ("name", "subject", "words"),
    [
        ("one level empty", "beyond", "no tooth filled beyond"),
        ("reference empty", "short", "nothing to compare with"),
        ("all healed", "short", "0 events"),
        ("none healed", "short", "0 rows without the event"),
        ("nobody reviewed", "short", "no tooth with a known level has a countable review"),
    ],
)
def test_refusal_stands_in_the_place_of_the_adjusted_ratio(name, subject, words):
    row = one(analysed(DEGENERATE[name]()), "C2", "odds_ratio", subject)
    assert not row["valid"]
    assert words in row["reason"]


def test_complete_separation_is_answered_by_the_penalised_fit():
    row = one(analysed(_separated()), "C2", "odds_ratio", "beyond")
    assert row["valid"]
    assert "Firth" in row["method"]
    assert 1 < row["lower"] < row["estimate"]


def test_a_constant_covariate_is_left_out_and_named():
    found = analysed(DEGENERATE["constant covariate"]())
    row = one(found, "C2", "odds_ratio", "molar")
    assert not row["valid"]
    assert "does not vary" in row["reason"]
    assert "molar" in one(found, "C2", "events_per_parameter", "model")["reason"]


def test_covariates_leave_in_the_declared_order_when_events_are_few():
    found = analysed(random_teeth(120))
    row = one(found, "C2", "events_per_parameter", "model")
    terms = found[(found["analysis"] == "C2") & (found["measure"] == "odds_ratio")]
    assert "restoration_not_adequate" in row["reason"]
    assert set(terms[terms["valid"]]["subject"]) <= {"short", "beyond", "lesion"}
    dropped = one(found, "C2", "odds_ratio", "restoration_not_adequate")
    assert "too few events" in dropped["reason"]


def test_ratios_say_what_they_compare_with():
    found = analysed(random_teeth(2_000))
    terms = found[(found["analysis"] == "C2") & (found["measure"] == "odds_ratio")]
    assert dict(zip(terms["subject"], terms["reference"], strict=True)) == {
        "short": "within",
        "beyond": "within",
        "lesion": "no lesion",
        "molar": "other teeth",
        "retreatment": "primary treatment",
        "months_from_treatment": "a month earlier",
        "restoration_not_adequate": "adequate restoration",
    }


def test_leaving_out_one_patient_moves_the_ratio_to_both_sides():
    found = analysed(random_teeth())
    ratio = one(found, "C2", "odds_ratio", "short")["estimate"]
    measure = "odds_ratio_without_one_patient_{}"
    low = one(found, "C2", measure.format("lowest"), "short")
    high = one(found, "C2", measure.format("highest"), "short")
    assert low["estimate"] < ratio < high["estimate"]
    assert pd.isna(low["lower"])


def test_missing_values_are_counted_by_term():
    teeth = random_teeth(2_000)
    teeth.loc[:29, "treatment_type"] = None
    row = one(analysed(teeth), "C2", "missing_values", "retreatment")
    assert (row["numerator"], row["denominator"]) == (30, 2_000)


def test_a_missing_treatment_type_is_missing_and_not_a_primary_treatment():
    teeth = random_teeth(2_000)
    teeth.loc[:29, "treatment_type"] = None
    row = one(analysed(teeth), "C2", "odds_ratio", "short")
    assert (row["n_used"], row["n_missing"]) == (1_970, 30)


def test_a_term_left_out_for_few_events_sets_no_tooth_aside():
    teeth = random_teeth(240)
    teeth.loc[:29, "is_restoration_adequate"] = pd.NA
    found = analysed(teeth)
    assert not one(found, "C2", "odds_ratio", "restoration_not_adequate")["valid"]
    row = one(found, "C2", "odds_ratio", "short")
    assert (row["n_used"], row["n_missing"]) == (240, 0)


def test_standardised_risks_and_their_contrasts_agree():
    found = analysed(random_teeth())
    risk = {name: one(found, "C4", "standardised_risk", name)["estimate"] for name in OTAGO}
    difference = one(found, "C4", "risk_difference", "short")["estimate"]
    ratio = one(found, "C4", "risk_ratio", "short")["estimate"]
    assert difference == pytest.approx(risk["short"] - risk["within"])
    assert ratio == pytest.approx(risk["short"] / risk["within"])


def test_e_value_of_a_risk_ratio():
    # VanderWeele & Ding 2017, 10.7326/M16-2607: RR + sqrt(RR (RR - 1)).
    found = analysed(random_teeth())
    ratio = one(found, "C4", "risk_ratio", "short")["estimate"]
    expected = ratio + (ratio * (ratio - 1)) ** 0.5
    assert one(found, "C9", "e_value", "short")["estimate"] == pytest.approx(expected)


def test_the_split_by_lesion_adds_up_to_the_whole():
    teeth = random_teeth(400, seed=11)
    found = analysed(teeth)
    own = found[(found["measure"] == "share_not_healed") & (found["subject"] == "short")]
    whole = own[own["stratum_kind"] == ""].iloc[0]
    parts = own[own["stratum_kind"] == "lesion"]
    assert set(parts["stratum"]) == {"with_a_lesion", "without_a_lesion"}
    assert parts["numerator"].sum() == whole["numerator"]
    assert parts["denominator"].sum() == whole["denominator"]


def test_vital_pulps_are_shown_apart_from_infected_canals():
    teeth = random_teeth(200, seed=12)
    teeth["pulpal_diagnosis"] = np.where(teeth.index < 80, "normal_pulp", "pulp_necrosis")
    teeth.loc[:4, "pulpal_diagnosis"] = None
    found = analysed(teeth)
    parts = found[found["stratum_kind"] == "pulp"].groupby("stratum")["denominator"].sum()
    assert parts.to_dict() == {"vital_pulp": 75, "pulp_necrosis": 120}


def test_expected_and_seen_events_agree_over_all_fifths():
    # Any logistic fit with an intercept and independent rows reproduces the number of events.
    found = analysed(
        _with(random_teeth(600, seed=13), patient_id=[f"P{i}" for i in range(600)])
    )
    seen = found[found["measure"] == "seen_share"]
    expected = found[found["measure"] == "expected_share"]
    assert len(seen) == len(expected) == 5
    events = (expected["estimate"] * expected["denominator"]).sum()
    assert events == pytest.approx(seen["numerator"].sum(), abs=0.01)
    assert expected["estimate"].is_monotonic_increasing


def _estimates(teeth: pd.DataFrame) -> pd.DataFrame:
    found = analysed(teeth).set_index("result_id")
    return found[["estimate", "lower", "upper"]].astype(float).sort_index()


def test_the_order_of_the_teeth_changes_nothing():
    teeth = random_teeth(300, seed=21)
    mixed = teeth.sample(frac=1.0, random_state=4).reset_index(drop=True)
    # Draws of the imputation follow the order of rows; nothing is missing here, so none is made.
    pd.testing.assert_frame_equal(_estimates(teeth), _estimates(mixed), rtol=1e-6, atol=1e-9)


def test_new_codes_for_the_patients_change_nothing():
    teeth = random_teeth(300, seed=22)
    renamed = _with(teeth, patient_id="X" + teeth["patient_id"].str[::-1])
    pd.testing.assert_frame_equal(_estimates(teeth), _estimates(renamed), rtol=1e-6, atol=1e-9)


def test_twice_the_teeth_of_the_same_patients_move_no_adjusted_ratio():
    teeth = _with(random_teeth(300, seed=23), patient_id=[f"P{i}" for i in range(300)])
    twice = pd.concat([teeth, teeth], ignore_index=True)
    once, both = (one(analysed(rows), "C2", "odds_ratio", "short") for rows in (teeth, twice))
    # Copies of a tooth in one patient hold no more information, so the interval must not shrink
    # as if there were twice the patients.
    assert both["n_clusters"] == once["n_clusters"] == 300
    width = [np.log(row["upper"] / row["lower"]) for row in (once, both)]
    assert width[1] > 0.9 * width[0]


def _canals(teeth: pd.DataFrame, *, per_tooth: int) -> pd.DataFrame:
    """Return so many canals of each tooth, all filled to the tooth's level."""
    return pd.concat([teeth[["treatment_id", "level"]]] * per_tooth, ignore_index=True)


def test_canals_all_alike_give_the_ratio_of_the_worst_canal():
    teeth = random_teeth(600)
    rows = ResultRows()
    analyse_outcomes(rows, teeth, PERIOD, Settings(), None, _canals(teeth, per_tooth=3))
    found = pd.DataFrame(rows.estimates)
    for level in ("short", "beyond"):
        worst = one(found, "C2", "odds_ratio", level)
        drawn = one(found, "C2", "odds_ratio_one_canal", level)
        names = ["estimate", "lower", "upper", "n_used"]
        assert drawn[names].tolist() == pytest.approx(worst[names].tolist(), rel=1e-9)


def test_a_canal_drawn_at_random_waters_down_a_level_of_one_canal_in_three():
    teeth = random_teeth(1_500, seed=4)
    canals = _canals(teeth, per_tooth=3)
    canals.loc[len(teeth) :, "level"] = "within"
    rows = ResultRows()
    analyse_outcomes(rows, teeth, PERIOD, Settings(), None, canals)
    found = pd.DataFrame(rows.estimates)
    worst = one(found, "C2", "odds_ratio", "short")["estimate"]
    drawn = one(found, "C2", "odds_ratio_one_canal", "short")["estimate"]
    assert 1 < drawn < worst


def test_an_e_value_stands_beside_each_adjusted_ratio():
    found = analysed(random_teeth(2_000, seed=2))
    for term in ("lesion", "molar"):
        row = one(found, "C9", "e_value", term)
        odds = one(found, "C2", "odds_ratio", term)["estimate"]
        risk = max(odds, 1 / odds) ** 0.5
        # VanderWeele & Ding 2017, 10.7326/M16-2607: RR + sqrt(RR (RR - 1)), common outcome
        assert row["estimate"] == pytest.approx(risk + (risk * (risk - 1)) ** 0.5)
        assert "square root" in row["method"]


def test_an_odds_ratio_of_a_rare_outcome_is_read_as_a_risk_ratio():
    teeth = random_teeth(2_000)
    healed = np.arange(2_000) % 2 == 0
    teeth.loc[healed, ["is_not_healed", "is_not_healed_loose"]] = False
    found = analysed(teeth)
    odds = one(found, "C2", "odds_ratio", "lesion")["estimate"]
    risk = max(odds, 1 / odds)
    row = one(found, "C9", "e_value", "lesion")
    assert row["estimate"] == pytest.approx(risk + (risk * (risk - 1)) ** 0.5)
    assert "read as a risk ratio" in row["method"]


def test_shares_allow_for_teeth_of_one_patient():
    counts = {"within": (20, 80), "short": (12, 40), "beyond": (9, 30)}
    apart = teeth_from_counts(counts)
    # The first teeth of each level are the not healed ones, so four in a row are alike.
    together = apart.assign(patient_id=[f"P{i // 4}" for i in range(len(apart))])
    alone, shared = (
        one(analysed(teeth), "C1", "share_not_healed", "within") for teeth in (apart, together)
    )
    assert alone["estimate"] == shared["estimate"] == 0.25
    assert shared["upper"] - shared["lower"] > 1.5 * (alone["upper"] - alone["lower"])
    assert "design effect" in shared["method"]
    assert "design effect" not in alone["method"]

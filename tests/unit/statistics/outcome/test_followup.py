"""Loss to follow-up: who is missing, weights, bounds."""

import numpy as np
import pytest

from lengthwise.statistics.outcome.followup_bounds import followup_bounds
from lengthwise.statistics.outcome.followup_table import followup_by_group
from lengthwise.statistics.outcome.review_weights import review_weights
from lengthwise.statistics.outcome.weighted_risks import weighted_risk_difference
from lengthwise.statistics.process.differences import newcombe_difference

NAMES = {"exposure_terms": ("beyond",), "covariate_terms": ("lesion", "age")}


def practice(n: int = 40_000, seed: int = 31) -> tuple[np.ndarray, ...]:
    """Teeth with a lesion fail more and come back less: the reviewed look too good."""
    generator = np.random.default_rng(seed)
    lesion = (generator.random(n) < 0.5).astype(float)
    beyond = (generator.random(n) < 0.2 + 0.3 * lesion).astype(float)
    age = generator.normal(0, 1, n)
    seen = (generator.random(n) < 0.8 - 0.5 * lesion).astype(float)
    event = (generator.random(n) < 0.1 + 0.4 * lesion).astype(float)
    return event, beyond, np.column_stack([lesion, age]), seen


def test_weights_bring_back_the_risk_of_all_treated() -> None:
    event, beyond, covariates, seen = practice()
    outcome = np.where(seen == 1, event, np.nan)
    found = review_weights(seen, beyond, covariates, **NAMES, truncation=None)
    weighted = weighted_risk_difference(outcome, beyond, found.weights)
    truth = [event[beyond == group].mean() for group in (0, 1)]
    naive = [np.nanmean(outcome[beyond == group]) for group in (0, 1)]
    assert weighted.risk_reference == pytest.approx(truth[0], abs=0.01)
    assert weighted.risk_exposed == pytest.approx(truth[1], abs=0.015)
    assert abs(naive[0] - truth[0]) > 0.05
    difference = weighted.difference
    assert difference.lower < truth[1] - truth[0] < difference.upper


def test_weights_balance_the_case_mix() -> None:
    _, beyond, covariates, seen = practice()
    found = review_weights(seen, beyond, covariates, **NAMES, truncation=None)
    lesion = found.balance[0]
    assert lesion.term == "lesion"
    assert abs(lesion.before) > 0.3
    assert abs(lesion.after) < 0.01
    assert found.mean == pytest.approx(1.0, abs=0.02)
    assert found.effective_n < found.n_reviewed


def test_truncation_is_counted_and_shrinks_the_range() -> None:
    _, beyond, covariates, seen = practice(2_000)
    plain = review_weights(seen, beyond, covariates, **NAMES, truncation=None)
    cut = review_weights(seen, beyond, covariates, **NAMES, truncation=(0.05, 0.95))
    assert plain.limits is None
    assert plain.n_truncated == 0
    assert cut.n_truncated > 0
    assert (cut.smallest, cut.largest) == pytest.approx(cut.limits)
    assert "0.05 and 0.95" in cut.method


def test_rows_without_covariates_get_no_weight() -> None:
    _, beyond, covariates, seen = practice(500)
    covariates[:7, 1] = np.nan
    found = review_weights(seen, beyond, covariates, **NAMES)
    assert found.n_missing == 7
    assert np.isnan(found.weights[:7]).all()


@pytest.mark.parametrize(
    ("seen", "reason"),
    [
        (np.ones(50), "every tooth was reviewed"),
        (np.zeros(50), "no tooth was reviewed"),
        (np.full(50, np.nan), "no tooth was reviewed"),
    ],
)
def test_weights_are_refused_without_contrast(seen: np.ndarray, reason: str) -> None:
    _, beyond, covariates, _ = practice(50)
    found = review_weights(seen, beyond, covariates, **NAMES)
    assert not found.valid
    assert reason in found.reason
    assert np.isnan(found.weights).all()


def test_review_that_follows_a_covariate_outright_is_refused() -> None:
    _, beyond, covariates, _ = practice(80)
    found = review_weights(covariates[:, 0], beyond, covariates, **NAMES)
    assert not found.valid
    assert "separation" in found.reason


def test_truncation_misuse_raises() -> None:
    _, beyond, covariates, seen = practice(100)
    with pytest.raises(ValueError):
        review_weights(seen, beyond, covariates, **NAMES, truncation=(0.9, 0.1))


def test_bounds_hold_whatever_the_missing_were() -> None:
    event, beyond, _, seen = practice(400)
    outcome = np.where(seen == 1, event, np.nan)
    found = followup_bounds(outcome, beyond)
    truth = event[beyond == 1].mean() - event[beyond == 0].mean()
    assert found.difference_lowest <= truth <= found.difference_highest
    assert found.grid[0][0] == pytest.approx(found.difference_no_events)
    assert found.grid[2][2] == pytest.approx(found.difference_all_events)
    assert found.grid[2][0] == pytest.approx(found.difference_lowest)


def test_the_tipping_share_makes_the_difference_vanish() -> None:
    # 10 of 20 seen and 20 missing, against 8 of 40 seen and none missing: 0.2.
    outcome = np.array([1] * 8 + [0] * 32 + [1] * 10 + [0] * 10 + [np.nan] * 40)
    exposed = np.array([0] * 40 + [1] * 60)
    found = followup_bounds(outcome, exposed)
    assert found.tipping_share == pytest.approx((0.2 * 60 - 10) / 40)
    assert (10 + found.tipping_share * 40) / 60 == pytest.approx(0.2)


def test_without_loss_nothing_can_tip() -> None:
    found = followup_bounds([1, 0, 1, 1], [0, 0, 1, 1])
    assert np.isnan(found.tipping_share)
    assert found.difference_lowest == found.difference_highest == found.difference_observed


@pytest.mark.parametrize(
    ("outcome", "exposed"),
    [([np.nan, np.nan, 1], [0, 0, 1]), ([1, 0], [1, 1]), ([np.nan] * 4, [0, 0, 1, 1])],
)
def test_bounds_are_refused_without_a_reviewed_tooth(outcome: list, exposed: list) -> None:
    found = followup_bounds(outcome, exposed)
    assert not found.valid
    assert "no reviewed tooth" in found.reason
    assert not weighted_risk_difference(
        outcome, exposed, np.ones(len(outcome))
    ).difference.valid


def test_bounds_misuse_raises() -> None:
    with pytest.raises(ValueError):
        followup_bounds([1, 0], [1])
    with pytest.raises(ValueError):
        followup_bounds([1, 0], [1, 0], shares=(0.0, 2.0))


def test_who_is_missing_by_group() -> None:
    seen = [1, 1, 0, 1, 0, 0, 1, np.nan]
    group = ["a", "a", "a", "b", "b", "b", None, "a"]
    found = followup_by_group(seen, group, variable="clinician")
    assert [(row.group, row.reviewed, row.n) for row in found.rows] == [
        ("a", 2, 3),
        ("b", 1, 3),
    ]
    assert found.n_missing == 2
    assert found.test.exact_needed


def test_an_absent_group_is_refused_and_clusters_widen() -> None:
    seen, group = np.repeat([1, 0], 30), np.repeat("a", 60)
    patients = np.arange(60) // 6
    options = {"variable": "level", "groups": ("a", "b")}
    alone = followup_by_group(seen, group, **options)
    clustered = followup_by_group(seen, group, cluster=patients, **options)
    assert not alone.rows[1].share.valid
    assert clustered.rows[0].share.lower < alone.rows[0].share.lower


def test_without_weights_the_interval_of_a_weighted_difference_is_newcombes():
    outcome = np.repeat([1.0, 0.0, 1.0, 0.0], [6, 11, 5, 75])
    exposed = np.repeat([1.0, 1.0, 0.0, 0.0], [6, 11, 5, 75])
    found = weighted_risk_difference(outcome, exposed, np.ones(97)).score_difference
    plain = newcombe_difference(6, 17, 5, 80)
    assert [found.estimate, found.lower, found.upper] == pytest.approx(
        [plain.estimate, plain.lower, plain.upper], rel=1e-9
    )


def test_a_group_without_events_keeps_an_interval_of_honest_width():
    outcome = np.repeat([0.0, 1.0, 0.0], [12, 5, 75])
    exposed = np.repeat([1.0, 0.0, 0.0], [12, 5, 75])
    found = weighted_risk_difference(outcome, exposed, np.ones(92))
    plain = newcombe_difference(0, 12, 5, 80)
    assert found.score_difference.upper == pytest.approx(plain.upper, rel=1e-9)
    assert found.score_difference.upper > 0.15 > found.difference.upper


def test_weights_and_shared_patients_widen_the_interval():
    random = np.random.default_rng(4)
    outcome = (random.random(300) < 0.2).astype(float)
    exposed = np.repeat([0.0, 1.0], 150)
    weights = random.uniform(0.5, 3.0, 300)
    even = weighted_risk_difference(outcome, exposed, np.ones(300)).score_difference
    uneven = weighted_risk_difference(outcome, exposed, weights).score_difference
    assert uneven.upper - uneven.lower > even.upper - even.lower

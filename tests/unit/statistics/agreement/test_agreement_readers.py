"""Readers: intraclass correlation, kappa, Fleiss, Gwet, Krippendorff."""

import numpy as np
import pytest

from lengthwise.statistics.agreement.intraclass import (
    FORMS,
    intraclass_correlations,
    one_way_intraclass,
)
from lengthwise.statistics.agreement.kappa import (
    agreement_weights,
    kappa_of_readings,
    kappa_of_table,
)
from lengthwise.statistics.agreement.rater_agreement import (
    category_weights,
    fleiss_kappa,
    gwet_ac,
    krippendorff_alpha,
    rating_counts,
)

RNG = np.random.default_rng(31)
PATIENT = np.repeat(np.arange(20), 3)
FIRST = RNG.integers(1, 6, 60)
SECOND = np.where(RNG.random(60) < 0.7, FIRST, RNG.integers(1, 6, 60))
PAI = [1, 2, 3, 4, 5]


def test_full_agreement_is_one_for_every_coefficient() -> None:
    counts, values = rating_counts(np.column_stack([FIRST, FIRST]))
    full = kappa_of_readings(FIRST, FIRST, categories=PAI)
    assert full.kappa.estimate == pytest.approx(1)
    assert full.raw_agreement == pytest.approx(1)
    assert fleiss_kappa(counts).kappa.estimate == pytest.approx(1)
    assert gwet_ac(counts).coefficient.estimate == pytest.approx(1)
    for metric in ("nominal", "ordinal", "interval", "ratio"):
        found = krippendorff_alpha(counts, categories=values, metric=metric)
        assert found.coefficient.estimate == pytest.approx(1)


def test_full_agreement_has_no_interval_by_patient_and_says_so() -> None:
    counts, values = rating_counts(np.column_stack([FIRST, FIRST]))
    people = np.arange(60) // 2
    for found in (
        kappa_of_readings(FIRST, FIRST, categories=PAI, patient=people).kappa,
        gwet_ac(counts, patient=people).coefficient,
        krippendorff_alpha(counts, categories=values, patient=people).coefficient,
    ):
        assert found.estimate == pytest.approx(1)
        assert np.isnan(found.lower)
        assert "agree everywhere" in found.reason


def test_kappa_of_readings_equals_kappa_of_their_table() -> None:
    table = np.zeros((5, 5))
    np.add.at(table, (FIRST - 1, SECOND - 1), 1)
    for weights in ("none", "linear", "quadratic"):
        one = kappa_of_readings(FIRST, SECOND, categories=PAI, weights=weights)
        two = kappa_of_table(table, weights=weights)
        assert one.kappa.estimate == pytest.approx(two.kappa.estimate)
        assert one.standard_error == pytest.approx(two.standard_error)


def test_kappa_by_patient_has_its_own_interval() -> None:
    plain = kappa_of_readings(FIRST, SECOND, categories=PAI)
    single = kappa_of_readings(FIRST, SECOND, categories=PAI, patient=np.arange(60))
    # One unit per patient: the jackknife is close to the large-sample error.
    assert single.standard_error == pytest.approx(plain.standard_error, rel=0.08)
    doubled = np.repeat(np.arange(60), 2)
    twice = kappa_of_readings(
        np.repeat(FIRST, 2), np.repeat(SECOND, 2), categories=PAI, patient=doubled
    )
    assert twice.standard_error == pytest.approx(single.standard_error)


def test_kappa_refusals_and_missing_readings() -> None:
    assert "single category" in kappa_of_table([[20, 0], [0, 0]]).kappa.reason
    assert "fewer than 10 units" in kappa_of_table([[2, 1], [1, 2]]).kappa.reason
    gaps = FIRST.astype(float)
    gaps[:2] = np.nan
    assert kappa_of_readings(gaps, SECOND, categories=PAI).kappa.n_missing == 2
    alone = kappa_of_readings(FIRST, SECOND, categories=PAI, patient=np.zeros(60))
    assert "fewer than 3 patients" in alone.kappa.reason
    with pytest.raises(ValueError, match="square"):
        kappa_of_table([[1, 2, 3]])
    with pytest.raises(ValueError, match="shape of the table"):
        kappa_of_table([[10, 2], [3, 10]], weights=np.eye(3))
    with pytest.raises(ValueError, match="weights must be one of"):
        agreement_weights(3, "cubic")


def test_gwet_error_by_patient_with_one_unit_each_is_that_over_units() -> None:
    counts, _ = rating_counts(np.column_stack([FIRST, SECOND]))
    one, two = gwet_ac(counts), gwet_ac(counts, patient=np.arange(60))
    assert two.standard_error == pytest.approx(one.standard_error)
    grouped = gwet_ac(counts, patient=PATIENT)
    assert grouped.coefficient.estimate == one.coefficient.estimate
    assert "patients" in grouped.coefficient.method
    alone = gwet_ac(counts, patient=np.zeros(60))
    assert np.isnan(alone.coefficient.lower)
    assert "one patient" in alone.coefficient.reason


def test_frequencies_stand_for_repeated_units() -> None:
    counts, _ = rating_counts(np.column_stack([FIRST, SECOND]))
    rows, number = np.unique(counts, axis=0, return_counts=True)
    for fit in (fleiss_kappa, gwet_ac):
        long, short = fit(counts), fit(rows, frequency=number)
        assert long.raw_agreement == pytest.approx(short.raw_agreement)
        assert long.chance_agreement == pytest.approx(short.chance_agreement)
    assert gwet_ac(counts).standard_error == pytest.approx(
        gwet_ac(rows, frequency=number).standard_error
    )


def test_gaps_are_allowed_and_single_readings_do_not_count_as_pairs() -> None:
    ratings = np.column_stack([FIRST, SECOND, FIRST]).astype(float)
    ratings[:5, 1:] = np.nan
    counts, values = rating_counts(ratings)
    alpha = krippendorff_alpha(counts, categories=values)
    assert (alpha.coefficient.n_used, alpha.coefficient.n_missing) == (55, 5)
    assert np.isnan(fleiss_kappa(counts).standard_error_null)
    assert gwet_ac(counts).coefficient.valid


def test_reader_refusals() -> None:
    same, values = rating_counts(np.ones((12, 2)))
    assert not fleiss_kappa(same).kappa.valid
    assert not gwet_ac(same).coefficient.valid
    assert not krippendorff_alpha(same, categories=values).coefficient.valid
    nothing, values = rating_counts(np.empty((0, 2)))
    assert nothing.shape == (0, 0)
    assert not fleiss_kappa(nothing).kappa.valid
    assert not gwet_ac(nothing).coefficient.valid
    assert not krippendorff_alpha(nothing, categories=values).coefficient.valid
    counts, values = rating_counts(np.column_stack([FIRST, SECOND]))
    alone = krippendorff_alpha(counts, categories=values, patient=np.zeros(60))
    assert "one patient" in alone.coefficient.reason
    few, values = rating_counts(np.array([[1.0, 2.0], [2.0, 2.0]]))
    assert "fewer than 10" in gwet_ac(few).coefficient.reason
    with pytest.raises(ValueError, match="metric"):
        krippendorff_alpha(few, categories=values, metric="other")
    with pytest.raises(ValueError, match="weights"):
        category_weights(values, "other")
    with pytest.raises(ValueError, match="readers"):
        rating_counts(np.ones(3))


def test_icc_by_patient_brackets_its_estimate() -> None:
    truth = RNG.normal(size=60)
    table = truth[:, None] + 0.5 * RNG.normal(size=(60, 3))
    plain, grouped = (
        intraclass_correlations(table),
        intraclass_correlations(table, patient=PATIENT),
    )
    for name in FORMS:
        one, two = plain.form(name), grouped.form(name)
        assert one.estimate == pytest.approx(two.estimate)
        assert two.lower < two.estimate < two.upper
        assert one.lower < one.estimate < one.upper
    assert plain.form("ICC(A,1)").lower < 0.8 < plain.form("ICC(A,1)").upper


def test_icc_of_equal_and_constant_readings() -> None:
    assert "the same mean" in intraclass_correlations(np.ones((12, 2))).forms[0].reason
    shifted = np.column_stack([np.full(12, 20.0), np.full(12, 20.5)])
    assert not intraclass_correlations(shifted).forms[0].valid
    equal = np.repeat(np.arange(12.0)[:, None], 2, axis=1)
    for one in intraclass_correlations(equal).forms:
        assert one.estimate == pytest.approx(1)
        assert (one.lower, one.upper) == pytest.approx((1, 1))
    assert not intraclass_correlations(np.arange(4.0).reshape(2, 2)).forms[0].valid
    assert not one_way_intraclass([1.0, 2.0], ["a", "b"]).single.valid
    perfect = one_way_intraclass(np.repeat([1.0, 2, 3], 2), np.repeat([1, 2, 3], 2))
    assert (perfect.single.lower, perfect.single.upper) == (1, 1)
    with pytest.raises(ValueError, match="table must be"):
        intraclass_correlations(np.ones((3, 1)))

"""What must not change, or must change in one way only, whatever the lengths are."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lengthwise.statistics.agreement.clustered_limits import ClusteredLimits, clustered_limits
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.agreement.method_ranking import method_errors
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from lengthwise.statistics.agreement.shares import share_within
from lengthwise.statistics.agreement.structural_lines import deming_line, passing_bablok_line

Numbers = tuple[float, ...]


@st.composite
def practices(draw: st.DrawFn) -> dict[str, np.ndarray]:
    """Return canals in teeth in patients, readings to 0.1 mm as practices record them."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    patients = draw(st.integers(10, 25))
    canals = rng.integers(1, 6, patients)
    patient = np.repeat(np.arange(patients), canals)
    n = len(patient)
    truth = rng.normal(21, 2, n)
    spread = draw(st.sampled_from([0.1, 0.4, 1.5]))
    shared = rng.normal(0, spread, patients)[patient]
    return {
        "method": np.round(truth + shared + rng.normal(0, spread, n), 1),
        "reference": np.round(truth, 1),
        "patient": patient,
        "tooth": rng.integers(0, 2, n),
    }


def limits(data: dict[str, np.ndarray], **changed: np.ndarray) -> ClusteredLimits:
    one = {**data, **changed}
    return clustered_limits(
        one["method"], one["reference"], patient=one["patient"], tooth=one["tooth"]
    )


def numbers(found: ClusteredLimits) -> Numbers:
    parts = (found.bias, found.standard_deviation, found.lower, found.upper)
    return tuple(x for part in parts for x in (part.estimate, part.lower, part.upper))


def close(got: Numbers, wanted: Numbers, scale: float = 1.0) -> bool:
    return got == pytest.approx(wanted, rel=1e-7, abs=1e-7 * scale)


@settings(max_examples=40, deadline=None)
@given(practices())
def test_swapping_methods_flips_the_sign(data: dict[str, np.ndarray]) -> None:
    one = limits(data)
    two = limits(data, method=data["reference"], reference=data["method"])
    assert two.bias.estimate == pytest.approx(-one.bias.estimate)
    assert close(
        (two.lower.estimate, two.lower.lower, two.lower.upper),
        (-one.upper.estimate, -one.upper.upper, -one.upper.lower),
    )
    assert two.standard_deviation.estimate == pytest.approx(one.standard_deviation.estimate)
    plain = limits_of_agreement(data["method"], data["reference"])
    turned = limits_of_agreement(data["reference"], data["method"])
    assert turned.lower.lower == pytest.approx(-plain.upper.upper)


@settings(max_examples=40, deadline=None)
@given(practices(), st.floats(-5, 5))
def test_shifting_one_method_moves_only_the_bias(
    data: dict[str, np.ndarray], shift: float
) -> None:
    one, two = limits(data), limits(data, method=data["method"] + shift)
    assert two.bias.estimate == pytest.approx(one.bias.estimate + shift, abs=1e-9)
    assert close(
        (two.standard_deviation.estimate, two.standard_deviation.upper),
        (one.standard_deviation.estimate, one.standard_deviation.upper),
    )
    width = one.upper.estimate - one.lower.estimate
    assert two.upper.estimate - two.lower.estimate == pytest.approx(width)


@settings(max_examples=40, deadline=None)
@given(practices(), st.sampled_from([0.1, 10.0, 25.4]))
def test_changing_the_unit_scales_everything(
    data: dict[str, np.ndarray], factor: float
) -> None:
    one = limits(data)
    two = limits(data, method=data["method"] * factor, reference=data["reference"] * factor)
    assert close(numbers(two), tuple(factor * x for x in numbers(one)), factor)
    before = regression_limits(data["method"], data["reference"], patient=data["patient"])
    after = regression_limits(
        data["method"] * factor, data["reference"] * factor, patient=data["patient"]
    )
    assert after.slope.estimate == pytest.approx(before.slope.estimate, abs=1e-8)
    assert after.slope.lower == pytest.approx(before.slope.lower, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(practices(), st.randoms(use_true_random=False))
def test_the_order_of_rows_and_the_labels_do_not_matter(
    data: dict[str, np.ndarray], random: object
) -> None:
    order = np.arange(len(data["method"]))
    random.shuffle(order)
    mixed = {name: column[order] for name, column in data.items()}
    mixed["patient"] = np.array([f"patient {900 - code}" for code in mixed["patient"]])
    assert close(numbers(limits(mixed)), numbers(limits(data)))
    one, two = (
        share_within(d["method"], d["reference"], threshold_mm=0.5, patient=d["patient"])
        for d in (data, mixed)
    )
    assert two.share.lower == pytest.approx(one.share.lower)


@settings(max_examples=40, deadline=None)
@given(practices(), st.integers(1, 20))
def test_splitting_a_patient_over_files_changes_nothing(
    data: dict[str, np.ndarray], cut: int
) -> None:
    rows = np.arange(len(data["method"]))
    order = np.concatenate([rows[rows % 21 >= cut], rows[rows % 21 < cut]])
    joined = {name: column[order] for name, column in data.items()}
    assert close(numbers(limits(joined)), numbers(limits(data)))


@settings(max_examples=25, deadline=None)
@given(practices())
def test_missing_rows_change_nothing_but_their_count(data: dict[str, np.ndarray]) -> None:
    longer = {name: np.append(column, column[:1]) for name, column in data.items()}
    longer["method"] = np.append(data["method"], np.nan)
    found = limits(longer)
    assert close(numbers(found), numbers(limits(data)))
    assert found.bias.n_missing == 1


@settings(max_examples=25, deadline=None)
@given(practices(), st.permutations([0, 1, 2]))
def test_own_errors_do_not_depend_on_the_order_of_methods(
    data: dict[str, np.ndarray], order: list[int]
) -> None:
    rng = np.random.default_rng(1)
    third = data["reference"] + rng.normal(0, 0.3, len(data["reference"]))
    table = np.column_stack([data["method"], data["reference"], third])
    names = ("a", "b", "c")
    one = method_errors(table, names=names, patient=data["patient"], draws=5)
    two = method_errors(
        table[:, order],
        names=tuple(names[i] for i in order),
        patient=data["patient"],
        draws=5,
    )
    for position, source in enumerate(order):
        assert two.methods[position].variance == pytest.approx(
            one.methods[source].variance, abs=1e-9
        )
        assert two.methods[position].constrained_variance == pytest.approx(
            one.methods[source].constrained_variance, rel=1e-5, abs=1e-7
        )


@settings(max_examples=25, deadline=None)
@given(practices())
def test_lines_turn_into_their_inverse_when_methods_swap(data: dict[str, np.ndarray]) -> None:
    for fit in (deming_line, passing_bablok_line):
        one = fit(data["reference"], data["method"])
        two = fit(data["method"], data["reference"])
        # Rounded readings tie, and a median of slopes may then fall beside its mirror image.
        tolerance = 1e-6 if fit is deming_line else 0.1
        assert two.slope.estimate == pytest.approx(1 / one.slope.estimate, rel=tolerance)

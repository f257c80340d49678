"""Nested components and clustered limits on an unbalanced data set, against R.

Source of every number: R 4.2.2, lme4 1.1-31 (refined by Fisher scoring with full matrices) and
clubSandwich 0.5.8, by scripts/nested_lengths.R on tables/nested_lengths.csv (141 canals, 49
teeth, 24 patients; made for this check).
"""

import pandas as pd
import pytest

from lengthwise.statistics.agreement.clustered_limits import ClusteredLimits, clustered_limits
from lengthwise.statistics.agreement.proportional_bias import regression_limits
from reference.runner import HERE


@pytest.fixture(scope="module")
def lengths() -> pd.DataFrame:
    return pd.read_csv(HERE / "tables" / "nested_lengths.csv")


def limits(lengths: pd.DataFrame, estimator: str) -> ClusteredLimits:
    return clustered_limits(
        lengths["method_mm"],
        lengths["reference_mm"],
        patient=lengths["patient"],
        tooth=lengths["tooth"],
        estimator=estimator,
        interval="mover",
    )


def test_reml_components_match_r(lengths: pd.DataFrame) -> None:
    found = limits(lengths, "reml").components
    assert found.names == ("patient", "tooth", "residual")
    expected = [0.0461057417473, 0.0926867453824, 0.121141503775]
    assert found.variances == pytest.approx(expected, rel=1e-9)
    assert found.mean == pytest.approx(0.204695997308, rel=1e-9)
    assert found.standard_error == pytest.approx(0.070677781826, rel=1e-9)
    assert found.log_likelihood == pytest.approx(-86.3072985299, rel=1e-10)


def test_closed_form_components_match_r(lengths: pd.DataFrame) -> None:
    found = limits(lengths, "closed_form").components
    expected = [0.0168512190519, 0.109546769324, 0.120371376812]
    assert found.variances == pytest.approx(expected, rel=1e-9)


def test_clustered_limits_match_r(lengths: pd.DataFrame) -> None:
    found = limits(lengths, "closed_form")
    expected = {
        "bias": (0.180141843972, 0.180141843972 - 0.167160762508, 0.34730260648),
        "standard_deviation": (0.4967588602, 0.438850157234, 0.612046282396),
        "lower": (-0.793487631022, -1.0745575129, -0.591436307805),
        "upper": (1.15377131896, 0.951719995748, 1.43484120084),
    }
    for name, numbers in expected.items():
        one = getattr(found, name)
        assert (one.estimate, one.lower, one.upper) == pytest.approx(numbers, rel=1e-8)


def test_clustered_trend_matches_r(lengths: pd.DataFrame) -> None:
    fit = regression_limits(
        lengths["method_mm"], lengths["reference_mm"], patient=lengths["patient"]
    ).robust
    assert fit is not None
    assert fit.coefficients == pytest.approx([-0.96425263788, 0.0544820953983], rel=1e-9)
    assert fit.se_cr2 == pytest.approx([0.876061909704, 0.041210804915], rel=1e-9)
    assert fit.degrees_of_freedom == pytest.approx([13.4545120409, 13.6057420105], rel=1e-9)

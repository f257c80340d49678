"""Limits for canals in teeth in patients, and the components under them."""

import time

import numpy as np
import pytest

from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.agreement.nested import nested_components
from lengthwise.statistics.agreement.nested_likelihood import nested_components_reml


def simulated(
    patients: int, seed: int, sds: tuple[float, float, float] = (0.3, 0.2, 0.4)
) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(seed)
    teeth = rng.integers(1, 4, patients)
    patient = np.repeat(np.arange(patients), teeth)
    tooth_patient = patient
    canals = rng.integers(1, 5, len(patient))
    tooth = np.repeat(np.arange(len(patient)), canals)
    patient = tooth_patient[tooth]
    value = 0.2 + sds[0] * rng.normal(size=patients)[patient]
    value += sds[1] * rng.normal(size=len(canals))[tooth] + sds[2] * rng.normal(size=len(tooth))
    return {"value": value, "patient": patient, "tooth": tooth}


def limits(data: dict[str, np.ndarray], **options: object) -> object:
    zero = np.zeros(len(data["value"]))
    return clustered_limits(
        data["value"], zero, patient=data["patient"], tooth=data["tooth"], **options
    )


def test_balanced_closed_form_equals_reml() -> None:
    rng = np.random.default_rng(1)
    patient, tooth = np.repeat(np.arange(30), 6), np.repeat(np.arange(90), 2)
    y = rng.normal(size=30)[patient] + rng.normal(size=90)[tooth] + rng.normal(size=180)
    levels = {"patient": patient, "tooth": tooth}
    closed, reml = nested_components(y, levels), nested_components_reml(y, levels)
    assert reml.variances == pytest.approx(closed.variances, rel=1e-7)


def test_planted_components_are_recovered() -> None:
    data = simulated(20_000, seed=2)
    levels = {"patient": data["patient"], "tooth": data["tooth"]}
    for fit in (nested_components, nested_components_reml):
        found = fit(data["value"], levels)
        assert found.variances == pytest.approx([0.09, 0.04, 0.16], abs=0.005)
        assert found.mean == pytest.approx(0.2, abs=0.01)


def test_negative_component_is_cut_and_said() -> None:
    # Opposite canals within each patient: the spread between patients is below its noise.
    y = np.tile([1.0, -1.0], 12) + np.repeat(np.linspace(-0.01, 0.01, 12), 2)
    found = nested_components(y, {"patient": np.repeat(np.arange(12), 2)})
    assert found.raw_variances[0] < 0
    assert found.variances[0] == 0
    assert found.negative == (True, False)
    assert "patient" in found.reason
    reml = nested_components_reml(y, {"patient": np.repeat(np.arange(12), 2)})
    assert reml.negative[0]
    assert reml.variances[0] == pytest.approx(0, abs=1e-9)


def test_reml_says_when_there_is_nothing_within() -> None:
    y = np.repeat(np.arange(12.0), 2)
    found = nested_components_reml(y, {"patient": np.repeat(np.arange(12), 2)})
    assert not found.valid
    assert "no variation" in found.reason


def test_one_canal_per_patient_gives_the_plain_limits() -> None:
    rng = np.random.default_rng(4)
    y = rng.normal(0.1, 0.4, 40)
    found = clustered_limits(y, np.zeros(40), patient=np.arange(40))
    plain = limits_of_agreement(y, np.zeros(40))
    assert found.bias.estimate == pytest.approx(plain.bias.estimate)
    assert (found.bias.lower, found.bias.upper) == pytest.approx(
        (plain.bias.lower, plain.bias.upper)
    )
    assert found.upper.estimate == pytest.approx(plain.upper.estimate)
    assert "one row" in found.upper.reason


def test_limits_are_wider_than_when_patients_are_ignored() -> None:
    data = simulated(40, seed=5, sds=(0.6, 0.1, 0.1))
    found = limits(data)
    plain = limits_of_agreement(data["value"], np.zeros(len(data["value"])))
    assert found.bias.upper - found.bias.lower > plain.bias.upper - plain.bias.lower
    assert found.upper.upper - found.upper.lower > plain.upper.upper - plain.upper.lower


@pytest.mark.parametrize("interval", ["jackknife", "bootstrap"])
def test_the_three_intervals_agree_in_many_patients(interval: str) -> None:
    data = simulated(150, seed=6)
    mover, other = limits(data, interval="mover"), limits(data, interval=interval, seed=9)
    assert other.upper.estimate == pytest.approx(mover.upper.estimate)
    assert other.upper.lower == pytest.approx(mover.upper.lower, abs=0.05)
    assert other.upper.upper == pytest.approx(mover.upper.upper, abs=0.05)
    again = limits(data, interval=interval, seed=9)
    assert (again.upper.lower, again.upper.upper) == (other.upper.lower, other.upper.upper)
    assert f"patient {interval}" in other.upper.method
    assert "MOVER" in mover.upper.method


def test_jackknife_of_single_canals_is_the_jackknife_written_out() -> None:
    # Miller's formula for a log variance, one patient per value; the same limits follow.
    y = np.random.default_rng(3).gamma(4, 0.1, 25)
    found = clustered_limits(y, np.zeros(25), patient=np.arange(25))
    left_out = np.log([np.delete(y, one).std(ddof=1) for one in range(25)])
    error = np.sqrt(24 / 25 * np.sum((left_out - left_out.mean()) ** 2))
    ends = np.log([found.standard_deviation.lower, found.standard_deviation.upper])
    assert ends.mean() == pytest.approx(np.log(y.std(ddof=1)))
    # Between the t quantile of all patients and the least degrees of freedom allowed.
    assert 2.063899 * error <= np.diff(ends)[0] / 2 <= 3.182447 * error


def test_one_canal_in_nearly_every_tooth_does_not_blow_mover_up() -> None:
    rng = np.random.default_rng(7)
    patient = np.concatenate([np.arange(60), np.arange(4)])
    y = rng.normal(0, 0.5, 64)
    few = clustered_limits(y, np.zeros(64), patient=patient, tooth=patient, interval="mover")
    plain = limits_of_agreement(y, np.zeros(64))
    width, usual = (one.upper.upper - one.upper.lower for one in (few, plain))
    assert width == pytest.approx(usual, rel=0.25)


def test_one_patient_that_holds_all_spread_still_gives_finite_ends() -> None:
    y = np.zeros(12)
    y[0] = 1.0
    found = clustered_limits(y, np.zeros(12), patient=np.arange(12))
    assert found.standard_deviation.lower == 0
    assert found.upper.lower < found.upper.estimate < found.upper.upper


def test_limits_say_where_simulation_found_their_interval_too_narrow() -> None:
    few, many = simulated(59, seed=6), simulated(60, seed=6)
    said = limits(few)
    assert "fewer than 60 patients" in said.upper.reason
    assert said.bias.reason == ""
    assert limits(many).upper.reason == ""
    assert "skewed" in limits(many, interval="mover").lower.reason
    assert "in 82 to 95" in limits(many, interval="bootstrap").lower.reason


def test_negative_component_does_not_push_the_limits_up() -> None:
    # With no spread between patients the total must not be raised by cutting at 0.
    totals = [
        limits(simulated(30, seed=s, sds=(0.0, 0.0, 0.5))).standard_deviation.estimate ** 2
        for s in range(300)
    ]
    assert np.mean(totals) == pytest.approx(0.25, abs=0.006)


def test_too_few_patients_are_refused_although_pairs_are_many() -> None:
    rng = np.random.default_rng(8)
    found = clustered_limits(
        rng.normal(size=40), np.zeros(40), patient=np.repeat(np.arange(4), 10)
    )
    assert found.upper.reason == "fewer than 10 patients (4)"
    assert not found.components.valid


def test_one_patient_is_refused_with_any_minimum() -> None:
    found = clustered_limits([0.1, 0.2, 0.4], np.zeros(3), patient=["a"] * 3, minimum_pairs=1)
    assert not found.bias.valid


@pytest.mark.parametrize("interval", ["jackknife", "mover", "bootstrap"])
def test_equal_pairs_give_zero_limits(interval: str) -> None:
    y = np.full(24, 20.5)
    found = clustered_limits(y, y, patient=np.repeat(np.arange(12), 2), interval=interval)
    assert found.standard_deviation.estimate == 0
    assert (found.upper.lower, found.upper.upper) == (0, 0)


def test_readings_within_canals_make_a_fourth_component() -> None:
    data = simulated(30, seed=11)
    canal = np.arange(len(data["value"]))
    twice = {name: np.repeat(column, 2) for name, column in data.items()}
    noise = np.random.default_rng(12).normal(0, 0.1, len(twice["value"]))
    found = clustered_limits(
        twice["value"] + noise,
        np.zeros(len(noise)),
        patient=twice["patient"],
        tooth=twice["tooth"],
        canal=np.repeat(canal, 2),
        estimator="reml",
    )
    assert found.components.names == ("patient", "tooth", "canal", "residual")
    assert found.components.variances[-1] == pytest.approx(0.01, rel=0.4)


def test_unknown_options_are_misuse() -> None:
    data = simulated(12, seed=1)
    with pytest.raises(ValueError, match="estimator must be in"):
        limits(data, estimator="guess")
    with pytest.raises(ValueError, match="closed form only"):
        limits(data, estimator="reml", interval="bootstrap")


@pytest.mark.slow
def test_a_hundred_thousand_canals_are_quick() -> None:
    data = simulated(20_000, seed=3)
    for options, seconds in (({}, 1.0), ({"estimator": "reml"}, 3.0)):
        start = time.perf_counter()
        assert limits(data, **options).upper.valid
        assert time.perf_counter() - start < seconds
    start = time.perf_counter()
    assert limits(data, interval="bootstrap", draws=2000).upper.valid
    assert time.perf_counter() - start < 5


@pytest.mark.slow
@pytest.mark.parametrize("sds", [(0.1, 0.1, 0.5), (0.3, 0.2, 0.4), (0.6, 0.3, 0.2)])
def test_intervals_cover_the_planted_limit(sds: tuple[float, float, float]) -> None:
    true_upper = 0.2 + 1.959963984540054 * np.sqrt(np.sum(np.square(sds)))
    hits = 0
    for seed in range(600):
        found = limits(simulated(40, seed=1000 + seed, sds=sds))
        hits += found.upper.lower <= true_upper <= found.upper.upper
    # 600 runs: 95 in 100 has a standard error of 0.9 in 100.
    assert 0.93 <= hits / 600 <= 0.975

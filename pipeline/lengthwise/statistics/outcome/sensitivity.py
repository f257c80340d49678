"""How strong an unmeasured confounder would have to be."""

import math
from dataclasses import dataclass

from lengthwise.statistics.results import NAN

MEASURES = ("RR", "OR_rare", "OR_common", "HR_rare", "HR_common", "SMD")


@dataclass(frozen=True, slots=True)
class EValue:
    """E-value of an estimate and of the interval limit nearest to no association.

    Attributes
    ----------
    estimate, limit : float
        On the risk-ratio scale, at least 1; `limit` is 1 where the interval holds 1.
    measure, method, reason : str
    valid : bool
    """

    estimate: float
    limit: float
    measure: str
    method: str = "E-value"
    valid: bool = True
    reason: str = ""


def e_value(estimate: float, lower: float, upper: float, *, measure: str = "RR") -> EValue:
    """Return the E-value of a ratio with its interval.

    Parameters
    ----------
    estimate, lower, upper : float
        Ratio above 0 and its limits.
    measure : str
        "RR"; "OR_rare" or "HR_rare" (event below 15 in 100: taken as a risk ratio);
        "OR_common" (square root); "HR_common".

    Returns
    -------
    EValue
        Not valid where the ratio is missing or not above 0.

    Notes
    -----
    The association, on the risk-ratio scale, that an unmeasured factor would need with both
    exposure and outcome to explain the estimate away. Source: VanderWeele & Ding 2017,
    10.7326/M16-2607.
    """
    if measure not in MEASURES or measure == "SMD":
        raise ValueError(f"measure must be one of {', '.join(MEASURES[:-1])}")
    values = (estimate, lower, upper)
    if any(math.isnan(value) for value in values) or estimate <= 0 or lower < 0:
        return EValue(
            NAN, NAN, measure, valid=False, reason="there is no ratio with an interval"
        )
    ratio, low, high = (_as_risk_ratio(value, measure) for value in values)
    return _from_ratios(ratio, low, high, measure)


def e_value_of_difference(standardised_difference: float, standard_error: float) -> EValue:
    """Return the E-value of a standardised mean difference (RR taken as exp(0.91 d))."""
    if math.isnan(standardised_difference) or not standard_error >= 0:
        return EValue(NAN, NAN, "SMD", valid=False, reason="there is no difference")
    centre, half = 0.91 * standardised_difference, 1.78 * standard_error
    return _from_ratios(
        math.exp(centre), math.exp(centre - half), math.exp(centre + half), "SMD"
    )


def _as_risk_ratio(value: float, measure: str) -> float:
    if measure == "OR_common":
        return math.sqrt(value)
    if measure == "HR_common" and math.isfinite(value):
        root = math.sqrt(value)
        return (1 - 0.5**root) / (1 - 0.5 ** (1 / root)) if value > 0 else 0.0
    return value


def _from_ratios(ratio: float, lower: float, upper: float, measure: str) -> EValue:
    nearest = lower if ratio >= 1 else upper
    crosses = lower <= 1 <= upper
    return EValue(_e(ratio), 1.0 if crosses else _e(nearest), measure)


def _e(ratio: float) -> float:
    size = ratio if ratio >= 1 else 1 / ratio
    return size + math.sqrt(size * (size - 1)) if math.isfinite(size) else size

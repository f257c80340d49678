"""Recall rate: how many treated teeth came back, raw and adjusted."""

from dataclasses import dataclass

from lengthwise.statistics.results import NAN


@dataclass(frozen=True, slots=True)
class RecallRate:
    """Recall as counts and shares.

    Attributes
    ----------
    raw : float
        Examined / treated, 0-1.
    adjusted : float
        (Examined + extracted) / (treated - discontinued), 0-1.
    numerator, denominator : int
        The two counts of the adjusted rate.
    """

    raw: float
    adjusted: float
    numerator: int
    denominator: int
    method: str = "recall rate: raw, and adjusted for teeth out of reach or extracted"
    valid: bool = True
    reason: str = ""


def recall_rate(
    *, treated: int, discontinued: int, examined: int, extracted: int, minimum_cases: int = 10
) -> RecallRate:
    """Return the raw and the adjusted recall rate.

    Parameters
    ----------
    treated : int
        Teeth treated in the period.
    discontinued : int
        Teeth out of reach for a reason outside the practice (death, moved away).
    examined : int
        Teeth seen at the wanted time.
    extracted : int
        Teeth known to be lost: their outcome is known without a visit.
    minimum_cases : int
        A smaller denominator gives counts and no share.

    Returns
    -------
    RecallRate

    Raises
    ------
    ValueError
        When a count is negative or the parts exceed the teeth treated.

    Notes
    -----
    A missed review is never read as healed or as not healed. The adjustment assumes that
    the teeth out of reach say nothing about the outcome of the others.

    References
    ----------
    Marquis VL and others. J Endod 2006;32:299-306. doi:10.1016/j.joen.2005.10.050
    de Chevigny C and others. J Endod 2008;34:258-263. doi:10.1016/j.joen.2007.10.017
    """
    if min(treated, discontinued, examined, extracted) < 0:
        raise ValueError("counts must not be negative")
    denominator, numerator = treated - discontinued, examined + extracted
    if denominator < 0 or numerator > denominator:
        raise ValueError("examined, extracted and discontinued teeth exceed those treated")
    if denominator < minimum_cases:
        reason = f"{numerator} of {denominator}: fewer than {minimum_cases} teeth, counts only"
        return RecallRate(NAN, NAN, numerator, denominator, valid=False, reason=reason)
    return RecallRate(examined / treated, numerator / denominator, numerator, denominator)

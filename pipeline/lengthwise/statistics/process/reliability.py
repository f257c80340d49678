"""How much of a unit's spread is signal, and how many cases a sound estimate needs."""

import math


def cases_needed_for_reliability(reliability: float, intraclass_correlation: float) -> float:
    """Return the cases a unit needs: R / (1 - R) times (1 - rho) / rho, unrounded.

    Parameters
    ----------
    reliability : float
        Wanted share of the spread that lies between units, inside 0..1; 0.70 is common
        practice, no source.
    intraclass_correlation : float
        Share of the variance between units, above 0 and up to 1. At 0 no number of cases
        is enough and the answer is infinite.

    Raises
    ------
    ValueError
        When an argument is out of its range.

    References
    ----------
    Adams JL. The reliability of provider profiling. RAND TR-653, 2009.
    """
    if not 0 < reliability < 1:
        raise ValueError("reliability must lie strictly between 0 and 1")
    if not 0 <= intraclass_correlation <= 1:
        raise ValueError("intraclass_correlation must lie within 0..1")
    if intraclass_correlation == 0:
        return math.inf
    odds = reliability / (1 - reliability)
    return odds * (1 - intraclass_correlation) / intraclass_correlation


def reliability_of_cases(cases: float, intraclass_correlation: float) -> float:
    """Return n rho / (1 + (n - 1) rho), the reliability of a mean of n cases.

    Raises
    ------
    ValueError
        When `cases` is negative or the correlation lies outside 0..1.
    """
    if cases < 0 or not 0 <= intraclass_correlation <= 1:
        raise ValueError("cases must not be negative and the correlation must be within 0..1")
    top = cases * intraclass_correlation
    return top / (1 + top - intraclass_correlation) if top else 0.0

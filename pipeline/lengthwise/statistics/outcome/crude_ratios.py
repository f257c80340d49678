"""Risk ratio and odds ratio of two independent groups."""

import math

from lengthwise.statistics.outcome.model_fit import critical_value
from lengthwise.statistics.results import Estimate, refused

RISK_RATIO = "risk ratio, log interval"
ODDS_RATIO = "odds ratio, Woolf interval"
FEW_EVENTS = 10
# From the study `outcome_crude` of `python -m tests.coverage`.
HELD_WITH_FEW = (
    f"fewer than {FEW_EVENTS} events in one of the levels: the interval of the ratio is wide, in "
    "simulation it held the truth in 96 to 100 of 100"
)


def risk_ratio(
    events: int, n: int, reference_events: int, reference_n: int, *, level: float = 0.95
) -> Estimate:
    """Return the risk in a group divided by the risk in the reference.

    Not valid where either group has no event or no unit: the ratio then has no interval. With
    few events `reason` says how wide it is.
    Source: Katz and others 1978, 10.2307/2530610.
    """
    used = n + reference_n
    if min(n, reference_n) == 0:
        return refused("one level has no units", method=RISK_RATIO, n_used=used, level=level)
    if min(events, reference_events) == 0:
        return refused(
            "no event in one of the levels, so the ratio has no interval; "
            "see the risk difference",
            method=RISK_RATIO, n_used=used, level=level,
        )  # fmt: skip
    ratio = (events / n) / (reference_events / reference_n)
    error = math.sqrt(1 / events - 1 / n + 1 / reference_events - 1 / reference_n)
    if events == n and reference_events == reference_n:
        return refused(
            "every unit has the event in both levels, so the ratio has no interval",
            method=RISK_RATIO, n_used=used, level=level,
        )  # fmt: skip
    note = HELD_WITH_FEW if min(events, reference_events) < FEW_EVENTS else ""
    return _on_log_scale(ratio, error, used, level, RISK_RATIO, note)


def odds_ratio(
    events: int, n: int, reference_events: int, reference_n: int, *, level: float = 0.95
) -> Estimate:
    """Return the odds in a group divided by the odds in the reference.

    With an empty cell one half is added to all four and `reason` says so, as it does with few
    events (or few without) how wide the interval is. Not valid where
    both groups have no event, or all units have it. Sources: Woolf 1955,
    10.1111/j.1469-1809.1955.tb01348.x; Haldane 1956, 10.1111/j.1469-1809.1955.tb01285.x.
    """
    used = n + reference_n
    cells = [events, n - events, reference_events, reference_n - reference_events]
    if min(n, reference_n) == 0:
        return refused("one level has no units", method=ODDS_RATIO, n_used=used, level=level)
    if cells[0] + cells[2] == 0 or cells[1] + cells[3] == 0:
        share = "no unit" if cells[0] + cells[2] == 0 else "every unit"
        return refused(
            f"{share} has the event, so there are no odds to compare",
            method=ODDS_RATIO, n_used=used, level=level,
        )  # fmt: skip
    notes = [HELD_WITH_FEW] if min(cells) < FEW_EVENTS else []
    values = [float(cell) for cell in cells]
    if min(cells) == 0:
        values = [value + 0.5 for value in values]
        notes.insert(0, "one cell is empty: one half was added to each cell")
    ratio = values[0] * values[3] / (values[1] * values[2])
    error = math.sqrt(sum(1 / value for value in values))
    return _on_log_scale(ratio, error, used, level, ODDS_RATIO, "; ".join(notes))


def _on_log_scale(
    ratio: float, error: float, used: int, level: float, method: str, note: str = ""
) -> Estimate:
    factor = math.exp(critical_value(level, math.inf) * error)
    return Estimate(ratio, ratio / factor, ratio * factor, level, used, 0, method, True, note)

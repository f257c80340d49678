"""Which length method can be trusted, in two sentences for page one."""

import pandas as pd

from lengthwise.report.run_data import Row, RunData
from lengthwise.report.wording import (
    bias_phrase,
    frequency,
    interval_text,
    name_of,
    number,
    sentence,
)


def own_error_words(run_data: RunData, method: str) -> tuple[str, bool]:
    """Return which method scatters least by itself, and whether its place is certain.

    Only methods read on the same canals are set in an order; the place is certain where
    every resample of patients gave the same first method or nearly so.
    """
    rows = run_data.select(section="agreement", analysis="A4")
    ranks = rows[(rows["measure"] == "rank") & rows["valid"]]
    if ranks.empty:
        return "", False
    order = ranks.sort_values("estimate", kind="stable")
    spread = {
        str(row["subject"]): row
        for _, row in rows[(rows["measure"] == "own_sd") & rows["valid"]].iterrows()
    }
    first = str(order.iloc[0]["subject"])
    if first not in spread:
        return "", False
    decided = bool(order.iloc[0]["upper"] == order.iloc[0]["lower"])
    named = [str(name) for name in order["subject"]]
    text = f"Steadiest method: {name_of(first)}, {_spread_words(spread[first])}"
    if method != first and method in named and method in spread:
        text += f"; {name_of(method)}, the method read most, {_spread_words(spread[method])}"
    text += f" (own scatter; {len(named)} methods on {int(spread[first]['n_used'])} canals)"
    if not decided:
        text += "; the first place is not certain"
    return sentence(text), decided


def apart_words(run_data: RunData) -> str:
    """Return which methods have an own error but no place in that order, with their SD."""
    rows = run_data.select(section="agreement", analysis="A4")
    placed = set(rows[(rows["measure"] == "rank") & rows["valid"]]["subject"])
    rest = rows[(rows["measure"] == "own_sd") & rows["valid"] & ~rows["subject"].isin(placed)]
    if rest.empty or not placed:
        return ""
    said = ", ".join(
        f"{name_of(str(row['subject']))} {number(row['estimate'])} mm"
        for _, row in rest.iterrows()
    )
    return sentence(f"outside that order, since read on other canals: {said}")


def _spread_words(row: Row) -> str:
    ends = "" if pd.isna(row["lower"]) else f" ({interval_text(row)})"
    return f"SD {number(row['estimate'])} mm{ends}"


def within_words(run_data: RunData, bias: Row, within: Row | None) -> str:
    """Return how often the method read most agrees with the confirmed length, and its bias."""
    method = str(bias["subject"])
    words = bias_phrase(bias, method, "confirmed")
    if within is not None and within["valid"]:
        agreed = f"{name_of(method)} agrees with the confirmed length within 0.5 mm in"
        words = f"{agreed} {frequency(within, 'canals')}; {words}"
    return sentence(words)

"""Sentences from estimates: natural frequencies, no direction built in, no cause."""

import math
import re
from typing import Any

import pandas as pd

from lengthwise.report.run_data import Row

MINUS = "\u2212"
BANNED = (
    "poor",
    "worst",
    "best clinician",
    "outlier",
    "failed",
    "failing",
    "below average",
    "above average",
    "significantly",
    "no concern",
    "satisfactory",
    "underperform",
    "league",
    "ranked",
    "caused",
    "causes",
    "led to",
    "leads to",
    "because of",
    "due to",
    "results in",
    "resulted in",
    "anonymous",
    "proves",
    "gold standard",
)
METHOD_NAMES = {
    "film": "film estimate",
    "film_file": "film with file",
    "cbct": "cone-beam estimate",
    "electronic": "electronic",
    "tactile": "tactile",
    "paper_point": "paper point",
    "trial_cone": "trial cone",
    "irrigation_tip": "irrigation tip",
    "confirmed": "confirmed length",
}
LEVEL_NAMES = {
    "short": "short",
    "within": "within",
    "beyond": "beyond",
    "not_assessable": "not assessable",
}

MEASURE_NAMES = {
    "fill_within": "the filling ends within the preset",
    "fill_short": "the filling ends short",
    "fill_beyond": "the filling ends beyond the apex",
}


def banned_words(text: str) -> list[str]:
    """Return the banned words and phrases that the text holds, in order of the list."""
    lowered = " ".join(text.lower().split())
    return [word for word in BANNED if re.search(rf"\b{re.escape(word)}\b", lowered)]


def name_of(code: str) -> str:
    """Return the words for a method, level or measure; else the code with spaces."""
    names = METHOD_NAMES | LEVEL_NAMES | MEASURE_NAMES
    return names.get(code) or code.replace("_", " ")


def criterion_name(run_data: Any, code: str) -> str:
    """Return the statement of a criterion of the run, else the code in words."""
    for item in run_data.setting("criteria", default=[]):
        if item.get("id") == code and item.get("statement"):
            return str(item["statement"])
    return name_of(code)


def period_words(period: str) -> str:
    """Return "2024-Q1 to 2026-Q2" for a span, and a single period as it is."""
    return str(period).replace("..", " to ")


def number(value: float, decimals: int = 2, *, signed: bool = False) -> str:
    """Return a number with a real minus sign and no negative nought."""
    if value is None or math.isnan(value):
        return ""
    text = f"{abs(value):.{decimals}f}"
    is_nought = float(text) == 0
    if value < 0 and not is_nought:
        return f"{MINUS}{text}"
    return f"+{text}" if signed and not is_nought else text


def millimetres(value: float, *, signed: bool = True) -> str:
    return f"{number(value, signed=signed)} mm"


def in_hundred(share: float) -> str:
    """Return a share as a whole number of 100; "under 1" and "over 99" keep the ends honest."""
    if 0 < share < 0.005:
        return "under 1"
    if 0.995 < share < 1:
        return "over 99"
    # Halves go up, as people round; round() would send them to the even number.
    return str(math.floor(100 * share + 0.5))


def frequency(row: Row, units: str = "") -> str:
    """Return "18 of 60 canals (30 in 100; 20 to 43 in 100)", or the reason it is not given."""
    if not row["valid"]:
        return refusal(row)
    counts = f"{int(row['numerator'])} of {int(row['denominator'])}"
    counts = f"{counts} {units}" if units else counts
    interval = (
        ""
        if pd.isna(row["lower"])
        else f"; {in_hundred(row['lower'])} to {in_hundred(row['upper'])} in 100"
    )
    return f"{counts} ({in_hundred(row['estimate'])} in 100{interval})"


def refusal(row: Row) -> str:
    """Return what stands in the place of a number that is not given."""
    counts = ""
    if not pd.isna(row.get("numerator")) and not pd.isna(row.get("denominator")):
        counts = f"{int(row['numerator'])} of {int(row['denominator'])}; "
    return f"{counts}not given: {row['reason'] or 'no reason recorded'}"


def with_interval(row: Row, *, signed: bool = False, decimals: int = 2) -> str:
    """Return "0.12 (0.05 to 0.19)", or the reason it is not given."""
    if not row["valid"]:
        return refusal(row)
    value = number(row["estimate"], decimals, signed=signed)
    if pd.isna(row["lower"]) or pd.isna(row["upper"]):
        return value
    return f"{value} ({interval_text(row, signed=signed, decimals=decimals)})"


def interval_text(row: Row, *, signed: bool = False, decimals: int = 2) -> str:
    lower = number(row["lower"], decimals, signed=signed)
    return f"{lower} to {number(row['upper'], decimals, signed=signed)}"


def is_certain(row: Row, against: float) -> bool:
    """Return whether the interval lies wholly on one side of `against`."""
    if not row["valid"] or pd.isna(row["lower"]) or pd.isna(row["upper"]):
        return False
    return bool(row["lower"] > against or row["upper"] < against)


def bias_phrase(row: Row, method: str, reference: str) -> str:
    """Return which way a method reads against another, as far as the interval allows."""
    method, reference = name_of(method), name_of(reference)
    if not row["valid"]:
        return f"{method} against {reference}: {refusal(row)}"
    size = f"{number(abs(row['estimate']))} mm"
    interval = f"95% interval {interval_text(row, signed=True)} mm"
    if not is_certain(row, 0.0):
        return f"{method} and {reference} differ by {size} on average ({interval}, either way)"
    side = "longer" if row["estimate"] > 0 else "shorter"
    return f"{method} reads {size} {side} than {reference} on average ({interval})"


def contrast_phrase(row: Row, level: str, reference: str) -> str:
    """Return how often teeth filled to a level were not healed against the reference level.

    The words follow the estimate: more often, less often, or no difference shown.
    """
    level, reference = name_of(level), name_of(reference)
    if not row["valid"]:
        return f"{level} against {reference}: {refusal(row)}"
    points = in_hundred(abs(row["estimate"]))
    ends = (number(100 * row[end], 0, signed=True) for end in ("lower", "upper"))
    interval = f"95% interval {' to '.join(ends)} in 100"
    if not is_certain(row, 0.0):
        return (
            f"no difference is shown between {level} and {reference} "
            f"({points} in 100 apart; {interval})"
        )
    side = "more" if row["estimate"] > 0 else "fewer"
    return (
        f"of 100 teeth filled {level}, {points} {side} were not healed than of 100 filled "
        f"{reference} ({interval})"
    )


def target_phrase(row: Row) -> str:
    """Return where a share stands to its target, with what the interval allows to be said."""
    if pd.isna(row["target"]) or not row["valid"]:
        return ""
    target = f"target {in_hundred(row['target'])} in 100"
    if is_certain(row, row["target"]):
        side = "above" if row["estimate"] > row["target"] else "under"
        # An interval that ends at the target once rounded would seem to include it.
        ends = (in_hundred(row[end]) for end in ("lower", "upper"))
        near = "just " if in_hundred(row["target"]) in ends else ""
        return f"{near}{side} the {target}"
    return f"{target}; the interval includes the target"


def counted(count: Any, singular: str, plural: str | None = None) -> str:
    """Return "1 canal", "2 canals"."""
    return f"{int(count)} {singular if int(count) == 1 else plural or singular + 's'}"


def sentence(text: str) -> str:
    """Return the text with a capital first letter and one full stop at its end."""
    text = text.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}." if text else ""

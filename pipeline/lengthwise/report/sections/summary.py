"""One page of messages, ordered by what is certain and then by size."""

from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import NOT_ANALYSED
from lengthwise.report.tables import bullet_list
from lengthwise.report.wording import (
    bias_phrase,
    contrast_phrase,
    frequency,
    is_certain,
    number,
    sentence,
    target_phrase,
)

MESSAGES_AT_MOST = 5
LIMIT_ENDS = ("lower", "upper")


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence, whether its interval decides, and how large its finding is (0-1)."""

    text: str
    is_certain: bool
    size: float
    key: str = ""


def summary(run_data: RunData) -> str:
    """Return three to five messages in natural frequencies."""
    found = messages(run_data)
    if not found:
        return NOT_ANALYSED
    return bullet_list([escape.markdown(message.text) for message in found])


def messages(run_data: RunData) -> list[Message]:
    """Return the messages in their order, at most one of each kind but two criteria."""
    kinds = (_criteria(run_data), _fill(run_data), _outcome(run_data))
    # The fill message and a criterion on the same fillings would say one thing twice.
    found = list({message.key: message for kind in kinds for message in kind}.values())
    agreement = list(_agreement(run_data))
    # The main method is always told, since length is what the report is about.
    kept = sorted(found, key=_order)[: MESSAGES_AT_MOST - len(agreement)]
    return sorted([*kept, *agreement], key=_order)


def _order(message: Message) -> tuple[bool, float]:
    return (not message.is_certain, -message.size)


def _agreement(run_data: RunData) -> Iterator[Message]:
    rows = run_data.select(section="agreement", reference="confirmed")
    biases = rows[(rows["measure"] == "bias") & rows["valid"]]
    if biases.empty:
        return
    bias = biases.iloc[int(biases["n_used"].to_numpy().argmax())]
    method = bias["subject"]
    text = bias_phrase(bias, method, "confirmed")
    own = rows[(rows["subject"] == method) & rows["valid"]].set_index("measure")
    if {"lower_limit", "upper_limit"} <= set(own.index):
        ends = (number(own.loc[f"{end}_limit", "estimate"], signed=True) for end in LIMIT_ENDS)
        text += f"; 95 in 100 differences lie between {' and '.join(ends)} mm"
    size = 0.0
    if "share_within_0_5" in own.index:
        within = own.loc["share_within_0_5"]
        text += f"; {frequency(within, 'canals')} agree within 0.5 mm"
        size = 1 - within["estimate"]
    yield Message(sentence(text), is_certain(bias, 0.0), size)


def _criteria(run_data: RunData) -> Iterator[Message]:
    names = {item["id"]: item["statement"] for item in run_data.setting("criteria", default=[])}
    rows = run_data.select(section="criteria", measure="share")
    for _, row in rows[rows["valid"] & rows["target"].notna()].iterrows():
        statement = names.get(row["subject"], row["subject"].replace("_", " "))
        text = f"{statement}: {frequency(row)}; {target_phrase(row)}{_gap(run_data, row)}"
        gap = abs(row["estimate"] - row["target"])
        yield Message(sentence(text), is_certain(row, row["target"]), gap, _counts(row))


def _gap(run_data: RunData, row: Row) -> str:
    cases = run_data.one(section="criteria", subject=row["subject"], measure="gap_cases")
    if cases is None or not cases["valid"] or cases["estimate"] <= 0:
        return ""
    count = int(cases["estimate"])
    noun = "case" if count == 1 else "cases"
    return f"; {count} more {noun} meeting it would have reached the target"


def _fill(run_data: RunData) -> Iterator[Message]:
    row = run_data.one(section="fill", subject="within", measure="share")
    if row is None or not row["valid"]:
        return
    parts = [f"{frequency(row, 'fillings')} ended within the preset"]
    for level in ("short", "beyond"):
        other = run_data.one(section="fill", subject=level, measure="share")
        if other is not None and other["valid"]:
            parts.append(f"{int(other['numerator'])} ended {level}")
    if target := target_phrase(row):
        parts.append(target)
    has_target = not pd.isna(row["target"])
    size = abs(row["estimate"] - row["target"]) if has_target else 1 - row["estimate"]
    decided = has_target and is_certain(row, row["target"])
    yield Message(sentence("; ".join(parts)), decided, size, _counts(row))


def _counts(row: Row) -> str:
    return f"{row['numerator']} of {row['denominator']}"


def _outcome(run_data: RunData) -> Iterator[Message]:
    rows = run_data.select(section="outcome", analysis="C1", measure="risk_difference")
    rows = rows[rows["valid"]]
    if rows.empty:
        return
    phrases = [
        contrast_phrase(row, row["subject"], row["reference"]) for _, row in rows.iterrows()
    ]
    decided = any(is_certain(row, 0.0) for _, row in rows.iterrows())
    text = f"At review, {'; '.join(phrases)}"
    yield Message(sentence(text), decided, float(rows["estimate"].abs().max()), "outcome")

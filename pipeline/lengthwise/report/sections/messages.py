"""The three to five messages of a run, ordered by what is certain and then by size."""

from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.comparisons import WITHIN
from lengthwise.report.sections.messages_agreement import (
    apart_words,
    own_error_words,
    within_words,
)
from lengthwise.report.wording import (
    contrast_phrase,
    criterion_name,
    frequency,
    in_hundred,
    is_certain,
    period_words,
    sentence,
    target_phrase,
)

MESSAGES_AT_MOST = 5
OUTCOME_NOTE = (
    "They went together; the level need not be the reason. Reviews come a year or more later, "
    "so quarters are not compared."
)


@dataclass(frozen=True, slots=True)
class Message:
    """A finding for page one.

    Attributes
    ----------
    lead, detail : str
        The finding in one sentence, and what is needed to read it.
    is_certain : bool
        Whether its interval decides.
    size : float
        How large it is, 0-1.
    key : str
        Two messages with one key say the same.
    compared : str
        The measure that is compared with earlier quarters, empty where none is.
    result_id : str
        The main number.
    """

    lead: str
    is_certain: bool
    size: float
    detail: str = ""
    key: str = ""
    compared: str = ""
    result_id: str = ""

    @property
    def text(self) -> str:
        return f"{self.lead} {self.detail}".strip()


def messages(run_data: RunData) -> list[Message]:
    """Return the messages in their order: one on methods, fillings and outcome each, then gaps.

    The three questions of a practice are always answered; criteria fill the rest.
    """
    always = [*_agreement(run_data), *_fill(run_data), *_outcome(run_data)]
    told = {message.key for message in always}
    # The fill message and a criterion on the same fillings would say one thing twice.
    gaps = [message for message in _criteria(run_data) if message.key not in told]
    kept = sorted(gaps, key=_order)[: MESSAGES_AT_MOST - len(always)]
    return sorted([*always, *kept], key=_order)


def _order(message: Message) -> tuple[bool, float]:
    return (not message.is_certain, -message.size)


def _agreement(run_data: RunData) -> Iterator[Message]:
    rows = run_data.select(section="agreement", analysis="A2", reference="confirmed")
    biases = rows[(rows["measure"] == "bias") & rows["valid"]]
    if biases.empty:
        return
    bias = biases.iloc[int(biases["n_used"].to_numpy().argmax())]
    method = str(bias["subject"])
    within = run_data.one(
        section="agreement", subject=method, reference="confirmed", measure="share_within_0_5"
    )
    own, is_told = own_error_words(run_data, method)
    agreed = within_words(run_data, bias, within)
    size = 1 - within["estimate"] if within is not None and within["valid"] else 0.0
    main = bias if within is None else within
    detail = f"{apart_words(run_data)} {agreed}".strip() if own else ""
    yield Message(
        own or agreed, is_told or is_certain(bias, 0.0), size, detail,
        compared=f"{method}{WITHIN}", result_id=str(main["result_id"]),
    )  # fmt: skip


def _criteria(run_data: RunData) -> Iterator[Message]:
    known = {str(item["id"]): item for item in run_data.setting("criteria", default=[])}
    rows = run_data.select(section="criteria", measure="share")
    for _, row in rows[rows["valid"] & rows["target"].notna()].iterrows():
        name = str(row["subject"])
        statement = criterion_name(run_data, name).rstrip(".")
        item = known.get(name, {})
        is_whole = item.get("window") == "all"
        notes = (
            f"counted: {item['denominator_words']}" if item.get("denominator_words") else "",
            _gap(run_data, row),
            "every case up to now counts, so quarters are not compared" if is_whole else "",
        )
        yield Message(
            sentence(f"{statement}: {frequency(row)}; {target_phrase(row)}"),
            is_certain(row, row["target"]), abs(row["estimate"] - row["target"]),
            " ".join(sentence(part) for part in notes if part),
            _counts(row), "" if is_whole else name, str(row["result_id"]),
        )  # fmt: skip


def _gap(run_data: RunData, row: Row) -> str:
    cases = run_data.one(section="criteria", subject=row["subject"], measure="gap_cases")
    if cases is None or not cases["valid"] or cases["estimate"] <= 0:
        return ""
    count = int(cases["estimate"])
    noun = "case" if count == 1 else "cases"
    return f"{count} more {noun} would have reached the target"


def _fill(run_data: RunData) -> Iterator[Message]:
    row = run_data.one(section="fill", subject="within", measure="share")
    if row is None or not row["valid"]:
        return
    outside = int(row["denominator"] - row["numerator"])
    ends = [in_hundred(1 - row[end]) for end in ("upper", "lower")]
    text = (
        f"{outside} of {int(row['denominator'])} fillings ({in_hundred(1 - row['estimate'])} in "
        f"100; {' to '.join(ends)} in 100) ended outside the preset"
    )
    if levels := [part for part in _levels(run_data) if part]:
        text += f": {', '.join(levels)}"
    has_target = not pd.isna(row["target"])
    within = f"within: {frequency(row)}"
    detail = f"{within}; {target_phrase(row)}" if has_target else within
    yield Message(
        sentence(text), has_target and is_certain(row, row["target"]),
        abs(row["estimate"] - row["target"]) if has_target else 1 - row["estimate"],
        sentence(detail), _counts(row), "fill_within", str(row["result_id"]),
    )  # fmt: skip


def _levels(run_data: RunData) -> Iterator[str]:
    for level in ("short", "beyond"):
        row = run_data.one(section="fill", subject=level, measure="share")
        if row is not None and row["valid"]:
            yield f"{int(row['numerator'])} {level}"


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
    shares = run_data.select(section="outcome", analysis="C1", measure="share_not_healed")
    seen = ", ".join(
        f"{row['subject']} {int(row['numerator'])} of {int(row['denominator'])}"
        for _, row in shares[shares["denominator"].notna()].iterrows()
    )
    span = period_words(rows.iloc[0]["period"])
    yield Message(
        sentence(f"not healed at review, {span}: {seen} teeth"), decided,
        float(rows["estimate"].abs().max()), f"{sentence('; '.join(phrases))} {OUTCOME_NOTE}",
        "outcome", result_id=str(rows.iloc[0]["result_id"]),
    )  # fmt: skip

"""From length to level to outcome: the three questions of a practice joined."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.cautions import OBSERVED_ONLY
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import NOT_ANALYSED
from lengthwise.report.sections.outcome_context import published_context
from lengthwise.report.wording import (
    contrast_phrase,
    frequency,
    in_hundred,
    is_certain,
    name_of,
    number,
    refusal,
    sentence,
)

DEFINITION = (
    "The electronic reading of a canal counts as doubtful where, at its last stage, the canal "
    "was wet, metal was touched, the file was small for the apex or the reading was unstable, "
    "or where its length lies further from a film with file or a scan than the review "
    "threshold."
)


def outcome_chain(run_data: RunData) -> str:
    """Return doubtful readings, where fillings ended after them, and the risk by level."""
    rows = run_data.select(section="outcome", analysis="chain")
    if rows.empty:
        return NOT_ANALYSED
    steps = [_readings(rows), *_levels(run_data, rows), *_risks(run_data)]
    numbered = "\n".join(f"{i}. {escape.markdown(step)}" for i, step in enumerate(steps, 1))
    closing = (
        "Each step is an association of its own; they are not multiplied, since teeth with "
        "doubtful readings differ in other ways too."
    )
    parts = (DEFINITION, numbered, f"{closing} {OBSERVED_ONLY}", published_context())
    return "\n\n".join(parts) + "\n"


def _readings(rows: pd.DataFrame) -> str:
    row = rows[rows["measure"] == "share_doubtful"].iloc[0]
    return sentence(f"length: doubtful electronic readings, {frequency(row, 'canals')}")


def _levels(run_data: RunData, rows: pd.DataFrame) -> list[str]:
    strata = run_data.select(
        section="outcome",
        analysis="chain",
        measure="share_of_fillings",
        stratum_kind="readings",
    )
    said = []
    for level in dict.fromkeys(strata["subject"]):
        own = {row["stratum"]: row for _, row in strata[strata["subject"] == level].iterrows()}
        apart = rows[(rows["measure"] == "share_difference") & (rows["subject"] == level)]
        said.append(
            sentence(
                f"level: filled {name_of(level)} after a doubtful reading, "
                f"{frequency(own['doubtful'])}; after another reading, "
                f"{frequency(own['other'])}; {_difference(apart.iloc[0])}"
            )
        )
    return said


def _difference(row: Row) -> str:
    if not row["valid"]:
        return f"difference {refusal(row)}"
    ends = (number(100 * row[end], 0, signed=True) for end in ("lower", "upper"))
    interval = f"95% interval {' to '.join(ends)} in 100"
    points = in_hundred(abs(row["estimate"]))
    if not is_certain(row, 0.0):
        return f"no difference is shown ({points} in 100 apart; {interval})"
    side = "more" if row["estimate"] > 0 else "fewer"
    return f"{points} in 100 {side} after doubtful readings ({interval})"


def _risks(run_data: RunData) -> list[str]:
    rows = run_data.select(section="outcome", analysis="C4", measure="risk_difference")
    return [
        sentence(
            f"outcome, standardised over {int(row['n_used'])} teeth: "
            f"{_apart(run_data, row)}{contrast_phrase(row, row['subject'], row['reference'])}"
        )
        for _, row in rows.iterrows()
    ]


def _apart(run_data: RunData, row: Row) -> str:
    """Return the two risks that a contrast compares, where both are given."""
    said = []
    for level in (row["subject"], row["reference"]):
        risk = run_data.one(
            section="outcome", analysis="C4", measure="standardised_risk", subject=level
        )
        if risk is None or not risk["valid"]:
            return ""
        ends = f"{in_hundred(risk['lower'])} to {in_hundred(risk['upper'])}"
        said.append(f"{in_hundred(risk['estimate'])} in 100 ({ends}) filled {name_of(level)}")
    return f"not healed {' and '.join(said)}; "

"""Loss to follow-up and time: who was not reviewed, and how far that could matter."""

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.figures import healing_time, place, tooth_survival
from lengthwise.report.held import FOLLOW_UP, HEALING, HEALING_LOW_BY, REVIEW, YEARLY
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    interval_cell,
    value_cell,
    warnings_note,
)
from lengthwise.report.tables import bullet_list, figure, pipe_table, text
from lengthwise.report.wording import (
    contrast_phrase,
    frequency,
    name_of,
    number,
    period_words,
    refusal,
    sentence,
)

PROMINENT_BELOW, NOTE_BELOW = 0.5, 0.8
GROUPS = ("level", "lesion", "tooth_type", "treatment_type", "clinician")
WORDS = {"True": "with a lesion", "False": "without a lesion"}
TIME = (
    text("Teeth"),
    figure("Months"),
    figure("In 100"),
    figure("95% interval"),
    figure("n"),
)
REVIEW_MODEL = (
    text("Term"),
    figure("Odds ratio of being reviewed"),
    figure("95% interval"),
    figure("Apart, no weights (SD)"),
    figure("Apart, weighted (SD)"),
)
WHO = (
    text("Group"),
    figure("Reviewed"),
    figure("Per 100"),
    figure("95% interval"),
)


def outcome_follow_up(run_data: RunData) -> str:
    """Return recall, who was not reviewed, weighted contrasts, bounds and tipping points."""
    rows = run_data.select(section="outcome", analysis="C7")
    if rows.empty:
        return NOT_ANALYSED
    said = [*_recall(rows), *_weighted(rows), *_bounds(rows)]
    parts = (
        _who(run_data),
        _review_model(rows),
        bullet_list([escape.markdown(item) for item in said]),
    )
    return "\n\n".join(part for part in parts if part) + "\n"


def outcome_time(run_data: RunData) -> str:
    """Return survival of teeth and time of healing, each with n, or why not."""
    rows = run_data.select(section="outcome", analysis="C8")
    if rows.empty:
        return NOT_ANALYSED
    shares = rows[rows["unit"] == "proportion"]
    caption = f"Teeth kept and lesions healed over time, {period_words(rows.iloc[0]['period'])}"
    cells = [_time(row) for _, row in shares.iterrows()]
    table = pipe_table(
        TIME, cells, caption=caption, label="outcome-time", ids=shares["result_id"]
    )
    yearly = rows[rows["measure"] == "odds_ratio_of_healing_in_a_year"]
    said = [sentence(_yearly(row)) for _, row in yearly.iterrows()]
    if yearly["valid"].any():
        said.append(f"Odds of healing in a year: {YEARLY}")
    note = (
        "A lesion heals at an unknown time between two reviews. Its interval comes from drawing "
        "patients again and is approximate; the share is not determined between reviews."
    )
    drawn = (
        place(tooth_survival(run_data), "tooth-survival"),
        place(healing_time(run_data), "healing-time"),
    )
    listed = bullet_list([escape.markdown(item) for item in said]) if said else ""
    parts = (*drawn, table, note, _healing_held(shares), warnings_note(shares), listed)
    return "\n\n".join(part for part in parts if part)


def _healing_held(shares: pd.DataFrame) -> str:
    """Return how far shares healed and their intervals held, where one is given."""
    healed = shares["measure"].str.startswith("healed_by_") & shares["upper"].notna()
    if not healed.any():
        return ""
    low = (
        "Where patients come late or miss reviews the share healed by a month reads low, there "
        f"by up to {HEALING_LOW_BY} in 100 on average."
    )
    return f"Lesions healed: {HEALING} {low}"


def _who(run_data: RunData) -> str:
    cells, ids, period = [], [], ""
    for kind in GROUPS:
        rows = run_data.select(
            section="outcome", analysis="C7", measure="share_reviewed", stratum_kind=kind
        )
        ids += list(rows["result_id"])
        for _, row in rows.iterrows():
            period = str(row["period"])
            name = WORDS.get(str(row["stratum"]), name_of(str(row["stratum"])))
            shown = (counts_cell(row), hundred_cell(row), hundred_interval_cell(row))
            cells.append((name, *shown))
    if not cells:
        return ""
    caption = f"Teeth due for review that have a countable result, {period_words(period)}"
    return pipe_table(WHO, cells, caption=caption, label="outcome-reviewed", ids=ids)


def _review_model(rows: pd.DataFrame) -> str:
    """Return how level and case-mix go with being reviewed, and balance with the weights."""
    odds = rows[rows["measure"] == "odds_ratio_of_review"]
    cells = []
    for _, row in odds.iterrows():
        own = {
            item["measure"]: item
            for _, item in rows[rows["subject"] == row["subject"]].iterrows()
        }
        balance = (value_cell(own.get(f"imbalance_{when}")) for when in ("before", "after"))
        cells.append((name_of(row["subject"]), value_cell(row), interval_cell(row), *balance))
    if not cells:
        return ""
    caption = (
        "Being reviewed: odds ratio of each term given the others and the clinician, and how far "
        "those reviewed stand from all due, in SD, without and with weights"
    )
    table = pipe_table(
        REVIEW_MODEL,
        cells,
        caption=caption,
        label="outcome-review-model",
        ids=odds["result_id"],
    )
    return f"{table}\n\n{REVIEW}" if odds["valid"].any() else table


def _recall(rows: pd.DataFrame) -> list[str]:
    said = []
    for measure, words in (
        ("recall_raw", "examined of those due"),
        ("recall_adjusted", "examined or known to be lost, of those due"),
    ):
        for _, row in rows[rows["measure"] == measure].iterrows():
            said.append(sentence(f"recall, {words}: {frequency(row, 'teeth')}"))
            if measure == "recall_adjusted" and row["valid"]:
                said += _recall_note(row["estimate"])
    return said


def _recall_note(share: float) -> list[str]:
    if share >= NOTE_BELOW:
        return []
    weight = "Read every outcome with caution" if share < PROMINENT_BELOW else "Note"
    return [f"{weight}: fewer than {'half' if share < PROMINENT_BELOW else '80 in 100'} came."]


def _weighted(rows: pd.DataFrame) -> list[str]:
    contrasts = rows[rows["measure"] == "risk_difference"]
    said = [
        contrast_phrase(row, row["subject"], row["reference"])
        for _, row in contrasts.iterrows()
    ]
    if not said:
        return []
    opening = "weighted so that those reviewed stand for all due (crude in level)"
    held = [str(FOLLOW_UP)] if contrasts["valid"].any() else []
    return [sentence(f"{opening}, {'; '.join(said)}"), *held, *_diagnostics(rows)]


def _diagnostics(rows: pd.DataFrame) -> list[str]:
    own = rows[(rows["subject"] == "weights") & rows["valid"]]
    sizes = dict(zip(own["measure"], own["estimate"], strict=True))
    if not sizes:
        return []
    n = own.iloc[0]["denominator"]
    return [
        f"Weights: {int(n)} teeth count as {number(sizes['effective_n'], 0)}; largest weight "
        f"{number(sizes['largest_weight'])}; largest imbalance "
        f"{number(sizes['largest_imbalance_before'])} SD before and "
        f"{number(sizes['largest_imbalance_after'])} SD after."
    ]


def _bounds(rows: pd.DataFrame) -> list[str]:
    said = []
    for level in dict.fromkeys(rows[rows["measure"] == "difference_lowest"]["subject"]):
        own = {row["measure"]: row for _, row in rows[rows["subject"] == level].iterrows()}
        low, high = own["difference_lowest"], own["difference_highest"]
        if not low["valid"]:
            said.append(sentence(f"{name_of(level)}: {refusal(low)}"))
            continue
        ends = [number(100 * row["estimate"], 0, signed=True) for row in (low, high)]
        said.append(
            f"Whatever became of the teeth not reviewed, the difference of {name_of(level)} to "
            f"within lies between {ends[0]} and {ends[1]} in 100."
        )
        for suffix, filled in (("", level), ("_reference", "within")):
            tipping = own.get(f"tipping_count{suffix}")
            expected = own.get(f"expected_count{suffix}")
            if tipping is not None and expected is not None:
                said.append(_tipping(tipping, expected, filled, level))
    return said


def _tipping(row: Row, expected: Row, filled: str, level: str) -> str:
    """Return how many more, or fewer, would make the difference vanish."""
    if not row["valid"]:
        return sentence(str(row["reason"]))
    apart = int(row["estimate"] - expected["estimate"])
    missing = int(row["denominator"])
    if apart == 0:
        return (
            f"Were the {missing} teeth filled {name_of(filled)} and not reviewed like those "
            f"seen, the difference of {name_of(level)} to within would vanish."
        )
    side = "more" if apart > 0 else "fewer"
    return (
        f"If {abs(apart)} {side} of the {missing} teeth filled {name_of(filled)} and not "
        f"reviewed had not healed than among those seen ({int(row['estimate'])} and not "
        f"{int(expected['estimate'])}), the difference of {name_of(level)} to within would "
        "vanish."
    )


def _time(row: Row) -> tuple[str, ...]:
    parts = str(row["measure"]).split("_")
    months = parts[-2] if len(parts) > 2 else ""
    what = "healed" if parts[0] == "healed" else f"kept, {row['subject']}"
    ends = hundred_interval_cell(row)
    return what, months, hundred_cell(row), ends, str(int(row["n_used"]))


def _yearly(row: Row) -> str:
    words = f"odds of healing in a year, {name_of(row['subject'])} to within"
    if not row["valid"]:
        return f"{words}: {refusal(row)}"
    ends = f"{number(row['lower'])} to {number(row['upper'])}"
    return f"{words}: {number(row['estimate'])} (95% interval {ends})"

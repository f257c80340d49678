"""The ratios of the adjusted model beside those of other models, as a check on it."""

from lengthwise.report import escape
from lengthwise.report.held import INDEX
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import count_cell, interval_cell, value_cell
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import in_hundred, name_of, number

# analysis and measure of each other model, with the words for it
BESIDE = (
    ("C2", "odds_ratio", "the adjusted model above"),
    ("C2", "odds_ratio_one_canal", "level of one canal of each tooth, drawn at random"),
    ("C3", "odds_ratio", "penalised likelihood (Firth)"),
    ("C6", "odds_ratio", "higher index, proportional odds"),
    ("C10", "odds_ratio", "missing covariates imputed"),
)
LEVELS = ("short", "flush", "beyond")
# How often the intervals of a model held, where it is not said of the adjusted model.
HELD = {"C6": ("The ordinal model", INDEX)}
COLUMNS = (
    text("Model"),
    text("Level"),
    figure("Odds ratio"),
    figure("95% interval"),
    figure("Teeth"),
    figure("Information missing (in 100)"),
)


def other_models(run_data: RunData) -> str:
    """Return the same ratios by other models, and the check of the ordinal one."""
    cells, ids = [], []
    for analysis, measure, words in BESIDE:
        rows = run_data.select(section="outcome", analysis=analysis, measure=measure)
        ids += list(rows["result_id"])
        cells += [
            (
                words,
                name_of(row["subject"]),
                value_cell(row),
                interval_cell(row),
                count_cell(row["n_used"]),
                _missing(run_data, analysis, row["subject"]),
            )
            for _, row in rows[rows["subject"].isin(LEVELS)].iterrows()
        ]
    if not any(words != BESIDE[0][2] for words, *_ in cells):
        return ""
    caption = "The same comparison with within by other models"
    table = pipe_table(COLUMNS, cells, caption=caption, label="outcome-other-models", ids=ids)
    parts = (table, _assumption(run_data), _held(run_data))
    return "\n\n".join(part for part in parts if part)


def _held(run_data: RunData) -> str:
    """Return how often intervals of the models with a number held in simulation."""
    said = []
    for analysis, (words, held) in HELD.items():
        rows = run_data.select(section="outcome", analysis=analysis, measure="odds_ratio")
        if rows["valid"].any():
            said.append(f"{words}: {held}")
    return escape.markdown(" ".join(said))


def _missing(run_data: RunData, analysis: str, level: str) -> str:
    row = None
    if analysis == "C10":
        row = run_data.one(
            section="outcome", analysis=analysis, measure="fraction_missing", subject=level
        )
    return in_hundred(row["estimate"]) if row is not None and row["valid"] else ""


def _assumption(run_data: RunData) -> str:
    """Return the check that one ratio serves all cuts of the index, or why there is none."""
    rows = run_data.select(section="outcome", analysis="C6", measure="p_value")
    if rows.empty:
        return ""
    said = []
    for _, row in rows.iterrows():
        if not row["valid"]:
            said.append(f"{row['method']}: {row['reason']}")
            continue
        p = "under 0.001" if row["estimate"] < 0.001 else f"= {number(row['estimate'], 3)}"
        said.append(f"{row['method']}, p {p}")
    opening = (
        "One ratio for all cuts of the index, the assumption of the ordinal model, checked"
    )
    return escape.markdown(f"{opening}: {'; '.join(said)}.")

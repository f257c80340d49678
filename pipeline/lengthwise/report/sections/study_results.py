"""Slides on fillings, outcome, and the chain from length to healing."""

import pandas as pd

from lengthwise.report.cautions import FILM_LIMIT, OBSERVED_ONLY
from lengthwise.report.figures.fill_levels import fill_levels
from lengthwise.report.figures.outcome_levels import outcome_levels
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    by_measure,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
    is_masked,
)
from lengthwise.report.sections.study_common import (
    READ_INTERVALS,
    bullets,
    carried_note,
    figure_slide,
    of_whole_span,
    slide,
    slide_table,
)
from lengthwise.report.tables import MASKED, figure, text
from lengthwise.report.wording import contrast_phrase, frequency, name_of, sentence

LEVELS = ("short", "within", "beyond")
APART = (
    "Each step is an association of its own; they are not multiplied, since teeth with "
    "doubtful readings differ in other ways too."
)


def fill(run_data: RunData) -> str:
    """Return the slide with the ends of fillings, all and by tooth type."""
    whole = of_whole_span(run_data.select(section="fill", measure="share"))
    strata = run_data.select(section="fill", measure="share", stratum_kind="tooth_type")
    cells = [_levels("all", whole)]
    for tooth, own in strata.groupby("stratum", sort=False):
        cells.append(_levels(str(tooth), own))
    columns = (text("Teeth"), *(figure(name) for name in ("n", *LEVELS)))
    shown = [row for row in cells if any(row[1:])]
    caption = "Fillings per 100 at each level"
    beside = slide_table(columns, shown, caption, "fill") if shown else ""
    notes = (
        "The table gives fillings per 100 at each level, over the whole span.",
        FILM_LIMIT,
        READ_INTERVALS,
        carried_note(pd.concat([whole, strata])),
    )
    title = f"Where fillings end, per 100 (preset {run_data.setting('preset')})"
    drawn = fill_levels(run_data, "tooth_type")
    return figure_slide(title, drawn, "study-fill", beside, notes, "Not analysed in this run.")


def _levels(name: str, rows: pd.DataFrame) -> tuple[str, ...]:
    found = {row["subject"]: row for _, row in rows.iterrows()}
    wholes = [found[level]["denominator"] for level in LEVELS if level in found]
    shown = [str(int(value)) for value in wholes if value == value]
    whole = shown[0] if shown else MASKED if any(map(is_masked, found.values())) else ""
    return (name_of(name), whole, *(hundred_cell(found.get(level)) for level in LEVELS))


def outcome(run_data: RunData) -> str:
    """Return the slide with teeth not healed by level."""
    rows = run_data.select(section="outcome", analysis="C1")
    cells = []
    for level in LEVELS:
        share = by_measure(rows[rows["subject"] == level]).get("share_not_healed")
        if share is not None:
            interval = hundred_interval_cell(share)
            value = hundred_cell(share)
            cells.append(
                (
                    name_of(level),
                    counts_cell(share),
                    f"{value} ({interval})" if interval else value,
                )
            )
    columns = (text("Level"), figure("Not healed"), figure("Per 100 (95%)"))
    caption = "Teeth not healed by level, crude"
    beside = slide_table(columns, cells, caption, "outcome") if cells else ""
    notes = (
        "Crude shares of teeth that were reviewed; the next slide has the risks standardised "
        "over the case-mix.",
        OBSERVED_ONLY,
        carried_note(rows),
    )
    title = "Teeth not healed, by where the filling ends"
    drawn = outcome_levels(run_data)
    return figure_slide(
        title, drawn, "study-outcome", beside, notes, "No tooth could be counted yet."
    )


def chain(run_data: RunData) -> str:
    """Return the slide from doubtful length to level to outcome."""
    lines = [_doubtful(run_data), *_after(run_data), *_risks(run_data)]
    body = bullets([line for line in lines if line])
    notes = (
        "A reading is doubtful where the canal was wet, metal was touched, the file was small, "
        "the display unstable, or where it lies far from a film or scan of the same canal.",
        APART,
        OBSERVED_ONLY,
        carried_note(run_data.select(section="outcome")),
    )
    absent = "Too few teeth have both lengths and a review.\n"
    return slide("From length to level to outcome", body if body.strip() else absent, notes)


def _doubtful(run_data: RunData) -> str:
    row = run_data.one(section="outcome", analysis="chain", measure="share_doubtful")
    return "" if row is None else sentence(f"Length: doubtful readings, {frequency(row)}")


def _after(run_data: RunData) -> list[str]:
    rows = run_data.select(
        section="outcome",
        analysis="chain",
        measure="share_of_fillings",
        stratum_kind="readings",
    )
    said = []
    for level in dict.fromkeys(rows["subject"]):
        own = {row["stratum"]: row for _, row in rows[rows["subject"] == level].iterrows()}
        parts = [_share(own[name]) for name in ("doubtful", "other") if name in own]
        if len(parts) == 2:
            words = f"Level: filled {name_of(level)} after a doubtful reading {parts[0]}"
            said.append(sentence(f"{words}; after another {parts[1]}"))
    return said


def _share(row: Row) -> str:
    return f"{hundred_cell(row)} in 100" if row["valid"] else hundred_cell(row)


def _risks(run_data: RunData) -> list[str]:
    rows = run_data.select(section="outcome", analysis="C4", measure="risk_difference")
    return [
        sentence(
            f"Outcome, standardised: {contrast_phrase(row, row['subject'], row['reference'])}"
        )
        for _, row in rows.iterrows()
        if row["valid"]
    ]

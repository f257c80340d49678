"""Flow of cases from eligible to analysed, for the quarter and for the whole period."""

from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import NOT_ANALYSED, value_cell
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import period_words

STEPS = {
    "patients": "Patients",
    "treatments": "Treatments accepted",
    "canals": "Canals of these treatments",
    "readings": "Length readings of these canals",
    "canals_with_pairs": "Canals with a reading and a confirmed length",
    "fills": "Fillings with a film read",
    "fills_assessable": "Fillings whose end could be assessed",
    "teeth_due": "Teeth due for review",
    "teeth_reviewed": "Teeth reviewed",
    "teeth_countable": "Teeth countable in the outcome",
    "teeth_in_outcome_analysis": "Teeth in the outcome analysis",
}


def flow(run_data: RunData) -> str:
    """Return the counts of each step, one column per period, in the order of passing."""
    rows = run_data.select(section="flow", measure="count")
    if rows.empty:
        return NOT_ANALYSED
    periods = list(dict.fromkeys(rows["period"]))
    counts = {(row["subject"], row["period"]): row for _, row in rows.iterrows()}
    # Steps unknown here come last, in the run's own order, so that nothing is hidden.
    subjects = dict.fromkeys(rows["subject"])
    order = [*(name for name in STEPS if name in subjects)]
    order += [name for name in subjects if name not in STEPS]
    cells = [
        (
            STEPS.get(name, name.replace("_", " ").capitalize()),
            *(value_cell(counts.get((name, period)), 0) for period in periods),
        )
        for name in order
    ]
    columns = (text("Step"), *(figure(period_words(period)) for period in periods))
    return pipe_table(
        columns, cells, caption="Flow of cases by period", label="flow", ids=rows["result_id"]
    )

"""How far the readings of fillings can be trusted."""

from lengthwise.report import escape
from lengthwise.report.run_data import Row, RunData
from lengthwise.report.sections.common import (
    NOT_ANALYSED,
    counts_cell,
    hundred_cell,
    hundred_interval_cell,
)
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.report.wording import (
    in_hundred,
    name_of,
    sentence,
    target_phrase,
    with_interval,
)

READERS = {"two_readers": "two readers", "one_reader_twice": "one reader twice"}
SUBJECTS = {"fill_offset_mm": "filling, offset"}


def fill_readings(run_data: RunData) -> str:
    """Return agreement on levels, film quality, and readings on half millimetres."""
    rows = run_data.estimates
    rows = rows[rows["section"] == "fill_readings"]
    if rows.empty:
        return NOT_ANALYSED
    told = [_same_level(run_data, kind) for kind in READERS]
    film = run_data.one(analysis="film_quality", measure="share")
    told.append("" if film is None else _film(film))
    lines = [escape.markdown(sentence(line)) for line in told if line]
    return "\n\n".join([*lines, _heaping(run_data)]) + "\n"


def _same_level(run_data: RunData, kind: str) -> str:
    of = {"analysis": "A9", "stratum_kind": "readers", "stratum": kind}
    same = run_data.one(measure="same_level", **of)
    kappa = run_data.one(measure="level_kappa", **of)
    if same is None or kappa is None:
        return ""
    if not same["valid"]:
        return f"Films read by {READERS[kind]}: {counts_cell(same)}; {same['reason']}"
    return (
        f"Films read by {READERS[kind]}: {counts_cell(same)} fillings get the same level "
        f"({in_hundred(same['estimate'])} in 100; {hundred_interval_cell(same)}); weighted kappa "
        f"{with_interval(kappa)}"
    )


def _film(row: Row) -> str:
    shown = f"Films rated acceptable for diagnosis: {counts_cell(row)}"
    if not row["valid"]:
        return f"{shown}; {row['reason']}"
    note = f"; {row['reason']}" if row["reason"] else ""
    target = target_phrase(row)
    interval = hundred_interval_cell(row)
    return f"{shown} ({hundred_cell(row)} in 100; {interval}); {target}{note}".replace(
        "; ;", ";"
    )


def _heaping(run_data: RunData) -> str:
    rows = run_data.select(analysis="heaping")
    if rows.empty:
        return ""
    cells = [
        [
            SUBJECTS.get(str(row["subject"]), name_of(str(row["subject"]))),
            counts_cell(row),
            hundred_cell(row),
            "differences under 0.5 mm are partly rounding"
            if row["reason"] and row["valid"]
            else "",
        ]
        for _, row in rows.iterrows()
    ]
    columns = [
        text("Readings"), figure("On half millimetres"), figure("Per 100 (20 unrounded)"),
        text("Note"),
    ]  # fmt: skip
    return pipe_table(
        columns,
        cells,
        caption="Readings rounded to half millimetres",
        label="heaping",
        ids=rows["result_id"],
    )

"""The handbook: methods, data dictionary, check values and coverage, from what ships."""

import csv
import json

from lengthwise.dictionary import Schema, all_schemas
from lengthwise.report.sections.methods import METHODS
from lengthwise.report.tables import figure, pipe_table, text
from lengthwise.resources import resource

Row = dict[str, str]


def _read(name: str) -> list[Row]:
    with resource("reports", "_tables", name).open(encoding="utf-8", newline="") as source:
        return list(csv.DictReader(source))


def methods_of_the_product() -> str:
    """Return every method id with what it is and its source."""
    rows = [(name, *words) for name, words in METHODS.items()]
    columns = (text("Id"), text("What"), text("Source"))
    return pipe_table(columns, rows, caption="Methods by id", label="all-methods")


def data_dictionary() -> str:
    """Return each export with its fields."""
    return "\n\n".join(_export(export) for export in all_schemas().values())


def _export(export: Schema) -> str:
    rows = []
    for item in export.fields:
        limits = [str(limit) for limit in (item.minimum, item.maximum) if limit is not None]
        allowed = ", ".join(item.enum) or " to ".join(limits)
        needed = "yes" if item.required else "no"
        rows.append((item.name, needed, item.unit or item.type, allowed, item.description))
    columns = (
        text("Field"), text("Required"), text("Unit or type"), text("Allowed"), text("Meaning")
    )  # fmt: skip
    table = pipe_table(
        columns, rows, caption=f"Fields of {export.name}", label=f"fields-{export.name}"
    )
    key = ", ".join(export.key)
    return f"### {export.title}\n\n{export.description} Key: {key}.\n\n{table}"


def check_values() -> str:
    """Return the table of published values: what is expected, what comes out, the difference."""
    cases = _read("check_values.csv")
    run = [row for row in cases if row["quantity"]]
    numbers = sum(int(row["numbers"]) for row in run)
    met = sum(row["outcome"] == "met" for row in cases)
    left = [row for row in cases if row["outcome"].startswith("not offered")]
    opening = (
        f"Of {len(cases)} published cases, {met} are met in all of their {numbers} numbers and "
        f"{len(left)} ask for a method that is not offered. Shown is, for each case, the "
        "number that lies furthest from the published one for its tolerance.\n"
    )
    columns = (
        text("Case"), text("Method and number"), text("Source"), figure("Numbers"),
        figure("Expected"), figure("Ours"), figure("Difference"),
    )  # fmt: skip
    table = pipe_table(
        columns, [_case_row(row) for row in run], caption="Check values", label="check-values"
    )
    reasons = [
        (
            row["case"],
            row["method"].replace("_", " "),
            row["outcome"].removeprefix("not offered: "),
        )
        for row in left
    ]
    why = pipe_table(
        (text("Case"), text("Method"), text("Why it is not offered")), reasons,
        caption="Published cases of methods that are not offered", label="not-offered",
    )  # fmt: skip
    return f"{opening}\n{table}\n\n{why}"


def _case_row(row: Row) -> tuple[str, ...]:
    # Words instead of underscores, which let no line break.
    named = f"{row['method']}: {row['quantity']}".replace("_", " ").replace("[", " [")
    numbers = (f"{float(row[key]):.6g}" for key in ("expected", "ours"))
    return (
        row["case"], named, row["source"], row["numbers"], *numbers, row["difference"]
    )  # fmt: skip


def coverage() -> str:
    """Return how often intervals held the truth in simulated practices, study by study."""
    rows = _read("coverage.csv")
    outside = sum(row["within_93_97"] == "no" for row in rows)
    judged = sum(row["within_93_97"] != "" for row in rows)
    opening = (
        "Each cell is a kind of practice, simulated many times with a known truth; a figure is "
        "how many of 100 nominal 95% intervals held it (of one-sided bounds: how many bounds). "
        f"Of {judged} figures {outside} lie outside 93 to 97, some of them by chance alone: 1000 "
        "trials leave an error of 0.7, 500 of 1.0, 200 of 1.5. Each row tells the range, the "
        "cell where the interval held least, and where that is said. Cells differ in canals a "
        "patient, in likeness within patients (icc), in numbers, in the share of events and in "
        "errors: normal, skewed (skewness 1) or strongly skewed (2). Every cell, with bias, "
        "width and share refused, stands in coverage.csv in reports/_tables of the program.\n"
    )
    summary = _read("coverage_summary.csv")
    studies = dict.fromkeys((row["study"], row["about"]) for row in summary)
    return "\n\n".join([opening, *(_study(*name, summary, rows) for name in studies)])


def _study(study: str, about: str, summary: list[Row], rows: list[Row]) -> str:
    """Return one table: a row for each method and quantity of a study."""
    own = [row for row in rows if row["study"] == study]
    kinds: dict[tuple[str, str], list[Row]] = {}
    for row in own:
        kinds.setdefault((row["method"], row["quantity"]), []).append(row)
    told = {
        (row["method"], row["quantity"]): row["told"]
        for row in summary
        if row["study"] == study
    }
    columns = (
        text("Method"), text("Quantity"), figure("Cells"), figure("Held in 100"),
        figure("Outside 93 to 97"), figure("Refused in 100, at most"), text("Held least where"),
        text("Where it is said"),
    )  # fmt: skip
    cells = [(*pair, *_range(part), told[pair]) for pair, part in kinds.items()]
    trials = sorted({int(row["n_simulations"]) for row in own})
    more = " or more" if len(trials) > 1 else ""
    caption = f"{about} ({study.replace('_', ' ')}); {trials[0]} trials a cell{more}"
    label = f"coverage-{''.join(filter(str.isalnum, study))}"
    return pipe_table(columns, cells, caption=caption, label=label)


def _range(rows: list[Row]) -> tuple[str, ...]:
    """Return cells, range, number outside, most refused, and the cell that held least."""
    given = [row for row in rows if row["coverage"]]
    refused = f"{100 * max(float(row['refused_share']) for row in rows):.0f}"
    if not given:
        return str(len(rows)), "-", "", refused, ""
    least, most = (pick(given, key=lambda row: float(row["coverage"])) for pick in (min, max))
    shown = " to ".join(f"{100 * float(row['coverage']):.1f}" for row in (least, most))
    outside = [row for row in given if row["within_93_97"] == "no"]
    where = ""
    if outside:
        grid = json.loads(least["grid"])
        where = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in grid.items())
    return str(len(rows)), shown, str(len(outside)), refused, where

"""The handbook: methods, data dictionary, check values and coverage, from what ships."""

import csv
import json
from collections.abc import Iterator

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
    """Return how often each interval held the truth in simulated practices, cell by cell."""
    rows = _read("coverage.csv")
    outside = sum(row["within_93_97"] == "no" for row in rows)
    judged = sum(row["within_93_97"] != "" for row in rows)
    opening = (
        f"Each cell is a kind of practice, simulated many times with a known truth; the figure "
        f"is how many of 100 nominal 95% intervals held it. Of {judged} figures {outside} lie "
        "outside 93 to 97: they stand in brackets, and the reports state the limit where "
        "such a number stands. A dash stands where no interval was given in any trial.\n"
    )
    return "\n\n".join([opening, *(_study(name, own) for name, own in _by_table(rows))])


def _by_table(rows: list[Row]) -> Iterator[tuple[tuple[str, str, str], list[Row]]]:
    found: dict[tuple[str, str, str], list[Row]] = {}
    for row in rows:
        found.setdefault((row["study"], row["method"], row["quantity"]), []).append(row)
    yield from found.items()


def _study(name: tuple[str, str, str], rows: list[Row]) -> str:
    """Return one table: the largest part of the grid across, the other parts down."""
    grids = [json.loads(row["grid"]) for row in rows]
    levels = {key: list(dict.fromkeys(grid[key] for grid in grids)) for key in grids[0]}
    across = "patients" if "patients" in levels else max(levels, key=lambda k: len(levels[k]))
    down = [key for key in levels if key != across]
    cells: dict[tuple[str, ...], dict[str, str]] = {}
    for row, grid in zip(rows, grids, strict=True):
        place = tuple(str(grid[key]) for key in down)
        cells.setdefault(place, {})[str(grid[across])] = _shown(row)
    heads = [str(level) for level in levels[across]]
    words = [key.replace("_", " ").capitalize() for key in down]
    columns = (
        *(text(word) for word in words),
        *(figure(f"{head} {across.replace('_', ' ')}") for head in heads),
    )
    study, method, quantity = (part.replace("_", " ") for part in name)
    return pipe_table(
        columns,
        [(*place, *(found.get(head, "") for head in heads)) for place, found in cells.items()],
        caption=f"{study}: {quantity}, by {method}; {rows[0]['n_simulations']} trials a cell",
        label="-".join(["coverage", *("".join(filter(str.isalnum, part)) for part in name)]),
    )


def _shown(row: Row) -> str:
    if not row["coverage"]:
        return "-"
    share = f"{100 * float(row['coverage']):.1f}"
    return f"({share})" if row["within_93_97"] == "no" else share

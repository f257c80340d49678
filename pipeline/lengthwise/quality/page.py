"""The data-quality page of `lengthwise check`: one HTML file, offline, counts and codes only."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from lengthwise.dictionary import all_schemas
from lengthwise.errors import StoreError
from lengthwise.finding_words import first_rows
from lengthwise.quality.html import Cell, Markup, bar, page, paragraph, share, table
from lengthwise.quality.measures import FENCE, Quality
from lengthwise.resources import resource
from lengthwise.statistics.process.heaping import Heaping
from lengthwise.store.queries import known_codes

if TYPE_CHECKING:
    from lengthwise.intake import IntakeResult

_SEVERITY = {"error": "set aside", "warning": "kept, with a warning"}
_STYLE = (
    "tbody th { min-width: 6rem; max-width: 16rem; overflow-wrap: anywhere; }\n"
    ".bar { display: block; width: 6rem; height: .5rem; margin-top: .2rem; "
    "border: 1px solid #595959; }\n.bar > span { display: block; height: 100%; "
    "background: #0072B2; }\nmain:focus { outline: none; }\n"
)


def quality_page(result: "IntakeResult", practice: str, made_at: datetime) -> str:
    """Return the page for files that were checked; `made_at` is in UTC.

    Nothing of a row is shown but clinician codes, and categories of the dictionary.
    """
    names = ", ".join(item.source.name for item in result.judged) or "no file"
    style = resource("reports", "_sections", "report.css").read_text(encoding="utf-8") + _STYLE
    quality = result.quality
    return page(
        f"Data quality: {practice}",
        f"Files checked: {names}. Made {made_at:%Y-%m-%d %H:%M} UTC. Nothing was stored.",
        style,
        [
            ("What was read", _files(result)),
            ("Findings by code", _findings(result.findings)),
            ("Completeness by field", _completeness(quality.fields)),
            ("Values outside the usual", _outside(quality.fields, result.findings)),
            ("Rounding and last digits", _digits(quality.digits)),
            ("Methods read, by clinician", _coverage(quality.coverage)),
            ("Late entries", _late(quality)),
        ],
    )


def write_page(result: "IntakeResult", practice: str, target: Path) -> Path:
    """Write the page; raise StoreError where the file cannot be written."""
    text = quality_page(result, practice, datetime.now(UTC))
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
    except OSError:
        raise StoreError(
            f"{target.name}: the page cannot be written; check the folder's rights and free "
            "space, or name another file with --page"
        ) from None
    return target


def _files(result: "IntakeResult") -> str:
    rows = [
        (
            item.source.name, item.rows_read, item.rows_accepted, item.rows_quarantined,
            item.date_regime or None,
        )
        for item in result.judged
    ]  # fmt: skip
    columns = ("File", "Rows read", "Accepted", "Set aside", "What is kept of dates")
    return paragraph(
        "Rows read are rows accepted and rows set aside, always. The tables below count accepted "
        "rows; what was set aside stands under the findings."
    ) + table("Files and rows", columns, rows)


def _findings(findings: pd.DataFrame) -> str:
    if findings.empty:
        return paragraph("No findings.")
    codes = known_codes()
    rows: list[tuple[Cell, ...]] = []
    for (severity, code), own in findings.groupby(["severity", "code"]):
        rows.append(
            (
                str(code),
                _SEVERITY[str(severity)],
                len(own),
                codes[str(code)].remedy,
                first_rows(own),
            )
        )
    rows.sort(key=lambda row: (row[1] != _SEVERITY["error"], -int(row[2] or 0), str(row[0])))
    columns = ("Code", "What became of the row", "Findings", "What to do", "First rows")
    return paragraph("Row 1 is the first row after the header.") + table(
        "Findings by code", columns, rows
    )


def _completeness(fields: pd.DataFrame) -> str:
    schemas = all_schemas()
    parts = []
    for export, own in fields.groupby("export", sort=False):
        rows = [
            (
                f"{row.title} ({row.field})",
                "yes" if row.is_required else "no",
                Markup(bar(row.present / max(row.rows, 1), share(row.present, row.rows))),
                int(row.rows - row.present),
            )
            for row in own.itertuples()
        ]
        caption = f"{schemas[str(export)].title}: fields with a value"
        parts.append(table(caption, ("Field", "Required", "With a value", "Without"), rows))
    return paragraph(
        "A field counts as empty where it is blank or holds not_recorded, not_applicable or "
        "unreadable, and where the file has no such column."
    ) + "".join(parts)


def _outside(fields: pd.DataFrame, findings: pd.DataFrame) -> str:
    found = findings.groupby(["export", "column_name"])["code"] if len(findings) else {}
    by_column = {key: codes for key, codes in found}  # noqa: C416 - a group is no pair of texts
    rows = []
    for row in fields.dropna(subset=["far"]).itertuples() if len(fields) else ():
        codes = by_column.get((row.export, row.field), pd.Series(dtype=str))
        beyond = int(codes.str.endswith("_out_of_range").sum())
        warned = int(codes.isin(_UNUSUAL).sum())
        rows.append(
            (f"{row.title} ({row.export})", int(row.present), beyond, warned, int(row.far))
        )
    columns = (
        "Field", "Values", "Outside the allowed range, set aside",
        "Unusual for the tooth or beside the other rows, kept",
        f"Far from the rest of the column (over {FENCE} quartile distances)",
    )  # fmt: skip
    return paragraph(
        "A value outside the usual can be right; it is worth a look at the record. The limits "
        "by tooth are handbook values, the others common practice."
    ) + table("Values outside the usual, by field", columns, rows)


_UNUSUAL = (
    "reading.length_unusual_for_tooth", "canal.confirmed_length_unusual_for_tooth",
    "canal.length_spread_large", "reading.methods_far_apart", "fill.level_does_not_fit_lengths",
    "fill.offset_contradicts_beyond",
)  # fmt: skip


def _digits(digits: dict[str, Heaping]) -> str:
    rows: list[tuple[Cell, ...]] = []
    for name, found in digits.items():
        half = found.half_step
        if not found.valid:
            rows.append((name, sum(found.digit_counts), f"not given: {found.reason}", None))
            continue
        on_step = found.digit_counts[0] + found.digit_counts[5]
        rows.append(
            (
                name, sum(found.digit_counts),
                Markup(bar(half.estimate, share(on_step, sum(found.digit_counts)))),
                f"{100 * half.lower:.0f} to {100 * half.upper:.0f} in 100",
            )
        )  # fmt: skip
    counts = [(name, *found.digit_counts, _p_words(found)) for name, found in digits.items()]
    return (
        paragraph(
            "Without rounding 20 in 100 lengths would stand on a whole or half millimetre, and "
            "each last digit would be used alike. Where many more do, differences under 0.5 mm "
            "are partly rounding; readings taken to 0.5 mm on purpose look the same. p is the "
            "chance of digits at least this uneven if each were used alike."
        )
        + table(
            "Lengths on whole and half millimetres",
            ("Series", "Lengths", "On 0.5 mm", "95 per cent interval"), rows,
        )
        + table(
            "Last digits: lengths by their tenth of a millimetre",
            ("Series", *map(str, range(10)), "Equal use of digits, p"), counts,
        )
    )  # fmt: skip


def _p_words(found: Heaping) -> str:
    if not found.valid:
        return "not given"
    return "under 0.001" if found.digit_p < 0.001 else f"{found.digit_p:.3f}"


def _coverage(coverage: pd.DataFrame) -> str:
    if coverage.empty:
        return paragraph("No canal of a known clinician was read or is stored.")
    methods = sorted(coverage["method"].dropna().unique())
    wide = coverage.pivot_table(
        index="clinician_id",
        columns="method",
        values="canals_read",
        aggfunc="sum",
        fill_value=0,
    ).reindex(columns=methods, fill_value=0)
    canals = coverage.groupby("clinician_id")["canals"].first()
    rows = [
        (
            str(clinician), int(total),
            *(
                Markup(bar(count / total, share(count, total)))
                for count in (wide.loc[clinician] if clinician in wide.index else [0] * len(methods))
            ),
        )
        for clinician, total in canals.items()
    ]  # fmt: skip
    return paragraph(
        "Canals in which a method was read at least once, of all canals of the clinician; rows "
        "already stored count with those of these files. A gap is a question to the record, not "
        "a shortfall: no method is asked of every canal."
    ) + table("Canals read by each method", ("Clinician", "Canals", *methods), rows)


def _late(quality: Quality) -> str:
    if not quality.has_stored_rows:
        return paragraph(
            "No earlier load is stored, so nothing can be late yet. From the second load on, this "
            "part counts new rows of treatments whose quarter had been loaded before."
        )
    late = quality.late
    if late.empty:
        return paragraph("These files hold no row that is not stored already.")
    rows = []
    for export, own in late.groupby("export", sort=False):
        counts = own.set_index("quarters_late")["number_of_rows"]
        total, behind = int(counts.sum()), counts[counts.index > 0]
        rows.append(
            (
                str(export), total, Markup(bar(behind.sum() / total, share(behind.sum(), total))),
                *(int(counts.get(step, 0)) for step in (1, 2)),
                int(counts[counts.index > 2].sum()),
            )
        )  # fmt: skip
    columns = (
        "Export", "New rows", "Of an earlier quarter than the latest stored", "1 quarter",
        "2 quarters", "3 or more",
    )  # fmt: skip
    return paragraph(
        "A new row is late where its treatment belongs to a quarter before the latest one "
        "stored: reports of that quarter were made without it."
    ) + table("New rows by how late they come", columns, rows)

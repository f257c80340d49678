"""What a command says at its end, as text; the command line prints it."""

from typing import TYPE_CHECKING

from lengthwise.finding_words import finding_lines
from lengthwise.load_words import change_words, date_words

if TYPE_CHECKING:
    from lengthwise.intake import IntakeResult
    from lengthwise.report.pack import Made
    from lengthwise.run import QuarterResult

SHOWN_CODES = 8


def intake(result: "IntakeResult", codes_at_most: int | None = None) -> str:
    """Return what was read and what was set aside, why, and what to do; never a row's value."""
    lines = [
        f"{item.source.name}: {item.rows_read:,} rows read, {item.rows_accepted:,} accepted, "
        f"{item.rows_quarantined:,} set aside"
        for item in result.judged
    ]
    for name in result.unchanged_files:
        load = result.corrected_since.get(name)
        more = f"; load {load} corrected rows of it, lengthwise undo {load} brings them back"
        lines.append(f"{name}: already loaded, nothing changed{more if load else ''}")
    for item in result.load.files if result.load else ():
        lines += change_words(
            item.judged.source.name, item.added, item.unchanged, item.absent,
            item.superseding, item.changed_fields,
        )  # fmt: skip
    lines += date_words((item.source.name, item.date_regime) for item in result.judged)
    if not result.findings.empty:
        lines += finding_lines(result.findings, codes_at_most)
    if result.quarantine_files:
        folder = result.quarantine_files[0].parent
        lines.append(f"Rows to mend: {len(result.quarantine_files)} files in {folder}")
    return "\n".join(lines)


def quarter(result: "QuarterResult") -> str:
    """Return the last screen of a quarter: read, set aside, headlines, where the reports are."""
    lines = [intake(result.intake, SHOWN_CODES), "", "Headlines:"]
    lines += [f"- {sentence}" for sentence in result.headlines]
    return "\n".join([*lines, "", *pack(result.pack)])


READERS = {
    "internal": "the quality meeting",
    "clinicians": "one clinician each, private (the key is with the internal files)",
    "shared": "people outside the practice",
}


def pack(made: "Made") -> list[str]:
    """Return where the reports are: single files by name, sheets by number only."""
    lines = [f"Reports in {made.place}:"]
    for audience, files in made.files.items():
        lines.append(f"  {audience}/ for {READERS.get(audience, audience)}")
        if audience == "clinicians":
            sheets = made.documents.get("clinician", 0)
            lines.append(f"    {sheets} sheets, {len(files)} files")
        else:
            lines += [f"    {path.name}" for path in files]
    return lines

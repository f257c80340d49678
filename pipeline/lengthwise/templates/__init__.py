"""The files that a new audit folder starts with."""

import csv
from importlib.resources import files
from pathlib import Path

from lengthwise.dictionary import Schema, all_schemas
from lengthwise.folder import AuditFolder
from lengthwise.templates.workbook import write_workbook

_TOML = ("settings.toml", "criteria.toml", "actions.toml", "mapping.toml")


def write_templates(folder: AuditFolder) -> None:
    """Write empty templates (CSV, workbook), commented TOML files and the data dictionary."""
    for name in _TOML:
        text = files(__name__).joinpath(name).read_text(encoding="utf-8")
        (folder.root / name).write_text(text, encoding="utf-8")
    schemas = all_schemas()
    templates = folder.root / "templates"
    templates.mkdir(exist_ok=True)
    for export in schemas.values():
        _empty_csv(templates / f"{export.name}.csv", export)
    write_workbook(templates / "audit-workbook.xlsx", schemas)
    (folder.root / "data-dictionary.md").write_text(
        "\n".join(["# Data dictionary", "", *map(printed, schemas.values())]), encoding="utf-8"
    )


def _empty_csv(path: Path, export: Schema) -> None:
    with path.open("w", encoding="utf-8", newline="") as handle:
        csv.writer(handle).writerow([item.name for item in export.fields])


def printed(export: Schema) -> str:
    """Return one export of the data dictionary as Markdown."""
    lines = [f"## {export.title} (`{export.name}.csv`)", "", export.description, ""]
    lines += [f"Key: {', '.join(export.key)}.", ""]
    lines += [
        "| field | required | type | unit | allowed | meaning |",
        "|---|---|---|---|---|---|",
    ]
    for item in export.fields:
        limits = [str(limit) for limit in (item.minimum, item.maximum) if limit is not None]
        allowed = ", ".join(item.enum) or " to ".join(limits)
        lines.append(
            f"| `{item.name}` | {'yes' if item.required else ''} | {item.type} | {item.unit} "
            f"| {allowed} | {item.title}. {item.description} |"
        )
    missing = ", ".join(f"`{code or 'empty'}`" for code in export.missing)
    return "\n".join([*lines, "", f"A value that is missing is written as {missing}.", ""])

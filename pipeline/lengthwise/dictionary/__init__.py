"""The data dictionary: one Table Schema (Frictionless, JSON) per export.

It is the single source for the tables of record, the checks, the templates and the printed
dictionary. Own properties beside the standard's: `unit`; `ephemeral` (read, used, never
stored); `derivedFrom` (may be computed from an ephemeral field); `extensible` (a practice may
declare further values in its settings).
"""

import json
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from typing import Any

EXPORTS = ("treatments", "canals", "readings", "fills", "follow_ups", "incidents")
ENTITY = {
    "treatments": "treatment",
    "canals": "canal",
    "readings": "reading",
    "fills": "fill",
    "follow_ups": "follow_up",
    "incidents": "incident",
}


@dataclass(frozen=True, slots=True)
class Field:
    """One column of one export, as the dictionary declares it."""

    name: str
    title: str
    description: str
    type: str
    unit: str = ""
    required: bool = False
    enum: tuple[str, ...] = ()
    labels: dict[str, str] = field(default_factory=dict)
    minimum: float | None = None
    maximum: float | None = None
    pattern: str = ""
    ephemeral: bool = False
    derived_from: str = ""
    extensible: bool = False


@dataclass(frozen=True, slots=True)
class Schema:
    """One export: its fields in order, its key and what it points to."""

    name: str
    title: str
    description: str
    version: str
    fields: tuple[Field, ...]
    key: tuple[str, ...]
    parent: str
    parent_key: tuple[str, ...]
    missing: dict[str, str]

    @property
    def entity(self) -> str:
        """Return the singular word that check codes start with."""
        return ENTITY[self.name]

    @property
    def stored(self) -> tuple[Field, ...]:
        """Return the fields that have a column in the table of record."""
        return tuple(item for item in self.fields if not item.ephemeral)

    def field(self, name: str) -> Field:
        """Return the field of that name."""
        return next(item for item in self.fields if item.name == name)


def _field(raw: dict[str, Any]) -> Field:
    limits = raw.get("constraints", {})
    return Field(
        name=raw["name"],
        title=raw["title"],
        description=raw["description"],
        type=raw["type"],
        unit=raw.get("unit", ""),
        required=limits.get("required", False),
        enum=tuple(limits.get("enum", ())),
        labels={item["value"]: item["label"] for item in raw.get("categories", [])},
        minimum=limits.get("minimum"),
        maximum=limits.get("maximum"),
        pattern=limits.get("pattern", ""),
        ephemeral=raw.get("ephemeral", False),
        derived_from=raw.get("derivedFrom", ""),
        extensible=raw.get("extensible", False),
    )


@cache
def schema(name: str) -> Schema:
    """Return the shipped schema of one export."""
    raw = json.loads(files(__name__).joinpath(f"{name}.json").read_text(encoding="utf-8"))
    parent = raw["foreignKeys"][0] if raw["foreignKeys"] else None
    return Schema(
        name=raw["name"],
        title=raw["title"],
        description=raw["description"],
        version=raw["version"],
        fields=tuple(_field(item) for item in raw["fields"]),
        key=tuple(raw["primaryKey"]),
        parent=parent["reference"]["resource"] if parent else "",
        parent_key=tuple(parent["fields"]) if parent else (),
        missing={item["value"]: item["label"] for item in raw["missingValues"]},
    )


def extended(name: str, extra: dict[str, dict[str, str]]) -> Schema:
    """Return a schema whose extensible fields also allow a practice's own values.

    `extra` maps field name to {value: label}.
    """
    base = schema(name)
    fields = tuple(
        replace(
            item,
            enum=(*item.enum, *extra[item.name]),
            labels={**item.labels, **extra[item.name]},
        )
        if item.extensible and extra.get(item.name)
        else item
        for item in base.fields
    )
    return replace(base, fields=fields)


def all_schemas(extra: dict[str, dict[str, str]] | None = None) -> dict[str, Schema]:
    """Return every schema, in the order in which exports depend on each other."""
    return {name: extended(name, extra or {}) for name in EXPORTS}

"""Every check code with its severity and remedy; codes are stable and never reused."""

from dataclasses import dataclass
from functools import cache

from lengthwise.dictionary import EXPORTS, Field, schema

ERROR = "error"
WARNING = "warning"

_FIELD_REMEDY = {
    "missing": "fill in the field; it is required",
    "not_a_number": "write a plain number with the declared decimal mark",
    "not_an_integer": "write a whole number",
    "not_a_date": "write the date in the declared order",
    "not_yes_or_no": "write yes or no",
    "not_allowed": "use one of the values that the data dictionary lists",
    "out_of_range": "check the entry and its unit",
    "malformed": "write it in the form that the data dictionary gives",
}
_ROW_REMEDY = {
    "too_many_fields": "check for separators or quotation marks inside a field",
    "too_few_fields": "check for a missing separator or a broken line",
    "unclosed_quote": "close or double the quotation mark that opens in this row",
    "control_character": "remove the invisible character",
    "field_too_long": "shorten the field; more than 1,000 characters is not data",
    "duplicate_row": "remove the copy; the first of the equal rows was kept",
    "key_conflict": "rows with the same key differ; keep the right one",
    "treatment_unknown": "load the treatment first, or correct treatment_id",
    "canal_unknown": "load the canal first, or correct treatment_id and canal",
    "before_treatment": "the day lies before the treatment; correct it",
    "date_without_treatment_date": "give days_from_treatment, or load treatment_date with it",
}
_LENGTH_REMEDY = (
    "check the decimal mark and the unit: ten times too long or too short is likely a decimal "
    "slip (215 or 2.15 for 21.5)"
)
_PARENT_CODE = {"treatments": "treatment_unknown", "canals": "canal_unknown"}


@dataclass(frozen=True, slots=True)
class Code:
    """One thing that can be said of a row."""

    code: str
    severity: str
    remedy: str


def short_name(field_name: str) -> str:
    """Return a field name without its unit, as codes use it."""
    for suffix in ("_mm", "_iso", "_pct"):
        field_name = field_name.removesuffix(suffix)
    return field_name


def field_code(entity: str, item: Field, fault: str) -> str:
    """Return the code of a fault of one field, e.g. `reading.length_out_of_range`."""
    return f"{entity}.{short_name(item.name)}_{fault}"


def parent_code(entity: str, parent: str) -> str:
    """Return the code of a row whose parent is not accepted."""
    return f"{entity}.{_PARENT_CODE[parent]}"


def faults_of(item: Field) -> list[str]:
    """Return the faults that a field of this kind can have."""
    kinds = {"number": "not_a_number", "integer": "not_an_integer", "date": "not_a_date"}
    faults = ["missing"] if item.required else []
    if item.type in kinds:
        faults.append(kinds[item.type])
    if item.type == "boolean":
        faults.append("not_yes_or_no")
    if item.enum:
        faults.append("not_allowed")
    if item.pattern:
        faults.append("malformed")
    if item.minimum is not None or item.maximum is not None:
        faults.append("out_of_range")
    return faults


@cache
def row_codes() -> dict[str, Code]:
    """Return every code that comes from the dictionary or from the shape and key of a row."""
    found: dict[str, Code] = {}
    for name in EXPORTS:
        export = schema(name)
        for item in export.fields:
            for fault in faults_of(item):
                code = field_code(export.entity, item, fault)
                slip = fault == "out_of_range" and item.name.endswith("length_mm")
                remedy = _LENGTH_REMEDY if slip else _FIELD_REMEDY[fault]
                found[code] = Code(code, ERROR, remedy)
        for fault, remedy in _ROW_REMEDY.items():
            code = f"{export.entity}.{fault}"
            found[code] = Code(code, ERROR, remedy)
    return found


def code_of_rule(header: dict[str, str]) -> Code:
    """Return the code that a file of sql/checks declares in its header."""
    return Code(header["code"], header["severity"], header["remedy"])

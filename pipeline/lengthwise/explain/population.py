"""Which cases a stored number counts: the table, the narrowing steps, what is in the numerator."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lengthwise.store.trace import Step

KNOWN_LEVELS = "level in ('within', 'flush', 'short', 'beyond')"
ASSESSED = Step("whose level could be assessed", "level <> 'not_assessable'")
CLINICIAN = "clinician:"
# stratum of the results: column of the tables
STRATA = {
    "clinician": "clinician_id", "site": "site_id", "quarter": "quarter", "month": "month",
    "tooth_type": "tooth_type", "treatment_type": "treatment_type", "canal": "canal",
    "canal_state": "canal_state", "stage": "stage", "level": "level",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Population:
    """The cases of one number.

    Attributes
    ----------
    table : str
        With its schema.
    unit : str
        What one row is, in the plural.
    steps : tuple of Step
        Together they leave the denominator.
    numerator : Step or None
        What the numerator has besides; None where it is no count of rows.
    count : str
        What is counted of the rows that pass.
    exports, methods : tuple of str
        Where the source rows lie; of readings, by which methods.
    note : str
        What the analysis does after these steps.
    """

    table: str
    unit: str
    steps: tuple[Step, ...]
    numerator: Step | None
    exports: tuple[str, ...]
    count: str = "count(*)"
    methods: tuple[str, ...] = ()
    note: str = ""


def narrowed(row: Mapping[str, Any], columns: set[str]) -> tuple[Step, ...]:
    """Return the steps of period, clinician and stratum, for a table with these columns."""
    steps = [*period_steps(row, columns)]
    scope = str(row["scope"])
    if scope.startswith(CLINICIAN):
        code = scope.removeprefix(CLINICIAN)
        steps.append(
            Step("of this clinician", "clinician_id = $clinician", {"clinician": code})
        )
    column = STRATA.get(str(row["stratum_kind"]), "")
    if column in columns and column not in {"quarter", "month"}:
        words = f"with {row['stratum_kind']} {row['stratum']}".replace("_", " ")
        steps.append(Step(words, f"{column} = $stratum", {"stratum": str(row["stratum"])}))
    return tuple(steps)


def period_steps(row: Mapping[str, Any], columns: set[str]) -> list[Step]:
    """Return the step of the period: a quarter, a month, or a span of either."""
    first, _, last = str(row["period"]).partition("..")
    if not first:
        return []
    column = "quarter" if "Q" in first else "month"
    if column not in columns:
        return []
    if other := str(row.get("with_period", "")):
        words, values = f"of {other} and {first}", {"first": other, "last": first}
        return [Step(words, f"{column} in ($first, $last)", values)]
    words = f"of {first}" if not last else f"of {first} to {last}"
    values = {"first": first, "last": last or first}
    return [Step(words, f"{column} between $first and $last", values)]


def fills(row: Mapping[str, Any]) -> Population:
    """Return fillings by level, or by a mark such as core beyond."""
    level = str(row["subject"])
    columns = {"clinician_id", "site_id", "quarter", "month", "tooth_type", "treatment_type",
               "canal"}  # fmt: skip
    steps = narrowed(row, columns)
    if row["measure"] != "share":
        known = Step("with an offset in mm", "fill_offset_mm is not null")
        exports = ("fills", "treatments")
        return Population("marts.fills", "fillings", (*steps, ASSESSED, known), None, exports)
    mark = MARKS.get(level)
    if mark:
        known = Step("with the mark recorded", f"{mark} is not null")
        return Population("marts.fills", "fillings", (*steps, ASSESSED, known),
                          Step("with the mark", mark), ("fills", "treatments"))  # fmt: skip
    if level != "not_assessable":
        steps = (*steps, ASSESSED)
    hit = Step(f"at the level {level}", "level = $level", {"level": level})
    return Population("marts.fills", "fillings", steps, hit, ("fills", "treatments"))


MARKS = {
    "core_beyond": "is_core_beyond",
    "sealer_beyond": "is_sealer_beyond",
    "voids": "has_voids",
    "taper_consistent": "is_taper_consistent",
}
CRITERION_EXPORTS = {
    "fills": ("fills", "treatments"),
    "canal_conduct": ("canals", "readings", "treatments"),
    "outcomes": ("treatments", "follow_ups", "fills"),
}
CRITERION_UNITS = {"fills": "fillings", "canal_conduct": "canals", "outcomes": "teeth"}


def criterion(row: Mapping[str, Any], item: Mapping[str, Any]) -> Population:
    """Return the cases of a criterion, by its own conditions."""
    table = str(item["table"])
    columns = {"clinician_id", "site_id", "quarter", "month"}
    is_whole = item.get("window", "quarter") == "all" and str(row["stratum_kind"]) != "quarter"
    steps = narrowed(row, columns)
    if is_whole and str(row["section"]) == "criteria":
        steps = tuple(step for step in steps if "between $first" not in step.condition)
    steps = (
        *steps,
        Step(f"{item.get('denominator_words', 'in the denominator')}",
             f"({item['denominator']})"),
    )  # fmt: skip
    exception = f"coalesce(cast(({item.get('exception', 'false')}) as boolean), false)"
    numerator = Step(f"{item.get('numerator_words', 'meeting the criterion')}",
                     f"({item['numerator']})")  # fmt: skip
    if row["measure"] == "exceptions":
        numerator = Step("left out by the criterion's own rule", exception)
    else:
        known = f"cast(({item['numerator']}) as boolean) is not null"
        steps = (*steps, Step("not left out by its rule", f"not {exception}"),
                 Step("for which it can be said", known))  # fmt: skip
    return Population(
        f"marts.{table}", CRITERION_UNITS.get(table, "cases"), steps, numerator,
        CRITERION_EXPORTS.get(table, ("treatments",)),
    )  # fmt: skip


def fill_measure(row: Mapping[str, Any]) -> Population:
    """Return assessed fillings for a measure such as fill_short."""
    level = str(row["subject"]).removeprefix("fill_")
    steps = (*narrowed(row, {"clinician_id", "site_id", "quarter", "month"}), ASSESSED)
    hit = Step(f"at the level {level}", "level = $level", {"level": level})
    return Population("marts.fills", "fillings", steps, hit, ("fills", "treatments"))


def within_tolerance(row: Mapping[str, Any], tolerance_mm: float) -> Population:
    """Return canals of a method with a confirmed length, for its share within tolerance."""
    method = str(row["subject"]).removesuffix("_within_tolerance")
    return pairs({**row, "subject": method, "reference": "confirmed"}, tolerance_mm)


def pairs(row: Mapping[str, Any], tolerance_mm: float | None = None) -> Population:
    """Return canals read by the method and by its reference."""
    method, reference = str(row["subject"]), str(row["reference"])
    columns = {"clinician_id", "site_id", "quarter", "month", "tooth_type"}
    own = Step(f"read by the method {method}", "method = $method", {"method": method})
    if reference in ("", "confirmed"):
        other = Step("with a confirmed length", "confirmed_length_mm is not null")
    else:
        other = Step(
            f"also read by the method {reference}",
            "(treatment_id, canal) in (select (treatment_id, canal) from marts.length_pairs "
            "where method = $reference)",
            {"reference": reference},
        )
    numerator = None
    if tolerance_mm is not None and reference == "confirmed":
        numerator = Step(
            f"whose lengths differ by {tolerance_mm} mm at most",
            "round(abs(difference_mm), 2) <= $tolerance", {"tolerance": tolerance_mm},
        )  # fmt: skip
    steps = (*narrowed(row, columns), own) + ((other,) if reference else ())
    return Population(
        "marts.length_pairs", "canals, once for each method,", steps, numerator,
        ("readings", "canals", "treatments"),
        methods=tuple(name for name in (method, reference) if name not in ("", "confirmed")),
    )  # fmt: skip


def readings(row: Mapping[str, Any], *, is_confirmed: bool) -> Population:
    """Return single readings of a method."""
    method = str(row["subject"])
    columns = {"clinician_id", "quarter", "month", "tooth_type", "stage", "canal_state"}
    steps = [*narrowed(row, columns)]
    steps.append(Step(f"by the method {method}", "method = $method", {"method": method}))
    if is_confirmed:
        steps.append(Step("with a confirmed length", "confirmed_length_mm is not null"))
    return Population(
        "marts.reading_conditions", "readings", tuple(steps), None,
        ("readings", "canals", "treatments"), methods=(method,),
    )  # fmt: skip


def readers(row: Mapping[str, Any]) -> Population:
    """Return films read twice."""
    measure = "pai" if row["subject"] == "pai" else "fill_offset_mm"
    steps = (
        Step(f"with two readings of {measure}", "measure = $measure", {"measure": measure}),
        Step(
            f"by {row['stratum']}".replace("_", " "), "kind = $kind", {"kind": row["stratum"]}
        ),
    )
    same = Step("with the same reading twice", "first_value = second_value")
    return Population(
        "marts.reader_pairs", "films", steps, same if measure == "pai" else None,
        ("follow_ups", "treatments") if measure == "pai" else ("fills", "treatments"),
    )  # fmt: skip

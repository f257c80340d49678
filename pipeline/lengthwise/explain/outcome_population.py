"""The teeth behind the numbers on outcome, and the cases behind those of flow and quality."""

from collections.abc import Mapping
from typing import Any

from lengthwise.analyse.outcome_split import VITAL
from lengthwise.explain.population import KNOWN_LEVELS, STRATA, Population, narrowed
from lengthwise.store.trace import Step

EXPORTS = ("treatments", "follow_ups", "fills")
LEVELS = ("within", "flush", "short", "beyond")
KNOWN = (
    Step("with a known level", KNOWN_LEVELS),
    Step("with a strict outcome at a countable review", "is_not_healed is not null"),
)
DUE = Step("due for a first countable review", "is_due")


def outcome(row: Mapping[str, Any]) -> Population:
    """Return the teeth with a known level and outcome, those of one level where asked."""
    steps = [*KNOWN, *_levels(row), *_stratum(row)]
    measure = str(row["measure"])
    numerator = None
    if measure in ("share_not_healed", "share_not_healed_loose"):
        column = "is_not_healed" + ("_loose" if measure.endswith("loose") else "")
        numerator = Step("not healed", column)
    note = (
        "" if numerator else "The analysis then compares, or fits a model, as its method says."
    )
    return Population("marts.outcomes", "teeth", tuple(steps), numerator, EXPORTS, note=note)


def _levels(row: Mapping[str, Any]) -> list[Step]:
    subject, reference = str(row["subject"]), str(row["reference"])
    if str(row["analysis"]) != "C1" or subject not in LEVELS:
        return []
    if reference not in LEVELS:
        return [Step(f"filled {subject}", "level = $level", {"level": subject})]
    return [
        Step(
            f"filled {subject} or {reference}", "level in ($level, $reference)",
            {"level": subject, "reference": reference},
        )
    ]  # fmt: skip


def _stratum(row: Mapping[str, Any]) -> list[Step]:
    kind, name = str(row["stratum_kind"]), str(row["stratum"])
    if kind == "lesion":
        words = name.replace("_", " ")
        return [Step(words, "has_lesion" if name == "with_a_lesion" else "not has_lesion")]
    if kind == "pulp":
        names = list(VITAL) if name == "vital_pulp" else [name]
        words = f"with pulp {name}".replace("_", " ")
        return [Step(words, "pulpal_diagnosis in (select unnest($pulp))", {"pulp": names})]
    return []


def follow_up(row: Mapping[str, Any]) -> Population:
    """Return the teeth due for review; of one group where asked."""
    steps = [DUE]
    measure = str(row["measure"])
    numerator = Step("examined", "outcome in ('healed', 'healing', 'uncertain', 'not_healed')")
    if measure == "recall_adjusted":
        numerator = Step(
            "examined or extracted",
            "outcome in ('healed', 'healing', 'uncertain', 'not_healed', 'lost_endodontic', "
            "'lost_other')",
        )  # fmt: skip
    if not measure.startswith("recall"):
        steps.append(Step("not lost for another reason", "outcome <> 'lost_other'"))
        numerator = Step("with a known outcome", "is_not_healed is not null")
    kind, name = str(row["stratum_kind"]), str(row["stratum"])
    if kind == "lesion":
        wanted = {"True": "has_lesion", "False": "not has_lesion"}.get(
            name, "has_lesion is null"
        )
        steps.append(Step(f"lesion {name}", wanted))
    elif kind in STRATA:
        steps.append(
            Step(f"with {kind} {name}".replace("_", " "), f"{STRATA[kind]} = $stratum",
                 {"stratum": name})
        )  # fmt: skip
    is_share = measure.startswith("recall") or measure == "share_reviewed"
    return Population(
        "marts.outcomes", "teeth", tuple(steps), numerator if is_share else None, EXPORTS
    )


def times(row: Mapping[str, Any]) -> Population:
    """Return the teeth that are followed over time."""
    steps: tuple[Step, ...] = ()
    if "loss" not in str(row["subject"]):
        steps = (
            Step("with a lesion", "has_lesion"),
            Step("whose healing could be judged", "is_judged"),
        )
    note = (
        "The numerator and denominator stored here are losses so far and teeth still followed."
    )
    return Population(
        "marts.tooth_times", "teeth with a review", steps, None, EXPORTS, note=note
    )


FLOW = {
    "patients": ("outcomes", "patients", "count(distinct patient_id)", ""),
    "treatments": ("outcomes", "treatments", "count(*)", ""),
    "canals": ("canal_conduct", "canals", "count(*)", ""),
    "canals_with_pairs": (
        "length_pairs", "canals", "count(distinct (treatment_id, canal))",
        "confirmed_length_mm is not null",
    ),
    "readings": ("length_pairs", "readings", "sum(readings)", ""),
    "fills": ("fills", "fillings", "count(*)", ""),
    "fills_assessable": ("fills", "fillings", "count(*)", "level <> 'not_assessable'"),
    "teeth_due": ("outcomes", "teeth", "count(*)", "is_due"),
    "teeth_reviewed": (
        "outcomes", "teeth", "count(*)", "is_due and outcome <> 'not_reviewed'",
    ),
    "teeth_in_outcome_analysis": (
        "outcomes", "teeth", "count(*)", f"{KNOWN_LEVELS} and is_not_healed is not null",
    ),
}  # fmt: skip
FLOW_EXPORTS = {
    "outcomes": EXPORTS,
    "canal_conduct": ("canals", "treatments"),
    "length_pairs": ("readings", "canals", "treatments"),
    "fills": ("fills", "treatments"),
}


def flow(row: Mapping[str, Any]) -> Population:
    """Return the cases that stand at one step of the flow."""
    subject = str(row["subject"])
    if subject.startswith("outcome_"):
        name = subject.removeprefix("outcome_")
        table, unit, count = "outcomes", "teeth", "count(*)"
        own = [Step(f"with the outcome {name}", "outcome = $outcome", {"outcome": name})]
    else:
        table, unit, count, condition = FLOW.get(subject, FLOW["treatments"])
        own = [Step(subject.replace("_", " "), condition)] if condition else []
    steps = (*narrowed(row, {"quarter"}), *own)
    return Population(f"marts.{table}", unit, steps, None, FLOW_EXPORTS[table], count=count)


def completeness(row: Mapping[str, Any]) -> Population:
    """Return the stored rows of one export that count now, and those with the field filled."""
    export, _, name = str(row["subject"]).partition(".")
    return Population(
        f"record.{export}", "rows", (Step("that count now", "superseded_by is null"),),
        Step(f"with {name} filled", f"{name} is not null"), (export,),
    )  # fmt: skip

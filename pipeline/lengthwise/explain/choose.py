"""Chooses, for a stored number, the cases that it counts."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from lengthwise.analyse.criteria import in_force
from lengthwise.explain import outcome_population as outcomes
from lengthwise.explain import population as cases
from lengthwise.explain.population import Population
from lengthwise.settings import Settings
from lengthwise.store.trace import Step

Row = Mapping[str, Any]
ELECTRONIC = Step("by the electronic method", "method = 'electronic'")
# Conditions of reading: where any reading of the canal had it.
CONDITIONS = {
    "read_wet": ("canal_state is not null", "canal_state = 'wet'"),
    "metal_contact": ("has_metal_contact is not null", "has_metal_contact"),
    "small_file": ("steps_under_apex is not null", "steps_under_apex >= 3"),
    "unstable": ("is_stable is not null", "not is_stable"),
    "circuit_not_checked": ("is_circuit_checked is not null", "not is_circuit_checked"),
}
LOST_VERSION = (
    "The version of the criterion that held then is neither in the run nor in criteria.toml, so "
    "its cases cannot be counted again."
)
MODEL_NOTE = "The analysis then fits what its method says to these cases."


def population_of(row: Row, settings: Settings, quarter: str) -> Population:
    """Return the cases behind a stored row.

    Parameters
    ----------
    row : mapping
        A row of the estimates.
    settings : Settings
        Those of the run.
    quarter : str
        The run's, for the version of a criterion that it used.
    """
    analysis = str(row["analysis"])
    chosen = _OUTCOME.get(analysis) or _AGREEMENT.get(analysis)
    if chosen is not None:
        return chosen(row)
    if analysis == "A6":
        return _shares_within(row, settings)
    if analysis == "B1" and row["section"] == "fill":
        return cases.fills(row)
    return _process(row, settings, criterion_of(row, settings, quarter))


def criterion_of(row: Row, settings: Settings, quarter: str) -> dict[str, Any] | None:
    """Return the version of the row's criterion that it was judged by, None if it has none."""
    by_quarter = row["section"] == "criteria" and row["stratum_kind"] == "quarter"
    held = in_force(settings.criteria, str(row["stratum"]) if by_quarter else quarter)
    return {str(item["id"]): item for item in held}.get(str(row["subject"]))


def _process(row: Row, settings: Settings, item: dict[str, Any] | None) -> Population:
    """Return the cases of a measure over time, between clinicians, or after an action."""
    subject, measure = str(row["subject"]), str(row["measure"])
    if measure.startswith(("condition", "discordant")):
        return _own_canals(row)
    if subject in _POINTS:
        return replace(_POINTS[subject](row), note=MODEL_NOTE)
    if item is not None:
        found = cases.criterion(_both_periods(row), item)
    elif subject.endswith("_within_tolerance"):
        found = cases.within_tolerance(_both_periods(row), settings.thresholds.tolerance_mm)
    elif subject.startswith("fill_"):
        found = cases.fill_measure(_both_periods(row))
    else:
        return replace(_carried(row), note=LOST_VERSION)
    is_turned = measure == "observed_expected" and _is_turned(subject, item)
    if is_turned and found.numerator is not None:
        numerator = Step(f"not: {found.numerator.words}", f"not ({found.numerator.condition})",
                         found.numerator.values)  # fmt: skip
        return replace(found, numerator=numerator)
    return found if _is_share(row) else replace(found, numerator=None, note=MODEL_NOTE)


def _is_turned(subject: str, item: Mapping[str, Any] | None) -> bool:
    """Return whether the event is a case that does not meet the measure."""
    return subject == "fill_within" if item is None else item["direction"] == "at_least"


def _is_share(row: Row) -> bool:
    measure = str(row["measure"])
    return (
        measure.startswith(("share", "message", "observed", "exceptions"))
        and measure != "share_change"
    )


def _both_periods(row: Row) -> Row:
    """Name the earlier period beside the later one, for a change between the two."""
    if row["measure"] != "share_change" or row["stratum_kind"] != "comparison":
        return row
    return {**row, "with_period": str(row["reference"])}


def _shares_within(row: Row, settings: Settings) -> Population:
    limits = settings.thresholds
    wide = f"share_within_{limits.wide_tolerance_mm:.1f}".replace(".", "_")
    tolerance = limits.wide_tolerance_mm if row["measure"] == wide else limits.tolerance_mm
    is_share = str(row["measure"]).startswith("share_within")
    return cases.pairs(row, tolerance if is_share else None)


def _own_canals(row: Row) -> Population:
    """Return a clinician's canals with an electronic reading, or those that two methods read."""
    if str(row["measure"]).startswith("discordant"):
        return cases.pairs(row)
    columns = {"clinician_id", "quarter"}
    known, hit = CONDITIONS.get(
        str(row["subject"]), ("stage <> 'not_recorded'", "stage is not null")
    )
    steps = (
        *cases.narrowed(row, columns),
        ELECTRONIC,
        Step("with the condition recorded", known),
    )
    is_plain = row["measure"] == "condition_share" and row["subject"] in CONDITIONS
    note = "" if is_plain else "The analysis counts canals, by what all their readings say."
    return Population(
        "marts.reading_conditions", "canals", steps, Step("with it", hit) if is_plain else None,
        ("readings", "canals", "treatments"), count="count(distinct (treatment_id, canal))",
        methods=("electronic",), note=note,
    )  # fmt: skip


def _heaping(row: Row) -> Population:
    if row["subject"] == "fill_offset_mm":
        known = Step("with an offset", "fill_offset_mm is not null")
        return Population("marts.fills", "fillings", (known,), _half("fill_offset_mm"),
                          ("fills", "treatments"))  # fmt: skip
    return replace(
        cases.readings({**row, "period": ""}, is_confirmed=False), numerator=_half("length_mm")
    )


def _half(column: str) -> Step:
    return Step("on a half millimetre", f"cast(round({column} * 10) as integer) % 5 = 0")


def _films(row: Row) -> Population:
    steps = (
        *cases.narrowed(row, {"quarter"}),
        Step("with a rated film", "film_quality is not null"),
    )
    hit = Step(
        "acceptable in every canal",
        "treatment_id not in (select treatment_id from marts.fills where film_quality <> 'A')",
    )
    return Population("marts.fills", "films", steps, hit, ("fills", "treatments"),
                      count="count(distinct treatment_id)")  # fmt: skip


def _chain(row: Row) -> Population:
    steps = (
        Step("whose level could be assessed", cases.KNOWN_LEVELS),
        Step(
            "with an electronic reading",
            "(treatment_id, canal) in (select (treatment_id, canal) from "
            "marts.reading_conditions where method = 'electronic')",
        ),
    )
    return Population(
        "marts.fills", "fillings", steps, None, ("fills", "readings", "treatments"),
        methods=("electronic", "cbct", "film_file"),
        note="The analysis then parts them by whether the last electronic reading is doubtful.",
    )  # fmt: skip


def _carried(row: Row) -> Population:
    """Return the stored runs: actions are read from them and not from cases."""
    return Population(
        "results.runs", "stored runs", (), None, (),
        note="Actions are read from the settings stored with earlier quarters' runs.",
    )  # fmt: skip


def _single(row: Row) -> Population:
    is_against = str(row["measure"]).startswith("single") or row["analysis"] == "A7"
    return replace(cases.readings(row, is_confirmed=is_against), note=MODEL_NOTE)


def _paired(row: Row) -> Population:
    return replace(cases.pairs(row), note=MODEL_NOTE)


def _incidents(row: Row) -> Population:
    """Return the treatments, for charts of how rare those with an adverse event are."""
    event = Step(
        "with an adverse event recorded",
        "treatment_id in (select treatment_id from staging.stg_incidents)",
    )
    steps = (*cases.narrowed(row, {"quarter", "month", "clinician_id"}), event)
    return Population(
        "intermediate.int_treatments_classified", "treatments", steps, None,
        ("incidents", "treatments"),
    )  # fmt: skip


def _confirmed_difference(row: Row) -> Population:
    method = str(row["subject"]).removesuffix("_difference_mm")
    return cases.pairs({**row, "subject": method, "reference": "confirmed"})


# Subjects of charts that are no share of a measure.
_POINTS: dict[str, Callable[[Row], Population]] = {
    "incident": _incidents,
    "fill_offset_mm": cases.fills,
    "electronic_difference_mm": _confirmed_difference,
}
_AGREEMENT: dict[str, Callable[[Row], Population]] = {
    **dict.fromkeys(("A1", "A2", "A4", "A5", "A8", "A10"), _paired),
    **dict.fromkeys(("A3", "A7"), _single),
    "A9": cases.readers,
    "heaping": _heaping,
    "film_quality": _films,
    "chain": _chain,
    "carried": _carried,
    "flow": outcomes.flow,
    "quality": outcomes.completeness,
}
_OUTCOME: dict[str, Callable[[Row], Population]] = {
    **dict.fromkeys(("C1", "C2", "C3", "C4", "C5", "C6", "C9", "C10"), outcomes.outcome),
    "C7": outcomes.follow_up,
    "C8": outcomes.times,
}

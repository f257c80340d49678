"""At most five messages for a clinician: gap to target x cases x own control."""

from dataclasses import dataclass
from typing import Any

import pandas as pd

from lengthwise.analyse.clinicians import ROLLING_QUARTERS, SECTION
from lengthwise.analyse.measures import Measure
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.errors import SettingsError
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.process.criteria import cases_to_target
from lengthwise.statistics.results import NAN, Estimate

MOST = 5
DEFAULT_SUGGESTION = "Look at these cases together and note what they share"


@dataclass(frozen=True, slots=True)
class Message:
    """One message, with the number that chose it."""

    criterion: str
    score: float
    met: int
    cases: int
    to_target: int
    target: float
    text: str


def control_of(item: dict[str, Any]) -> float:
    """Return how far a criterion lies within a clinician's own control, 0 to 1.

    Raises
    ------
    SettingsError
        With the criterion's id, where it is not a number from 0 to 1.
    """
    value = item.get("control", 1.0)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 1:
        raise SettingsError(f"criteria.toml, {item['id']}: control must lie between 0 and 1")
    return float(value)


def chosen_messages(
    own: dict[str, pd.DataFrame], criteria: tuple[dict[str, Any], ...], minimum_cases: int
) -> list[Message]:
    """Return the messages in the order of their score, at most five.

    Parameters
    ----------
    own : dict of criterion id to DataFrame
        The clinician's own known cases with `is_met`.
    minimum_cases : int
        A criterion with fewer cases gives no message.

    Notes
    -----
    Gap to target times cases is the number of cases that miss the target; times the
    clinician's control it is the score. A criterion whose target is reached has none.
    """
    found = []
    for item in criteria:
        cases = own.get(str(item["id"]))
        if cases is None or len(cases) < minimum_cases:
            continue
        met, higher = int(cases["is_met"].astype(int).sum()), item["direction"] == "at_least"
        gap = cases_to_target(met, len(cases), float(item["target"]), higher_is_wanted=higher)
        score = gap * control_of(item)
        if score > 0:
            found.append(_message(item, score, met, len(cases), gap, higher))
    return sorted(found, key=lambda message: -message.score)[:MOST]


def _message(
    item: dict[str, Any], score: float, met: int, cases: int, gap: int, higher: bool
) -> Message:
    more = "more" if higher else "fewer"
    suggestion = str(item.get("suggestion") or DEFAULT_SUGGESTION).rstrip(".")
    text = (
        f"{str(item['statement']).rstrip('.')}: {met} of {cases} of your cases "
        f"({100 * met / cases:.0f} in 100); with {gap} {more} the target of "
        f"{100 * item['target']:.0f} in 100 is reached. {suggestion}."
    )
    return Message(str(item["id"]), score, met, cases, gap, float(item["target"]), text)


def analyse_feedback(
    rows: ResultRows, measures: list[Measure], quarters: list[str], settings: Settings
) -> None:
    """Write each clinician's messages over the last four quarters."""
    covered = quarters[-ROLLING_QUARTERS:]
    period = window(covered[0], covered[-1])
    known = {
        measure.name: measure.cases[
            measure.cases["quarter"].isin(covered) & measure.cases["is_met"].notna()
        ]
        for measure in measures
    }
    clinicians = sorted({name for cases in known.values() for name in cases["clinician_id"]})
    for clinician in clinicians:
        own = {name: cases[cases["clinician_id"] == clinician] for name, cases in known.items()}
        topic = Topic(SECTION, "B5", period, f"clinician:{clinician}")
        least = settings.small_numbers.minimum_denominator
        for place, message in enumerate(
            chosen_messages(own, settings.criteria, least), start=1
        ):
            value = Estimate(
                message.score, NAN, NAN, 0.95, message.cases, 0,
                "gap to target x cases x own control", True, message.text,
            )  # fmt: skip
            rows.add(
                topic, f"message_{place}", message.criterion, value, unit="count",
                numerator=message.met, denominator=message.cases, target=message.target,
            )  # fmt: skip

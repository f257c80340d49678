"""Who needs a review: due, overdue or lost for review, by key; and the recall rate."""

import calendar
import csv
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from lengthwise.errors import SettingsError, UnreadableError
from lengthwise.settings import Settings
from lengthwise.statistics.process.recall import RecallRate, recall_rate
from lengthwise.store.database import Connection, fetch, plain_errors
from lengthwise.store.queries import query

STATES = ("due", "overdue", "lost for review")
KINDS = ("first review", "healing or uncertain", "yearly review")
COLUMNS = ["treatment_id", "patient_id", "clinician_id", "state", "kind", "due_month"]
_MONTH = re.compile(r"^\d{4}-(0[1-9]|1[0-2])$")


@dataclass(frozen=True, slots=True)
class ReviewsDue:
    """The list for the front desk and the recall rate behind it.

    Attributes
    ----------
    by_month : str
        Everything due up to the end of this month, as `YYYY-MM`.
    teeth : DataFrame
        Keys, state, kind and month; one row per treatment.
    recall : RecallRate
    discontinued : int
        Teeth that the practice says are out of reach.
    """

    by_month: str
    teeth: pd.DataFrame
    recall: RecallRate
    treated: int
    discontinued: int


def last_day_of(month: str) -> str:
    """Return the last day of a month written as `YYYY-MM`.

    Raises
    ------
    SettingsError
        The text is not a month.
    """
    if not _MONTH.match(month):
        raise SettingsError("--by is a month written like 2026-09")
    year, number = int(month[:4]), int(month[5:])
    return f"{month}-{calendar.monthrange(year, number)[1]:02d}"


def read_keys(path: Path) -> set[str]:
    """Return the treatment keys of a CSV file with a column treatment_id.

    Raises
    ------
    UnreadableError
        The file cannot be read, or has no such column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as handle:
            reader = csv.DictReader(handle)
            if "treatment_id" not in (reader.fieldnames or []):
                raise UnreadableError(f"{path.name}: there is no column treatment_id")
            return {str(row["treatment_id"]).strip() for row in reader}
    except (OSError, UnicodeError):
        raise UnreadableError(f"{path.name}: the file cannot be read; check its name") from None


def reviews_due(
    connection: Connection, settings: Settings, by_month: str, discontinued: set[str]
) -> ReviewsDue:
    """Return teeth due for review by the end of a month, from the derived tables.

    Parameters
    ----------
    discontinued : set of str
        Treatment keys of teeth out of reach for a reason outside the practice: not listed,
        and taken out of the adjusted rate.
    """
    windows = settings.follow_up
    values: dict[str, Any] = {
        "as_of": last_day_of(by_month),
        "first_months": windows.first_countable_months,
        "yearly_months": windows.yearly_review_months,
        "sooner_months": windows.sooner_review_months,
        "until_months": windows.uncertain_until_months,
        "overdue_months": windows.overdue_after_months,
        "lost_months": windows.lost_after_months,
    }
    with plain_errors("looking up the reviews"):
        teeth = fetch(connection, query("queries", "reviews_due"), values)
        counted = fetch(connection, query("queries", "recall_counts"), values)
    is_out = counted["treatment_id"].isin(discontinued) & ~(
        counted["is_examined"] | counted["is_extracted"]
    )
    rate = recall_rate(
        treated=len(counted), discontinued=int(is_out.sum()),
        examined=int(counted["is_examined"].sum()),
        extracted=int(counted["is_extracted"].sum()),
        minimum_cases=settings.small_numbers.minimum_denominator,
    )  # fmt: skip
    kept = teeth[~teeth["treatment_id"].isin(discontinued)][COLUMNS].reset_index(drop=True)
    return ReviewsDue(by_month, kept, rate, len(counted), int(is_out.sum()))


def write_list(found: ReviewsDue, path: Path) -> None:
    """Write the list as CSV: keys, state, kind of review and month only.

    Raises
    ------
    UnreadableError
        The file cannot be written.
    """
    try:
        found.teeth.to_csv(path, index=False, lineterminator="\n")
    except OSError:
        raise UnreadableError(
            f"{path.name}: the list cannot be written; check the folder"
        ) from None


def printed(found: ReviewsDue) -> str:
    """Return the counts and the recall rate as lines of text, without any key."""
    counts = Counter(zip(found.teeth["state"], found.teeth["kind"], strict=True))
    lines = [f"Reviews by the end of {found.by_month}: {len(found.teeth)} teeth"]
    for state in STATES:
        parts = [f"{kind} {counts[state, kind]}" for kind in KINDS if counts[state, kind]]
        total = sum(counts[state, kind] for kind in KINDS)
        lines.append(f"  {state}: {total}" + (f" ({', '.join(parts)})" if parts else ""))
    return "\n".join([*lines, *_recall_lines(found)])


def _recall_lines(found: ReviewsDue) -> list[str]:
    rate = found.recall
    if not rate.valid:
        return [f"Recall rate: not given; {rate.reason}"]
    said = "none given" if not found.discontinued else str(found.discontinued)
    return [
        f"Recall rate, raw: {100 * rate.raw:.1f} in 100 (examined of {found.treated} teeth whose "
        "first review is due)",
        f"Recall rate, adjusted: {100 * rate.adjusted:.1f} in 100 ({rate.numerator} examined or "
        f"lost of {rate.denominator} within reach; out of reach: {said})",
        "A tooth that is not seen counts neither as healed nor as not healed.",
    ]

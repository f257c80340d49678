"""A clinician's own canals: conditions recorded while reading, and lengths that disagree."""

import pandas as pd

from lengthwise.analyse.agreement_discordant import COMPARED, LATE_STAGES
from lengthwise.analyse.agreement_errors import SMALL_FILE_STEPS
from lengthwise.analyse.groups import CANAL
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.periods import window
from lengthwise.settings import Settings
from lengthwise.statistics.agreement.discordance import REVIEW, discordant_canals
from lengthwise.statistics.proportions import clustered_proportion_of_rows
from lengthwise.statistics.results import Estimate, refused

SECTION = "clinicians"
ROLLING_QUARTERS = 4
# Subject of the result rows: what was recorded for any electronic reading of the canal.
CONDITIONS = (
    "read_wet", "metal_contact", "small_file", "unstable", "circuit_not_checked",
    "not_reconfirmed",
)  # fmt: skip


def own_conditions(readings: pd.DataFrame) -> pd.DataFrame:
    """Return, by canal with an electronic reading, each condition as 1, 0 or missing.

    1 where any reading of the canal had it; missing where no reading says.
    """
    own = readings[readings["method"] == "electronic"]
    late = own["stage"].isin(LATE_STAGES).astype(float)
    flags = pd.DataFrame(
        {
            "read_wet": _known(own["canal_state"].eq("wet"), own["canal_state"]),
            "metal_contact": _known(own["has_metal_contact"].eq(True), own["has_metal_contact"]),
            "small_file": _known(
                own["steps_under_apex"].ge(SMALL_FILE_STEPS), own["steps_under_apex"]
            ),
            "unstable": _known(own["is_stable"].eq(False), own["is_stable"]),
            "circuit_not_checked": _known(
                own["is_circuit_checked"].eq(False), own["is_circuit_checked"]
            ),
            "is_late": late.where(own["stage"] != "not_recorded"),
        }
    )  # fmt: skip
    by_canal = flags.groupby([own[name] for name in CANAL]).max()
    by_canal["not_reconfirmed"] = 1 - by_canal.pop("is_late")
    return by_canal


def _known(flag: pd.Series, recorded: pd.Series) -> pd.Series:
    return flag.fillna(False).astype(float).where(recorded.notna())


def analyse_own_canals(
    rows: ResultRows, frames: dict[str, pd.DataFrame], quarters: list[str], settings: Settings
) -> None:
    """Write conditions and discordant canals of each clinician, in the clinician's own scope.

    Over the last four quarters, and the count of discordant canals of the last one. `frames`
    holds the marts reading_conditions, length_pairs and canal_conduct.
    """
    covered = quarters[-ROLLING_QUARTERS:]
    period = window(covered[0], covered[-1])
    conditions = own_conditions(frames["reading_conditions"])
    held = frames["canal_conduct"][[*CANAL, "patient_id", "clinician_id", "quarter"]]
    held = held[held["quarter"].isin(covered)].join(conditions, on=CANAL)
    for clinician, own in held.groupby("clinician_id"):
        topic = Topic(SECTION, "B5", period, f"clinician:{clinician}")
        for name in CONDITIONS:
            _add_share(rows, topic, "condition_share", name, own, own[name], settings)
    pairs = frames["length_pairs"]
    pairs = pairs[pairs["quarter"].isin(covered)]
    for method, reference in COMPARED:
        compared = _compared(pairs, method, reference, settings).join(conditions, on=CANAL)
        for clinician, own in compared.groupby("clinician_id"):
            scope = f"clinician:{clinician}"
            _add_discordant(
                rows, Topic(SECTION, "B5", period, scope), method, reference, own, settings
            )
            last = own[own["quarter"] == covered[-1]]
            count = int(last["is_discordant"].sum())
            topic = Topic(SECTION, "B5", covered[-1], scope)
            value = Estimate(count, float("nan"), float("nan"), 0.95, len(last), 0, "count")
            rows.add(
                topic, "discordant_canals", method, value, unit="count", reference=reference,
                numerator=count, denominator=len(last),
            )  # fmt: skip


def _compared(
    pairs: pd.DataFrame, method: str, reference: str, settings: Settings
) -> pd.DataFrame:
    """Return the canals that both methods read, with `is_discordant` as 1 or 0."""
    keys = [*CANAL, "patient_id", "clinician_id", "quarter"]
    first = pairs.loc[pairs["method"] == method, [*keys, "length_mm"]]
    second = pairs.loc[pairs["method"] == reference, [*CANAL, "length_mm"]]
    both = first.merge(second, on=CANAL, suffixes=("", "_reference"))
    found = discordant_canals(
        both["length_mm"], both["length_mm_reference"],
        watch_mm=settings.thresholds.watch_mm, review_mm=settings.thresholds.review_mm,
    )  # fmt: skip
    return both.assign(is_discordant=(found.status == REVIEW).astype(float))


def _add_discordant(
    rows: ResultRows, topic: Topic, method: str, reference: str, own: pd.DataFrame,
    settings: Settings,
) -> None:  # fmt: skip
    """Write the share that differs by more than the review threshold, then what was recorded."""
    _add_share(
        rows, topic, "discordant_share", method, own, own["is_discordant"], settings, reference
    )
    apart = own[own["is_discordant"] == 1]
    for name in CONDITIONS:
        _add_share(
            rows, topic, "condition_among_discordant", name, apart, apart[name], settings,
            f"{method}-{reference}",
        )  # fmt: skip


def _add_share(
    rows: ResultRows, topic: Topic, measure: str, subject: str, cases: pd.DataFrame,
    flag: pd.Series, settings: Settings, reference: str = "",
) -> None:  # fmt: skip
    known = flag.notna().to_numpy()
    held, patient = flag.to_numpy(dtype=float)[known], cases["patient_id"].to_numpy()[known]
    least, missing = settings.small_numbers.minimum_denominator, int((~known).sum())
    if len(held) < least:
        value = refused(
            f"fewer than {least} canals: counts only", method="proportion", n_used=len(held),
            n_missing=missing,
        )  # fmt: skip
    else:
        found = clustered_proportion_of_rows(flag.to_numpy(dtype=float), cases["patient_id"])
        value = found.wilson_icc if found.wilson_icc.valid else found.naive
    rows.add(
        topic, measure, subject, value, unit="proportion", reference=reference,
        numerator=int(held.sum()), denominator=len(held), n_clusters=len(set(patient)),
    )  # fmt: skip

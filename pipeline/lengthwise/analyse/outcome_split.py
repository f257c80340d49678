"""C1 split by what the tooth was before treatment; C2 checked against what was seen."""

import numpy as np
import pandas as pd
from scipy.special import expit

from lengthwise.analyse.outcome_frame import Columns
from lengthwise.analyse.outcome_model import Topics
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.outcome.adjusted import AdjustedAssociation
from lengthwise.statistics.proportions import proportion
from lengthwise.statistics.results import Estimate, refused

NAN = float("nan")
GROUPS = 5
# Vital pulps and infected canals may not share one best level, so they are shown apart.
VITAL = (
    "normal_pulp",
    "reversible_pulpitis",
    "symptomatic_irreversible_pulpitis",
    "asymptomatic_irreversible_pulpitis",
)


def analyse_split(
    rows: ResultRows, known: pd.DataFrame, topic: Topic, levels: tuple[str, ...],
    settings: Settings,
) -> None:  # fmt: skip
    """Write the crude shares by level within teeth with and without a lesion, and by pulp."""
    for kind, names in (("lesion", _lesion(known)), ("pulp", _pulp(known))):
        for name in sorted(set(names.dropna())):
            part = known[(names == name).fillna(False).to_numpy(dtype=bool)]
            for level in levels:
                own = part.loc[part["level"] == level, "is_not_healed"]
                _add_share(rows, topic, level, (kind, name), own, settings)


def _add_share(
    rows: ResultRows, topic: Topic, level: str, stratum: tuple[str, str], own: pd.Series,
    settings: Settings,
) -> None:  # fmt: skip
    least = settings.small_numbers.minimum_denominator
    events = int(own.sum())
    value = proportion(events, len(own), level=settings.confidence_level)
    if len(own) < least:
        value = refused(f"fewer than {least} teeth: counts only", method=value.method)
    rows.add(
        topic, "share_not_healed", level, value, unit="proportion", stratum=stratum,
        numerator=events, denominator=len(own),
    )  # fmt: skip


def _lesion(known: pd.DataFrame) -> pd.Series:
    names = {True: "with_a_lesion", False: "without_a_lesion"}
    return known["has_lesion"].astype(object).map(names)


def _pulp(known: pd.DataFrame) -> pd.Series:
    if "pulpal_diagnosis" not in known:
        return pd.Series(pd.NA, index=known.index, dtype=object)
    said = known["pulpal_diagnosis"].astype(object)
    return said.map(
        lambda name: "vital_pulp" if name in VITAL else str(name), na_action="ignore"
    )


def analyse_calibration(
    rows: ResultRows, topics: Topics, columns: Columns, fit: AdjustedAssociation
) -> None:
    """Write expected and seen shares in fifths of the risk that the model expects."""
    topic, model = topics.of("C2"), fit.fit
    if not model.valid:
        return
    # Teeth alike in every term have one risk and stay together, whatever their order.
    risk = expit(fit.design @ model.vector()).round(10)
    seen = columns.outcome[fit.rows_used]
    ends = np.quantile(risk, np.arange(1, GROUPS) / GROUPS, method="lower")
    place = np.searchsorted(ends, risk, side="left")
    for group in range(GROUPS):
        own = place == group
        n, events = int(own.sum()), int(seen[own].sum())
        if n == 0:
            continue
        name = f"fifth {group + 1} of risk"
        expected = Estimate(
            float(risk[own].mean()), NAN, NAN, model.level, n, 0, "mean of the model's risks"
        )
        rows.add(topic, "expected_share", name, expected, unit="proportion", denominator=n)
        rows.add(
            topic, "seen_share", name, proportion(events, n, level=model.level),
            unit="proportion", numerator=events, denominator=n,
        )  # fmt: skip

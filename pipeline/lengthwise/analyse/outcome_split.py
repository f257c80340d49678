"""C1 split by what the tooth was before treatment: lesion and state of the pulp."""

import pandas as pd

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.proportions import proportion
from lengthwise.statistics.results import refused

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

"""The outcome of each tooth and who came back, before anything is written down."""

import numpy as np
import pandas as pd

from demo_dataset.fillings import level
from demo_dataset.planted import OUTCOME, size

LEVEL_ORDER = {"within": 0, "short": 1, "beyond": 2}


def _chance(log_odds: np.ndarray | pd.Series) -> np.ndarray:
    return 1 / (1 + np.exp(-np.asarray(log_odds, dtype=float)))


def tooth_levels(canals: pd.DataFrame, teeth: int) -> np.ndarray:
    """Return each tooth's level: the worst of its canals, beyond before short before within."""
    rank = pd.Series(level(canals["offset_mm"]), index=canals.index).map(LEVEL_ORDER)
    worst = rank.groupby(canals["tooth_number"]).max().reindex(range(teeth))
    return np.array(list(LEVEL_ORDER))[worst.to_numpy()]


def _event(rng: np.random.Generator, frame: pd.DataFrame) -> np.ndarray:
    """Return whether each tooth is not healed at its first review from 12 months."""
    people = rng.standard_normal(frame["patient"].max() + 1)
    log_odds = (
        size("intercept_log_odds")
        + np.log(size("lesion_odds_ratio")) * frame["has_lesion"]
        + np.log(size("short_odds_ratio")) * (frame["level"] == "short")
        + np.log(size("beyond_odds_ratio")) * (frame["level"] == "beyond")
        + np.log(size("retreatment_odds_ratio")) * (frame["treatment_type"] == "retreatment")
        + np.log(size("molar_odds_ratio")) * frame["is_molar"]
        + size("patient_log_odds_sd") * people[frame["patient"]]
    )
    return rng.random(len(frame)) < _chance(log_odds)


def _state(rng: np.random.Generator, frame: pd.DataFrame) -> np.ndarray:
    """Return healed, healing, unchanged, failed or lost; shares depend on the lesion only."""
    draw = rng.random(len(frame))
    lesion = frame["has_lesion"]
    state = np.select([lesion & (draw < 0.3), lesion & (draw < 0.55)],
                      ["healing", "unchanged"], "failed").astype("U16")  # fmt: skip
    state[(state == "healing") & (frame["preop_pai"] == 3)] = "unchanged"
    taken_out = rng.random(len(frame)) < size("lost_endodontic_share")
    state[(state == "failed") & taken_out] = "lost_endodontic"
    state[~frame["is_event"].to_numpy()] = "healed"
    state[rng.random(len(frame)) < size("lost_other_share")] = "lost_other"
    return state


def first_reviews(
    rng: np.random.Generator, treated: pd.DataFrame, canals: pd.DataFrame
) -> pd.DataFrame:
    """Return the treatments with level, outcome, first review day and attendance."""
    frame = treated.assign(level=tooth_levels(canals, len(treated)))
    frame["is_event"] = _event(rng, frame)
    frame["state"] = _state(rng, frame)
    frame["day"] = 366 + np.floor(rng.gamma(2.0, 13.0, len(frame))).astype(int)
    frame["is_due"] = frame["day"] <= frame["days_to_cut_off"]
    clinician = {name[-3:]: effect.size for name, effect in OUTCOME.items()
                 if name.startswith("attendance_C")}  # fmt: skip
    log_odds = (
        size("attendance_intercept")
        + size("attendance_lesion") * frame["has_lesion"]
        + frame["clinician_id"].map(clinician).fillna(0.0)
    )
    frame["is_seen"] = frame["is_due"] & (rng.random(len(frame)) < _chance(log_odds))
    return frame


def second_reviews(rng: np.random.Generator, first: pd.DataFrame) -> pd.DataFrame:
    """Return the reviews of the second year of teeth still present."""
    day = 731 + np.floor(rng.gamma(2.0, 13.0, len(first))).astype(int)
    again = (
        first["is_seen"]
        & ~first["state"].str.startswith("lost")
        & (rng.random(len(first)) < 0.65)
    )
    better = rng.random(len(first)) < 0.3
    late = rng.random(len(first))
    state = first["state"].mask(
        first["state"].isin(["healing", "unchanged"]) & better, "healed"
    )
    state = state.mask((state == "failed") & (late < 0.15), "lost_endodontic")
    state = state.mask((state == "healed") & (late < 0.01), "lost_other")
    seconds = first.assign(day=day, state=state)
    return seconds[again & (day <= first["days_to_cut_off"])]


def early_visits(rng: np.random.Generator, first: pd.DataFrame) -> pd.DataFrame:
    """Return visits at three to seven months, too early to count."""
    day = rng.integers(90, 210, len(first))
    seen = (rng.random(len(first)) < 0.1) & (day <= first["days_to_cut_off"])
    state = np.where(first["has_lesion"], "unchanged", "healed")
    return first.assign(day=day, state=state)[seen]

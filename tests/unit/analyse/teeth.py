"""Tables of teeth as the outcome mart gives them, from counts or from a seed."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

PERIOD = "2024-Q1..2026-Q2"


def teeth_from_counts(counts: Mapping[str, tuple[int, int]]) -> pd.DataFrame:
    """Return one row a tooth from {level: (not healed, n)}, each tooth its own patient."""
    rows = [
        {"level": level, "is_not_healed": i < events}
        for level, (events, n) in counts.items()
        for i in range(n)
    ]
    return _complete(pd.DataFrame(rows))


def random_teeth(n: int = 240, *, seed: int = 1, share_reviewed: float = 1.0) -> pd.DataFrame:
    """Return teeth with case-mix and a strict outcome that depends on the level."""
    draw = np.random.default_rng(seed)
    level = draw.choice(["within", "short", "beyond"], size=n, p=[0.6, 0.25, 0.15])
    lesion = draw.random(n) < 0.5
    risk = 0.12 + 0.15 * (level == "short") + 0.1 * lesion
    frame = pd.DataFrame({"level": level, "is_not_healed": draw.random(n) < risk})
    frame["has_lesion"] = lesion
    frame["tooth_type"] = np.where(draw.random(n) < 0.5, "molar", "incisor")
    frame["treatment_type"] = np.where(draw.random(n) < 0.3, "retreatment", "primary")
    frame["is_restoration_adequate"] = draw.random(n) < 0.8
    frame["months_from_treatment"] = 12 + 12 * draw.random(n)
    frame["clinician_id"] = draw.choice(["C1", "C2", "C3"], size=n)
    frame["patient_id"] = [f"P{i // 2}" for i in range(n)]
    complete = _complete(frame)
    unseen = draw.random(n) > share_reviewed
    complete.loc[unseen, ["is_not_healed", "is_not_healed_loose"]] = pd.NA
    complete.loc[unseen, "outcome"] = "not_reviewed"
    complete.loc[unseen, "months_from_treatment"] = np.nan
    return complete


def _complete(frame: pd.DataFrame) -> pd.DataFrame:
    n = len(frame)
    offsets = {"within": -1.0, "flush": -0.2, "short": -2.6, "beyond": 0.6}
    spread = np.linspace(-0.3, 0.3, n) if n else np.empty(0)
    offset = frame["level"].map(offsets).to_numpy(dtype=float) + spread
    fixed = {
        "treatment_id": [f"T{i}" for i in range(n)], "patient_id": [f"P{i}" for i in range(n)],
        "clinician_id": "C1", "has_lesion": True, "tooth_type": "molar",
        "treatment_type": "retreatment", "is_restoration_adequate": True,
        "months_from_treatment": 12.5, "is_due": True,
        "highest_offset_mm": offset, "lowest_offset_mm": offset,
    }  # fmt: skip
    for name, value in fixed.items():
        if name not in frame:
            frame[name] = value
    healed = ~frame["is_not_healed"].astype(bool)
    frame["pai"] = pd.array(np.where(healed, 1, 4), dtype="Int32")
    frame["outcome"] = np.where(healed, "healed", "not_healed")
    frame["is_not_healed"] = frame["is_not_healed"].astype("boolean")
    frame["is_not_healed_loose"] = frame["is_not_healed"]
    frame["has_lesion"] = frame["has_lesion"].astype("boolean")
    frame["is_restoration_adequate"] = frame["is_restoration_adequate"].astype("boolean")
    return frame

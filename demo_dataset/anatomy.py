"""Tooth-typical canals and lengths (handbook means and ranges, soft limits only)."""

import numpy as np
import pandas as pd

ISO_SIZES = np.array(
    [6, 8, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 70, 80, 90, 100, 110, 120, 130, 140]
)
# Jaw (upper, lower) and position from the midline: mean, shortest, longest overall length.
LENGTHS_MM = {
    "u1": (23.6, 16.5, 32.6), "l1": (20.8, 16.9, 26.7),
    "u2": (22.5, 17.7, 28.9), "l2": (22.1, 18.5, 26.6),
    "u3": (26.4, 20.0, 38.4), "l3": (25.9, 16.1, 34.5),
    "u4": (21.5, 15.5, 28.9), "l4": (22.4, 17.0, 28.5),
    "u5": (21.2, 15.2, 28.4), "l5": (22.1, 16.8, 28.1),
    "u6": (20.1, 17.0, 27.4), "l6": (20.9, 17.0, 27.7),
    "u7": (20.0, 16.0, 26.2), "l7": (20.6, 15.0, 25.5),
    "u8": (17.5, 14.0, 22.5), "l8": (18.2, 14.8, 22.0),
}  # fmt: skip
# How often each tooth is treated (an assumption).
WEIGHTS = {
    "u1": 7, "u2": 5, "u3": 3, "u4": 8, "u5": 8, "u6": 16, "u7": 8, "u8": 0.5,
    "l1": 2, "l2": 2, "l3": 2, "l4": 4, "l5": 6, "l6": 19, "l7": 9, "l8": 0.7,
}  # fmt: skip
_ONE_OR_LINGUAL = ((0.9, "C"), (0.1, "B L"))
_UPPER_MOLAR = ((0.38, "MB DB P"), (0.62, "MB MB2 DB P"))
_LOWER_FIRST = ((0.74, "MB ML D"), (0.2, "MB ML DB DL"), (0.06, "MB MM ML D"))
CANAL_SETS = {
    "u1": ((1.0, "C"),), "u2": ((1.0, "C"),), "u3": ((1.0, "C"),),
    "u4": ((0.14, "C"), (0.86, "B P")), "u5": ((0.6, "C"), (0.4, "B P")),
    "u6": _UPPER_MOLAR, "u7": ((0.61, "MB DB P"), (0.39, "MB MB2 DB P")),
    "u8": ((1.0, "MB DB P"),),
    "l1": ((0.8, "C"), (0.2, "B L")), "l2": ((0.8, "C"), (0.2, "B L")),
    "l3": _ONE_OR_LINGUAL, "l4": ((0.76, "C"), (0.24, "B L")),
    "l5": ((0.92, "C"), (0.08, "B L")),
    "l6": _LOWER_FIRST, "l7": ((0.82, "MB ML D"), (0.13, "MB ML DB DL"), (0.05, "CS")),
    "l8": ((1.0, "MB ML D"),),
}  # fmt: skip
# A canal's usual distance from its tooth's own mean length.
CANAL_SHIFT_MM = {
    "P": 0.5,
    "MB": 0.1,
    "MB2": -0.4,
    "DB": -0.2,
    "ML": 0.0,
    "MM": -0.3,
    "D": -0.1,
}
NARROW = ("MB", "MB2", "DB", "ML", "MM", "DL")


def tooth_kind(tooth: pd.Series) -> pd.Series:
    """Return jaw and position (`u6`, `l1`) of ISO 3950 tooth numbers."""
    jaw = tooth.str[0].isin(["1", "2"]).map({True: "u", False: "l"})
    return jaw + tooth.str[1]


def is_molar(tooth: pd.Series) -> pd.Series:
    """Return whether each tooth is a molar."""
    return tooth.str[1].isin(["6", "7", "8"])


def draw_teeth(rng: np.random.Generator, count: int) -> np.ndarray:
    """Return tooth numbers drawn by how often each is treated."""
    weights = np.array(list(WEIGHTS.values()))
    kinds = rng.choice(list(WEIGHTS), size=count, p=weights / weights.sum())
    right = rng.random(count) < 0.5
    upper = np.char.startswith(kinds, "u")
    quadrant = np.where(upper, np.where(right, "1", "2"), np.where(right, "4", "3"))
    return np.char.add(quadrant, np.char.replace(np.char.replace(kinds, "u", ""), "l", ""))


def draw_canal_sets(rng: np.random.Generator, kinds: pd.Series) -> pd.Series:
    """Return the canal codes of each tooth, separated by blanks."""
    chosen = pd.Series("", index=kinds.index)
    draw = rng.random(len(kinds))
    for kind, sets in CANAL_SETS.items():
        edges = np.cumsum([share for share, _ in sets])[:-1]
        here = (kinds == kind).to_numpy()
        codes = np.array([codes for _, codes in sets])
        chosen[here] = codes[np.searchsorted(edges, draw[here], side="right")]
    return chosen


def roots(canal: pd.Series, kind: pd.Series) -> pd.Series:
    """Return the root that each canal lies in."""
    upper_molar = kind.isin(["u6", "u7", "u8"])
    lower_molar = kind.isin(["l6", "l7", "l8"])
    root = canal.where(kind.isin(["u4"]) & canal.isin(["B", "P"]), "single")
    root = root.mask(upper_molar, canal.replace({"MB2": "MB"}))
    lower = {"MB": "M", "ML": "M", "MM": "M", "D": "D", "DB": "D", "DL": "D", "CS": "single"}
    return root.mask(lower_molar, canal.map(lower))


def soft_limits_mm(kind: pd.Series) -> tuple[pd.Series, pd.Series]:
    """Return the lengths between which no plausibility warning is due."""
    low = kind.map({name: row[1] - 4 for name, row in LENGTHS_MM.items()})
    high = kind.map({name: row[2] for name, row in LENGTHS_MM.items()})
    return low, high

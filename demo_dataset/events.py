"""The few adverse events."""

import numpy as np
import pandas as pd

COLUMNS = ["treatment_id", "canal", "kind", "days_from_treatment"]


def incidents(
    rng: np.random.Generator, treated: pd.DataFrame, canals: pd.DataFrame, scale: float
) -> pd.DataFrame:
    """Return the adverse events: same-day ones, and altered sensation some days later."""
    some = canals.iloc[rng.permutation(len(canals))]
    one = some.drop_duplicates("treatment_id")[["treatment_id", "canal"]]
    broken = treated[treated["complication"].isin(["perforation", "separated_instrument"])]
    same_day = broken[["treatment_id", "complication"]].merge(one, on="treatment_id")
    same_day = same_day.rename(columns={"complication": "kind"}).assign(days_from_treatment=0)
    lower_back = some["tooth"].isin(
        [f"{quadrant}{position}" for quadrant in (3, 4) for position in (5, 6, 7, 8)]
    )
    numb = some[lower_back & (some["offset_mm"] > 0)].drop_duplicates("treatment_id")
    numb = numb.head(max(1, round(4 * scale)))[["treatment_id", "canal"]]
    numb = numb.assign(
        kind="altered_sensation", days_from_treatment=rng.integers(2, 6, len(numb))
    )
    rest = one[~one["treatment_id"].isin([*same_day["treatment_id"], *numb["treatment_id"]])]
    few, others = max(1, round(3 * scale)), max(1, round(5 * scale))
    extrusion = rest.iloc[:few].assign(kind="irrigant_extrusion", days_from_treatment=0)
    other = rest.iloc[few : few + others].assign(kind="other")
    other["days_from_treatment"] = rng.integers(0, 15, len(other))
    every = pd.concat([same_day, numb, extrusion, other])[COLUMNS]
    return every.sort_values(COLUMNS, kind="stable").reset_index(drop=True)

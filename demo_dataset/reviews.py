"""The rows that reviews leave: films, scans, second readers, single roots."""

import numpy as np
import pandas as pd

from demo_dataset import outcomes
from demo_dataset.people import yes_no
from demo_dataset.planted import size

COLUMNS = ["treatment_id", "canal", "days_from_treatment", "imaging", "pai", "cbct_pai", "pain",
           "swelling", "sinus_tract", "tenderness", "mobility", "function", "tooth_present",
           "loss_reason", "restoration_status", "reader_id", "read"]  # fmt: skip
SIGNS = ["pain", "swelling", "sinus_tract", "tenderness"]
CLINICAL = [
    *SIGNS,
    "mobility",
    "function",
    "tooth_present",
    "loss_reason",
    "restoration_status",
]


def _score(rng: np.random.Generator, visits: pd.DataFrame) -> np.ndarray:
    """Return the PAI that goes with each tooth's state."""
    before = visits["preop_pai"].to_numpy()
    sound = rng.choice([1, 2], size=len(visits), p=[0.6, 0.4])
    reduced = np.where((before == 5) & (rng.random(len(visits)) < 0.4), 3, before - 1)
    worse = np.minimum(np.maximum(before, 3) + (rng.random(len(visits)) < 0.3), 5)
    # A third of the new failures show in signs before they show on film.
    failed = np.where((before <= 2) & (rng.random(len(visits)) < 0.35), sound, worse)
    state = visits["state"]
    return np.select([state == "healed", state == "healing", state == "unchanged"],
                     [sound, np.maximum(reduced, 3), before], failed)  # fmt: skip


def _clinical(rng: np.random.Generator, visits: pd.DataFrame) -> pd.DataFrame:
    """Add signs, function, loss and restoration to one row per visit."""
    count = len(visits)
    failed = (visits["state"] == "failed").to_numpy()
    one = rng.integers(0, 4, count)
    signs = {
        sign: yes_no(failed & ((one == number) | (rng.random(count) < 0.25)))
        for number, sign in enumerate(SIGNS)
    }
    lost = visits["state"].str.startswith("lost").to_numpy()
    visits = visits.assign(
        **signs,
        mobility=rng.choice([0, 1, 2], size=count, p=[0.86, 0.12, 0.02]).astype(object),
        function=yes_no(~(failed & (rng.random(count) < 0.3))),
        tooth_present=yes_no(~lost),
        loss_reason=visits["state"].str.removeprefix("lost_").where(lost, ""),
        restoration_status=rng.choice(
            ["intact", "defective", "lost"], count, p=[0.9, 0.08, 0.02]
        ),
        pai=_score(rng, visits),
        canal="", cbct_pai="", read=1, reader_id=visits["clinician_id"],
        days_from_treatment=visits["day"],
    )  # fmt: skip
    visits.loc[lost, [*SIGNS, "mobility", "function", "restoration_status"]] = "not_applicable"
    image = rng.choice(["film", "both", "cbct", "none"], size=count, p=[0.88, 0.03, 0.03, 0.06])
    return visits.assign(imaging=np.where(lost, "none", image))


def _scans(rng: np.random.Generator, visits: pd.DataFrame) -> pd.DataFrame:
    """Return one row per cone-beam scan."""
    scans = visits[visits["imaging"].isin(["both", "cbct"])]
    wider = np.clip(scans["pai"] - 1 + (rng.random(len(scans)) < 0.3), 0, 5)
    alone = scans["imaging"] == "cbct"
    rows = scans.assign(imaging="cbct", cbct_pai=wider, pai="")
    rows.loc[~alone, CLINICAL] = ""
    return rows


def _by_root(
    rng: np.random.Generator, films: pd.DataFrame, canals: pd.DataFrame
) -> pd.DataFrame:
    """Return one row per root; one root has the tooth's score, the others no higher."""
    first = canals.drop_duplicates(["treatment_id", "root"])[["treatment_id", "canal"]]
    rows = films.drop(columns="canal").merge(first, on="treatment_id", how="left")
    rows["draw"] = rng.random(len(rows))
    worst = rows.groupby(["treatment_id", "day"])["draw"].transform("max") == rows["draw"]
    sound = rng.choice([1, 2], size=len(rows), p=[0.6, 0.4])
    rows["pai"] = np.where(worst, rows["pai"], np.minimum(rows["pai"], sound))
    return rows


def _second_reads(rng: np.random.Generator, films: pd.DataFrame) -> pd.DataFrame:
    """Return a second reader's PAI of some films, and a few second reads of the first."""
    draw = rng.random(len(films))
    sample = films[draw < 0.28]
    step = np.where(rng.random(len(sample)) < 0.5, -1, 1)
    step = step * (rng.random(len(sample)) < size("pai_reader_disagreement"))
    again = sample.assign(pai=np.clip(sample["pai"].astype(int) + step, 1, 5))
    own = draw[draw < 0.28] < 0.06
    again["reader_id"] = again["reader_id"].where(own, "R2")
    again["read"] = np.where(own, 2, 1)
    again[CLINICAL] = ""
    return again


def follow_ups(
    rng: np.random.Generator, first: pd.DataFrame, canals: pd.DataFrame
) -> pd.DataFrame:
    """Return every review row."""
    visits = pd.concat(
        [
            outcomes.early_visits(rng, first),
            first[first["is_seen"]],
            outcomes.second_reviews(rng, first),
        ]
    )
    visits = _clinical(rng, visits.reset_index(drop=True))
    scans = _scans(rng, visits)
    bare = visits[visits["imaging"] == "none"].assign(pai="")
    films = visits[visits["imaging"].isin(["film", "both"])].assign(imaging="film")
    rooted = canals.groupby("treatment_id")["root"].nunique()
    many = films["treatment_id"].map(rooted) >= 2
    split = many & (rng.random(len(films)) < 0.25)
    roots = _by_root(rng, films[split], canals)
    every = pd.concat([films[~split], _second_reads(rng, films[~split]), roots, scans, bare])
    every = every.sort_values(
        ["tooth_number", "days_from_treatment", "imaging", "reader_id", "read", "canal"],
        kind="stable", ascending=[True, True, False, True, True, True],
    )  # fmt: skip
    return every[COLUMNS].reset_index(drop=True)
